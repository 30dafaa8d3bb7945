"""Whether a card fit finds the truth: invented materials, drawn from the priors, weighed with errors and fitted.

One repeat draws a material, its pieces and a test sheet, invents the readings of four bench tests
with every error the fit allows for, fits them, and sets the answer against the truth.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bibula.cards.library import starting_cards
from bibula.cards.model import PROPERTIES, Kind
from bibula.cards.priors import class_priors, spread_of
from bibula.evidence.bench_base import BenchTest
from bibula.evidence.bench_models import room_suction, tables_of
from bibula.evidence.bench_tests import FILM
from bibula.evidence.cardfit import CardFit, fit_card
from bibula.evidence.fit_parameters import Material
from bibula.evidence.pieces import Piece, Sheet, Surroundings
from bibula.evidence.pretend import (
    pretend_conditioning,
    pretend_contact,
    pretend_drying,
    pretend_rest,
    pretend_uptake,
)
from bibula.physics.run import PieceState, output_times, run_stage
from bibula.physics.stack import Boundary, Layer, Stack, steady_weather, water_at_suction, water_from_total
from bibula.physics.surroundings import CONVECTION_SPREAD, TABLE_W_M2K, contact, open_air

Array = NDArray[np.float64]

PAPER = "rag paper (starting card)"
SHEET_WATER = 1.3
"""Water of the test sheet at the start, kg per kg of dry sheet."""
UPTAKE_TIMES_S = np.array([0, 5, 10, 15, 20, 25, 30, 40, 60, 90, 120, 300, 900.0])
CONTACT_TIMES_S = np.array([0, 10, 20, 40, 80, 160, 320, 640, 1800.0])
DRYING_TIMES_S = 3600.0 * np.array([0, 3, 6, 9, 12, 24, 27, 30, 36, 48, 60, 72, 96, 120.0])
HUMIDITIES = np.array([0.33, 0.54, 0.75])
ROOM_C, ROOM_RH = 20.0, 0.5
LONGEST_S = 4 * 86400.0


@dataclass(frozen=True)
class Case:
    """An invented material with all that was true of its tests.

    Attributes:
        values: of the material, SI.
        sheet: the test sheet as it is described (its card's medians).
        sheet_truth: its values in truth.
        surroundings: surface factor and film in truth; `sheet` holds the sheet's true values.
        piece: as measured. true_piece: as it is.
    """

    values: dict[str, float]
    sheet: Sheet
    sheet_truth: dict[str, float]
    surroundings: Surroundings
    piece: Piece
    true_piece: Piece


def draw_values(kind: Kind, rng: np.random.Generator) -> dict[str, float]:
    """A material drawn from the priors of its kind, every property on its own; what cannot exist is drawn again.

    No material holds more by sorption alone at saturation than nine tenths of its capacity.
    """
    while True:
        values = _draw_once(kind, rng)
        k, c = values["gab_k"], values["gab_c"]
        sorbed = values["density_kg_m3"] * values["gab_monolayer_kg_kg"] * c * k / ((1 - k) * (1 - k + c * k))
        if sorbed <= 0.9 * values["capacity_kg_m3"]:
            return values


def _draw_once(kind: Kind, rng: np.random.Generator) -> dict[str, float]:
    out = {}
    for key, prior in class_priors(kind).items():
        prop, z = PROPERTIES[key], float(rng.standard_normal())
        wide = prop.spread == "normal"
        value = prior.median + prior.spread * z if wide else prior.median * float(np.exp(prior.spread * z))
        out[key] = min(max(value, prop.low), min(prop.high, 0.95) if key == "gab_k" else prop.high)
    return out


def draw_case(kind: Kind, rng: np.random.Generator, exact: bool = False) -> Case:
    """A material, its piece of 10 x 10 cm and a test sheet of 10 x 10 cm. `exact`: sizes and sheet as described."""
    values = draw_values(kind, rng)
    thickness = values["thickness_m"]
    mass = values["density_kg_m3"] * thickness * 0.01
    true_piece = Piece(0.1, 0.1, thickness, mass)
    thickness_u = min(1e-4, 0.01 * thickness)
    slip = np.zeros(3) if exact else rng.standard_normal(3) * np.array([5e-4, 5e-4, thickness_u])
    sizes = [float(x) for x in np.array([0.1, 0.1, thickness]) + slip]
    piece = Piece(sizes[0], sizes[1], sizes[2], mass, thickness_u_m=thickness_u)
    card = starting_cards()[PAPER]
    paper = {k: v.value for k, v in card.values.items()}
    spreads = {k: spread_of(k, v) for k, v in card.values.items()}
    sheet = Sheet(
        PAPER, paper, spreads, paper["density_kg_m3"] * paper["thickness_m"] * 0.01, 0.01, paper["thickness_m"]
    )
    truth = dict(paper)
    if not exact:
        for key in ("absorption_kg_m2s05", "median_suction_pa", "contact_kg_m2spa"):
            truth[key] *= float(np.exp(spreads[key] * rng.standard_normal()))
    film, factor = FILM.median, 1.0
    if not exact:
        film = max(film + FILM.spread * float(rng.standard_normal()), 0.0)
        factor = float(np.exp(CONVECTION_SPREAD["still"] * rng.standard_normal()))
    surroundings = Surroundings(factor, film, truth)
    return Case(values, sheet, truth, surroundings, piece, true_piece)


def invented_tests(case: Case, rng: np.random.Generator | None, rest: bool = False) -> list[BenchTest]:
    """Uptake, contact, air drying, conditioning (and a sealed rest) of a case, described as measured."""
    v, p, s = case.values, case.true_piece, case.surroundings
    wet = p.mass_kg + 0.97 * v["capacity_kg_m3"] * p.volume_m3
    tests: list[BenchTest] = [
        pretend_uptake(p, UPTAKE_TIMES_S, v, s, rng),
        pretend_contact(p, case.sheet, case.sheet.dry_kg * (1.0 + SHEET_WATER), CONTACT_TIMES_S, v, s, rng),
        pretend_drying(p, wet, DRYING_TIMES_S, v, s, rng),
        pretend_conditioning(p, HUMIDITIES, v, rng),
    ]
    if rest:
        water = v["capacity_kg_m3"] * p.volume_m3 * np.array([0.3, 0.5, 0.8])
        tests.append(pretend_rest(p, case.sheet, water, v, s, rng))
    return [replace(test, piece=case.piece) for test in tests]


def room_balance_time_s(values: Mapping[str, float], sheet: Mapping[str, float], sheet_m: float) -> float:
    """Time until a wet sheet laid on the material, open to the room above, is in balance with the room.

    Within 1 % of dry mass of what it holds in that room; nan if not within four days.
    """
    paper = Layer("sheet", tables_of(sheet, sheet["density_kg_m3"], 1.0), sheet_m, 8, 0.95)
    under = Layer("piece", tables_of(values, values["density_kg_m3"], 0.0), values["thickness_m"], 14, 0.95)
    weather = steady_weather(ROOM_C, ROOM_RH)
    stack = Stack(
        (under, paper), (contact(values, sheet, 100.0),), Boundary(weather, TABLE_W_M2K, 0.0), open_air(3.0, weather)
    )
    grammage = sheet["density_kg_m3"] * sheet_m
    states = [water_at_suction(under, room_suction(ROOM_RH)), water_from_total(paper, SHEET_WATER * grammage)]
    times = output_times(LONGEST_S, 160)
    result = run_stage(stack, [PieceState(w, np.full(len(w), ROOM_C)) for w in states], times)
    excess = (
        result.layer_water("sheet") / grammage - float(water_at_suction(paper, room_suction(ROOM_RH)).sum()) / grammage
    )
    late = np.flatnonzero(np.abs(excess) > 0.01)
    if len(late) == 0 or late[-1] + 1 >= len(times):
        return float("nan")
    k = int(late[-1])
    share = (abs(excess[k]) - 0.01) / (abs(excess[k]) - abs(excess[k + 1]))
    return float(times[k] + share * (times[k + 1] - times[k]))


@dataclass(frozen=True)
class Recovery:
    """One repeat: for every parameter of interest, how far off (in standard errors), half-width and coverage.

    Attributes:
        seed: of the repeat.
        off: key -> (ln estimate - ln truth) / its standard error on the card.
        half_width: key -> relative half-width of the 95 % interval.
        covered: key -> whether the 95 % interval holds the truth.
        time_ratio: time to balance with the room, fitted card over truth.
        error_scale: as CardFit.
    """

    seed: int
    off: dict[str, float]
    half_width: dict[str, float]
    covered: dict[str, bool]
    time_ratio: float
    error_scale: float


INTEREST = (
    "absorption_kg_m2s05", "capacity_kg_m3", "gab_monolayer_kg_kg", "contact_kg_m2spa", "median_suction_pa",
    "suction_spread", "drying_suction_ratio", "vapour_resistance",
)  # fmt: skip


def compare(case: Case, found: CardFit, seed: int = 0) -> Recovery:
    """Set a fitted card against the truth of its case."""
    off, half, covered = {}, {}, {}
    for key in INTEREST:
        value = found.card.values[key]
        sd = value.u / value.value
        off[key] = float(np.log(value.value / case.values[key])) / sd
        half[key] = float(np.expm1(1.96 * sd))
        covered[key] = abs(off[key]) <= 1.96
    fitted = {k: v.value for k, v in found.card.values.items()}
    thickness = case.sheet.thickness_m
    truth = room_balance_time_s(case.values, case.sheet.values, thickness)
    ratio = room_balance_time_s(fitted, case.sheet.values, thickness) / truth
    return Recovery(seed, off, half, covered, ratio, found.error_scale)


def one_repeat(seed: int, kind: Kind = "slab") -> Recovery:
    """Draw, invent, fit, compare; the same seed gives the same repeat."""
    rng = np.random.default_rng([20251125, seed])
    case = draw_case(kind, rng)
    tests = invented_tests(case, rng)
    found = fit_card(Material("invented", kind, case.piece, date="2026-11-25"), tests)
    return compare(case, found, seed)
