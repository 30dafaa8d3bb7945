"""Unit words of time, mass, temperature and humidity in the five languages read here."""

from __future__ import annotations

import re
from typing import Literal

from bibula.quantities.errors import InputError, Place

Dimension = Literal["time", "mass", "temperature", "humidity"]

_TIME = {
    "ms": 1e-3,
    "s": 1.0,
    "min": 60.0,
    "h": 3600.0,
    "d": 86400.0,
}
_TIME_WORDS = {
    "ms": "msec msek millisecond milliseconds millisekunden",
    "s": "sec secs second seconds sek sekunde sekunden seconde secondes secondo secondi segundo segundos",
    "min": "mins minute minutes minuten minuto minuti minutos",
    "h": "hr hrs hour hours std stunde stunden heure heures ora ore hora horas",
    "d": "day days tag tage tagen jour jours giorno giorni dia dias",
}
_MASS = {"µg": 1e-9, "mg": 1e-6, "g": 1e-3, "kg": 1.0}
_MASS_WORDS = {
    "µg": "μg ug microgram micrograms mikrogramm",
    "mg": "milligram milligrams milligramm milligramme milligrammes",
    "g": "gram grams gramm gramme grammes grammo grammi gramo gramos",
    "kg": "kilogram kilograms kilogramm kilogramme kilogrammes chilogrammi kilogramos kilo",
}
_TEMPERATURE_WORDS = {"°C": "c degc deg.c ºc celsius ℃", "K": "kelvin", "°F": "f degf deg.f ºf fahrenheit ℉"}
_HUMIDITY_WORDS = {"%": "%rh %rf %hr %ur rh% %r.h. %r.f. percent prozent", "1": "fraction -"}


def _table(bases: list[str], words: dict[str, str]) -> dict[str, str]:
    table = {base.lower(): base for base in bases}
    for base, spellings in words.items():
        table.update(dict.fromkeys(spellings.split(), base))
    return table


_SPELLINGS: dict[str, dict[str, str]] = {
    "time": _table(list(_TIME), _TIME_WORDS),
    "mass": _table(list(_MASS), _MASS_WORDS),
    "temperature": _table(["°C", "K", "°F"], _TEMPERATURE_WORDS),
    "humidity": _table(["%", "1"], _HUMIDITY_WORDS),
}
CLOCK_UNITS = {
    "mm:ss": "mm:ss",
    "m:ss": "mm:ss",
    "min:s": "mm:ss",
    "min:ss": "mm:ss",
    "min:sec": "mm:ss",
    "min:sek": "mm:ss",
    "hh:mm": "hh:mm",
    "h:mm": "hh:mm",
    "h:min": "hh:mm",
    "hh:min": "hh:mm",
    "std:min": "hh:mm",
    "hh:mm:ss": "hh:mm:ss",
    "h:mm:ss": "hh:mm:ss",
    "h:min:s": "hh:mm:ss",
}
_BRACKET = re.compile(
    r"^(?P<base>.*?)\s*(?:\[(?P<square>[^\[\]]*)\]|\((?P<round>(?:[^()]|\([^()]*\))*)\))\s*$", re.DOTALL
)
_SLASH = re.compile(r"^(?P<base>.*?\S)\s*/\s*(?P<unit>\S+(?:\s\S+)?)\s*$", re.DOTALL)
_SUFFIX = re.compile(r"^(?P<base>.*?\w)(?:[\s_,.;:]+)(?:in\s+|en\s+)?(?P<unit>[^\s_,;]+)\s*$", re.DOTALL)
_LETTER_UNIT = re.compile(
    r"([_,]\s*|\b(in|en)\s+|\b(m|t|time|elapsed|duration|mass|weight|\w*zeit|dauer|\w*masse|\w*gewicht|temps|durée|poids|tempo|"
    r"durata|massa|peso|tiempo|masa|temp|temperature|temperatur|rh|rf|humidity)[\s.;:]+)[gshdckµ%]$",
    re.IGNORECASE,
)


def unit_of(word: str, dimension: Dimension) -> str | None:
    """Our spelling of a unit word of this dimension, or None. Capital 'Mg' (a tonne) is not taken for mg."""
    word = word.strip().strip(".")
    if dimension == "mass" and word in {"Mg", "mG", "kG"}:
        return None
    return _SPELLINGS[dimension].get(word.lower().replace(" ", ""))


def any_unit(word: str) -> str | None:
    """The dimension of a unit word, or None; 'clock' for patterns such as mm:ss."""
    for dimension in ("time", "mass", "temperature", "humidity"):
        if unit_of(word, dimension) is not None:
            return dimension
    return "clock" if word.strip().lower() in CLOCK_UNITS else None


def split_header(name: str) -> tuple[str, str]:
    """Split a column name into base and unit text: "t / min", "Time [s]", "mass_g", "Masse in g".

    In brackets or after a slash any text is a unit; after a space, point or underscore only a known one.
    """
    name = name.strip()
    match = _BRACKET.match(name)
    if match:
        unit = match["round"] if match["square"] is None else match["square"]
        return match["base"].strip(), unit.strip()
    match = _SLASH.match(name)
    if match:
        return match["base"].strip(), match["unit"]
    match = _SUFFIX.match(name)
    if match and any_unit(match["unit"]) and (len(match["unit"]) > 1 or _LETTER_UNIT.search(name)):
        return match["base"].strip(), match["unit"]
    return name, ""


def scale(unit: str, dimension: Literal["time", "mass"]) -> float:
    """Factor from this unit (our spelling) to seconds or kilograms."""
    return (_TIME if dimension == "time" else _MASS)[unit]


def asked_unit(word: str | None, dimension: Dimension, option: str) -> str | None:
    """Check a unit given as an option.

    Raises:
        InputError: the word is no unit of that dimension.
    """
    if word is None:
        return None
    found = unit_of(word, dimension)
    if found is None:
        allowed = ", ".join(sorted(set(_SPELLINGS[dimension].values())))
        raise InputError(f"'{word}' is not a unit of {dimension}", f"use one of {allowed}", Place(field=option))
    return found
