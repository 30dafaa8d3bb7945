"""Which numbers a set of bench tests brings into play, where each starts, what is believed of it before."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from bibula.cards.model import PROPERTIES, Card
from bibula.cards.priors import class_priors, complete, spread_of
from bibula.evidence.bench_base import BenchTest
from bibula.evidence.bench_tests import AirDryingTest, ContactTest, SealedRestTest, UptakeTest
from bibula.evidence.pieces import Nuisance, Piece, Surroundings
from bibula.quantities.errors import InputError
from bibula.statistics.parameters import Guess

Array = NDArray[np.float64]

NARROWEST = 0.01
"""A prior narrower than this (in the logarithm) is taken as this wide: no card is surer than its balance."""
WIDE_FACTOR = 1e3
"""A log parameter stays within this factor of its prior's median, and within the card's own range."""


@dataclass(frozen=True)
class Material:
    """The material under test.

    Attributes:
        name, kind, lot, date: as on the card to be made.
        piece: a typical piece; gives the card its thickness and density.
        before: a card of the same material to start from instead of the priors of its kind.
        notes: go onto the card.
    """

    name: str
    kind: str
    piece: Piece
    lot: str = ""
    date: str = ""
    before: Card | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Parameters:
    """All parameters of one fit.

    Attributes:
        fixed: every property of the material that is not fitted, SI.
        guesses: name -> Guess; card keys first, then the tests' own numbers as "test: number" or "sheet: key".
        keys: the fitted card keys.
        used_by: test -> the names in `guesses` on which its prediction depends.
    """

    fixed: Mapping[str, float]
    guesses: Mapping[str, Guess]
    keys: tuple[str, ...]
    used_by: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def values(self, p: Mapping[str, float]) -> dict[str, float]:
        """Every property of the material for one set of parameters."""
        return {**self.fixed, **{k: p[k] for k in self.keys}}

    def surroundings(self, test: BenchTest, p: Mapping[str, float]) -> Surroundings:
        """The numbers of one test for one set of parameters."""
        own = {name: p[_own(test, name)] for name in test.nuisances}
        sheet = {key: p[_of_sheet(test, key)] for key in test.sheet_keys if _of_sheet(test, key) in p}
        return Surroundings(sheet=sheet, **own)


def _own(test: BenchTest, name: str) -> str:
    return f"{test.name}: {name}"


def _of_sheet(test: BenchTest, key: str) -> str:
    sheet = test.sheet if isinstance(test, ContactTest | SealedRestTest) else None
    return f"{sheet.name if sheet else ''}: {key}"


def parameters_of(material: Material, tests: Sequence[BenchTest]) -> Parameters:
    """The parameters that these tests touch.

    Raises:
        InputError: no test, two of one name, or a kind that takes no water.
    """
    _check(material, tests)
    card = complete(material.before or Card(material.name, material.kind, {}))  # type: ignore[arg-type]
    values = {k: v.value for k, v in card.values.items()}
    dry = material.piece.dry_kg(values)
    fixed = {**values, "thickness_m": material.piece.thickness_m, "density_kg_m3": dry / material.piece.volume_m3}
    keys = tuple(k for k in PROPERTIES if any(k in test.reads for test in tests))
    starts = first_guesses(tests)
    guesses = {k: _guess(k, card, starts.get(k)) for k in keys}
    used: dict[str, tuple[str, ...]] = {}
    for test in tests:
        for name, nuisance in test.nuisances.items():
            guesses[_own(test, name)] = _nuisance(nuisance)
        for key in test.sheet_keys:
            _add_sheet(guesses, test, key)
        own = [_own(test, n) for n in test.nuisances] + [_of_sheet(test, k) for k in test.sheet_keys]
        used[test.name] = (*(k for k in keys if k in test.reads), *(n for n in own if n in guesses))
    return Parameters(fixed, guesses, keys, used)


def _check(material: Material, tests: Sequence[BenchTest]) -> None:
    if not tests:
        raise InputError("there is no test to fit", "add at least one [[test]]")
    names = [test.name for test in tests]
    twice = next((n for n in names if names.count(n) > 1), None)
    if twice is not None:
        raise InputError(f"two tests are called '{twice}'", "give each its own name")
    if class_priors(material.kind)["capacity_kg_m3"].median <= 0.0:  # type: ignore[arg-type]
        raise InputError(f"a material of kind '{material.kind}' takes no water", "there is nothing to fit")


def _guess(key: str, card: Card, start: float | None) -> Guess:
    prop, value = PROPERTIES[key], card.values[key]
    spread = max(spread_of(key, value), NARROWEST)
    if prop.spread == "normal":
        return Guess(value.value, prop.low, prop.high, "linear", (value.value, spread))
    low, high = max(prop.low, value.value / WIDE_FACTOR), min(prop.high, value.value * WIDE_FACTOR)
    first = min(max(start or value.value, 1.001 * low), 0.999 * high)
    return Guess(first, low, high, "log", (math.log(value.value), spread))


def _nuisance(n: Nuisance) -> Guess:
    if n.scale == "linear":
        return Guess(n.median, 0.0, n.median + 10.0 * n.spread, "linear", (n.median, n.spread))
    return Guess(n.median, n.median / 100.0, n.median * 100.0, "log", (math.log(n.median), n.spread))


def _add_sheet(guesses: dict[str, Guess], test: BenchTest, key: str) -> None:
    if not isinstance(test, ContactTest | SealedRestTest):
        return
    value, spread = test.sheet.values[key], test.sheet.spreads[key]
    if value > 0.0 and spread > NARROWEST:
        prop = PROPERTIES[key]
        low, high = max(prop.low, value / WIDE_FACTOR), min(prop.high, value * WIDE_FACTOR)
        guesses[_of_sheet(test, key)] = Guess(value, low, high, "log", (math.log(value), spread))


def first_guesses(tests: Sequence[BenchTest]) -> dict[str, float]:
    """Starting values read off the readings: capacity from the fullest piece, A_w from the first minutes."""
    out: dict[str, float] = {}
    full, slopes = [], []
    for test in tests:
        if isinstance(test, UptakeTest):
            gain = test.observed
            full.append(float(gain.max()) / test.piece.volume_m3)
            early = (gain < 0.8 * gain.max()) | (np.arange(len(gain)) == 0)
            slopes.append(float(np.median(gain[early] / np.sqrt(test.x[early]))) / test.wetted_m2)
        elif isinstance(test, AirDryingTest):
            full.append((float(test.mass_kg[0]) - test.piece.mass_kg) / test.piece.volume_m3)
    if full:
        out["capacity_kg_m3"] = max(full)
    if slopes:
        out["absorption_kg_m2s05"] = float(np.median(slopes))
    return out
