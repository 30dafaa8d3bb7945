"""The kinds of field a plan file holds: bounded numbers, times, sizes, dates.

Each refuses what cannot be meant (metres where millimetres stand, a humidity of 0.5 %) with a
sentence that says how to mend it. The bounds say what a studio can own, not what physics allows.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    AliasChoices,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    PlainSerializer,
    ValidationInfo,
    WithJsonSchema,
)
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

Side = Literal["recto", "verso"]
_LENGTH_IN_M = {
    "mm": Fraction(1, 1000),
    "cm": Fraction(1, 100),
    "m": Fraction(1),
    "in": Fraction(254, 10000),
    "inch": Fraction(254, 10000),
    "inches": Fraction(254, 10000),
    '"': Fraction(254, 10000),
    "ft": Fraction(3048, 10000),
}
_TIME_IN_S = {
    "s": 1,
    "sec": 1,
    "min": 60,
    "h": 3600,
    "hour": 3600,
    "hours": 3600,
    "d": 86400,
    "day": 86400,
    "days": 86400,
    "week": 604800,
    "weeks": 604800,
}
_NUMBER = r"\d+(?:\.\d+)?(?:e-?\d+)?"
_LENGTH = re.compile(rf"^\s*({_NUMBER})?\s*(?:(\d+)/(\d+))?\s*(mm|cm|m|inches|inch|in|ft|\")?\s*$", re.IGNORECASE)
_TIME_PART = re.compile(rf"({_NUMBER})\s*([a-z]+)\s*", re.IGNORECASE)


class Strict(BaseModel):
    """Base of every part of a plan: frozen, strict, finite numbers, no unknown keys."""

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid", allow_inf_nan=False)


def refusal(what: str, mend: str = "", key: str = "") -> PydanticCustomError:
    """An error for a pydantic validator: one sentence part, how to mend it, and the key it hangs on."""
    return PydanticCustomError("plan", "{what}", {"what": what, "mend": mend, "key": key})


def many(*names: str) -> Any:
    """A list field of a plan file, kept as a tuple, under its file name or its Python name."""
    if not names:
        return Field(default=(), strict=False)
    return Field(default=(), strict=False, validation_alias=AliasChoices(*names), serialization_alias=names[0])


def parse_duration(text: str) -> float:
    """Seconds from "30 min", "2 h", "1 d 12 h". Raises ValueError on anything else."""
    total, end = Decimal(0), 0
    stripped = text.strip()
    for match in _TIME_PART.finditer(stripped):
        unit = match.group(2).lower()
        if match.start() != end or unit not in _TIME_IN_S:
            raise ValueError(text)
        total += Decimal(match.group(1)) * _TIME_IN_S[unit]
        end = match.end()
    if end == 0 or end != len(stripped):
        raise ValueError(text)
    return float(total)


def format_duration(seconds: float) -> str:
    """Text which `parse_duration` reads back as exactly the same number: "30 min", "1 d 2 h", "90.5 s"."""
    exact = Decimal(repr(seconds))
    if exact == 0 or exact % 60 != 0:
        return f"{exact.normalize():f} s"
    rest, parts = int(exact), []
    for unit, size in (("d", 86400), ("h", 3600), ("min", 60)):
        count, rest = divmod(rest, size)
        if count:
            parts.append(f"{count} {unit}")
    return " ".join(parts)


def _one_length(text: str, unit: str | None) -> tuple[Fraction, str | None]:
    match = _LENGTH.match(text)
    if match is None or (match.group(1) is None and match.group(2) is None):
        raise ValueError(text)
    number = Fraction(match.group(1)) if match.group(1) else Fraction(0)
    if match.group(2):
        number += Fraction(int(match.group(2)), int(match.group(3)))
    own = match.group(4).lower() if match.group(4) else unit
    return number, own


def parse_size(text: str) -> tuple[float, float]:
    """(length_m, width_m) from "420 x 297 mm", "16 1/2 x 11 3/4 in", "0.42 m × 29.7 cm".

    Raises ValueError where it is not two lengths with a unit.
    """
    parts = re.split(r"\s*[x×X]\s*", text.strip())
    if len(parts) != 2:
        raise ValueError(text)
    try:
        second, unit = _one_length(parts[1], None)
        first, first_unit = _one_length(parts[0], unit)
    except (ZeroDivisionError, InvalidOperation):
        raise ValueError(text) from None
    if unit is None or first_unit is None:
        raise ValueError(text)
    return float(first * _LENGTH_IN_M[first_unit]), float(second * _LENGTH_IN_M[unit])


def format_size(length_m: float, width_m: float) -> str:
    """Text which `parse_size` reads back as exactly the same two numbers, in mm."""
    return " x ".join(f"{(Decimal(repr(v)) * 1000).normalize():f}" for v in (length_m, width_m)) + " mm"


@dataclass(frozen=True)
class Within:
    """A number within [low, high] of `unit`; `below` and `above` say what is probably meant outside it."""

    low: float
    high: float
    unit: str = ""
    below: str = ""
    above: str = ""

    def check(self, value: float) -> float:
        """The value itself, or a refusal that says how to mend it."""
        if self.low <= value <= self.high:
            return value
        asked = (self.below if value < self.low else self.above) or "check the number and its unit"
        name = f" {self.unit}" if self.unit else ""
        raise refusal(f"{value:g}{name} is outside {self.low:g} to {self.high:g}{name}", asked)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_after_validator_function(self.check, handler(source))

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        return {**handler(schema), "minimum": self.low, "maximum": self.high}


def _text_or_seconds(value: Any, info: ValidationInfo) -> Any:
    if isinstance(value, str):
        try:
            return parse_duration(value)
        except ValueError:
            raise refusal(f"'{value}' is not a time", 'write it as "30 min", "2 h" or "1 d 12 h"') from None
    if isinstance(value, (int, float)) and not isinstance(value, bool) and (info.context or {}).get("file"):
        raise refusal(f"the time {value:g} has no unit", f'write it as "{value:g} min" or "{value:g} h"')
    return value


def _iso_date(value: Any) -> Any:
    if isinstance(value, date):
        return value.isoformat()[:10]
    if isinstance(value, str) and value:
        try:
            return date.fromisoformat(value).isoformat()
        except ValueError:
            raise refusal(f"'{value}' is not a date", 'write it as "2026-03-14"') from None
    return value


def _spoken_text(value: str) -> str:
    if not value.strip():
        raise refusal("this text is empty", "write a word or two")
    return value


_TIME_TEXT = WithJsonSchema({"type": "string", "examples": ["30 min", "2 h", "1 d"]})
_AS_TEXT = PlainSerializer(format_duration, return_type=str, when_used="json")
_READ_TIME = BeforeValidator(_text_or_seconds)
_YEAR_S = 366 * 86400.0
_TOO_LONG = "more than a year is not a drying plan"

Duration = Annotated[
    float, Within(1.0, _YEAR_S, "s", "give a time above zero", _TOO_LONG), _READ_TIME, _AS_TEXT, _TIME_TEXT
]
Hold = Annotated[float, Within(0.0, _YEAR_S, "s", "", _TOO_LONG), _READ_TIME, _AS_TEXT, _TIME_TEXT]
IsoDate = Annotated[str, BeforeValidator(_iso_date), WithJsonSchema({"type": "string", "examples": ["2026-03-14"]})]
RecordedDate = Annotated[
    str, AfterValidator(_spoken_text), BeforeValidator(_iso_date), WithJsonSchema({"type": "string", "minLength": 10})
]
Text = Annotated[str, AfterValidator(_spoken_text), Field(json_schema_extra={"minLength": 1})]
Share = Annotated[float, Within(0.0, 1.0, "", "", "give a share from 0 to 1")]
MassG = Annotated[float, Within(0.01, 1e6, "g")]
WaterG = Annotated[float, Within(0.0, 1e6, "g")]
WaterContent = Annotated[float, Within(0.0, 30.0, "kg/kg", "", "give water per dry mass, 1.3 for 130 %")]
_METRES = Within(
    0.005,
    20.0,
    "m",
    "is it in metres? the smallest piece planned here is 5 mm",
    'this looks like millimetres; write size = "420 x 297 mm", or the length in metres',
)
_GRAMMAGE = Within(
    2.0,
    5000.0,
    "g/m2",
    "give the mass of one square metre in grams; it is above zero, and 0.08 kg/m2 is written as 80",
    "give the mass of one square metre in grams",
)
_THICKNESS = Within(
    0.005,
    200.0,
    "mm",
    "this looks like metres; give the thickness in millimetres (0.15 for a writing paper)",
    "this looks like micrometres; give the thickness in millimetres (0.15 for a writing paper)",
)
_CELSIUS = Within(0.5, 60.0, "C", "the model does not answer for frost", "give degrees Celsius; 68 F is written as 20")
Metres = Annotated[float, _METRES]
Grammage = Annotated[float, _GRAMMAGE]
ThicknessMm = Annotated[float, _THICKNESS]
Celsius = Annotated[float, _CELSIUS]


def _percent(value: float) -> float:
    if 0.0 < value <= 1.0:
        raise refusal(
            f"{value:g} % relative humidity looks like a fraction",
            f"write {value * 100:g} if you mean {value * 100:g} %",
        )
    if not 0.0 <= value <= 100.0:
        raise refusal(f"{value:g} % relative humidity is not possible", "give a number from 2 to 100")
    if value < 2.0:
        raise refusal(f"{value:g} % relative humidity is drier than any room", "give a number from 2 to 100")
    return value


Percent = Annotated[float, AfterValidator(_percent), Field(json_schema_extra={"minimum": 2, "maximum": 100})]
