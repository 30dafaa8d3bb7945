"""The file of what was seen and weighed during a run: a list of observations in TOML.

Its errors name line, column and field, as those of a plan file. What the observations mean for the
model is made of them in `bibula.forecast.bench`.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import ValidationError, model_validator

from bibula.plan.fields import Hold, MassG, Strict, Text, Within, many, refusal
from bibula.plan.mistakes import plan_mistake
from bibula.quantities.errors import InputError, Place
from bibula.quantities.toml_places import parse_toml, place_of

What = Literal["object weight", "absorbent weight", "witness sheet", "surface temperature", "seen"]
SeenStage = Literal["glossy", "light matte", "onset of distortion", "white"]
BenchCelsius = Annotated[float, Within(-5.0, 60.0, "C", "", "give degrees Celsius; 68 F is written as 20")]

NEEDED: dict[str, tuple[str, ...]] = {
    "object weight": ("grams",),
    "absorbent weight": ("layer", "grams_before", "grams"),
    "witness sheet": ("grams", "dry_grams"),
    "surface temperature": ("celsius", "reference_celsius"),
    "seen": ("stage",),
}
"""What each kind of observation must carry."""
ALLOWED: dict[str, tuple[str, ...]] = {
    "object weight": ("u_grams",),
    "absorbent weight": ("u_grams",),
    "witness sheet": ("u_grams",),
    "surface temperature": ("u_k",),
    "seen": (),
}
"""What it may carry besides; every one may carry `note`."""


class BenchObservation(Strict):
    """One thing seen or weighed, as the file has it.

    Attributes:
        at: s from the plan's start (text with a unit in the file).
        what: its kind; NEEDED and ALLOWED say which of the other fields belong to it.
        grams: total mass of the object, of the absorbent layer, or of the witness sheet, g.
        grams_before: of the absorbent layer before it was laid, g.
        dry_grams: dry mass of the witness sheet, g.
        u_grams: standard uncertainty of one weighing, g.
        layer: id or name of the absorbent layer in the plan.
        celsius, reference_celsius: of the object's surface and of a dry reference beside it.
        u_k: standard uncertainty of their difference, K.
        stage: stage of drying seen by eye.
        note: for the reader.
    """

    at: Hold
    what: What
    grams: MassG | None = None
    grams_before: MassG | None = None
    dry_grams: MassG | None = None
    u_grams: Annotated[float, Within(0.0001, 1e4, "g")] | None = None
    layer: Text | None = None
    celsius: BenchCelsius | None = None
    reference_celsius: BenchCelsius | None = None
    u_k: Annotated[float, Within(0.01, 20.0, "K")] | None = None
    stage: SeenStage | None = None
    note: str = ""

    @model_validator(mode="after")
    def _belongs(self) -> BenchObservation:
        needed, allowed = NEEDED[self.what], ALLOWED[self.what]
        for key in needed:
            if getattr(self, key) is None:
                raise refusal(f"'{self.what}' needs {key}", "add it", "what")
        for key in ("grams", "grams_before", "dry_grams", "u_grams", "layer", "celsius", "reference_celsius", "u_k"):
            if getattr(self, key) is not None and key not in (*needed, *allowed):
                raise refusal(f"'{self.what}' takes no {key}", "leave it out, or check what was observed", key)
        if self.stage is not None and "stage" not in needed:
            raise refusal(f"'{self.what}' takes no stage", "leave it out, or check what was observed", "stage")
        if self.dry_grams is not None and self.grams is not None and self.grams < 0.98 * self.dry_grams:
            raise refusal(
                f"the witness sheet weighs {self.grams:g} g here and {self.dry_grams:g} g dry",
                "check the two weights",
                "grams",
            )
        return self


class BenchRun(Strict):
    """What was seen during one run of a plan."""

    title: str = ""
    invented: bool = False
    notes: str = ""
    observations: tuple[BenchObservation, ...] = many("observation", "observations")

    @model_validator(mode="after")
    def _some(self) -> BenchRun:
        if not self.observations:
            raise refusal("the file holds no observation", "add an [[observation]]", "observation")
        return self


def read_observed(path: str | os.PathLike[str]) -> tuple[BenchRun, str]:
    """The observations of a file, and its text (for places in later messages).

    Raises:
        InputError: the file cannot be opened, is not TOML, or holds a mistake.
    """
    file = Path(path)
    try:
        text = file.read_bytes().decode("utf-8-sig")
    except OSError as bad:
        raise InputError(
            f"this file cannot be read ({bad.strerror})", "check its name and folder", Place(str(file))
        ) from None
    except UnicodeDecodeError:
        raise InputError("this file is not UTF-8 text", "save it as UTF-8", Place(str(file))) from None
    return parse_observed(text, str(file)), text


def parse_observed(text: str, file: str = "observations") -> BenchRun:
    """The observations in a text; `file` is named in messages.

    Raises:
        InputError: the first mistake, with line, column and field.
    """
    data = parse_toml(text, file)
    try:
        return BenchRun.model_validate(data, context={"file": True})
    except ValidationError as bad:
        raise plan_mistake(bad, text, data, file, observed_schema) from None


def place_of_observation(text: str, file: str, number: int, key: str = "at") -> Place:
    """Where the observation of a number (from 0) stands in its file."""
    line, column = place_of(text, ("observation", str(number), key))
    return Place(file, line, column, f"observation[{number + 1}].{key}")


def observed_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a file of observations."""
    schema = BenchRun.model_json_schema()
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "observed.schema.json",
        **schema,
        "title": "Bibula observations",
    }
