"""What the trade says of slabs, blotters and felts, against the forecaster with its starting cards.

Common practice, no source, unless a source is named: each test carries the words it is held against.
The starting cards are not adjusted for this; what the model does not show stands as a known gap.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest

from bibula.checks.practice import FILL_HOURS, cards, forecast_run, screen_plan
from bibula.forecast import absorbents
from bibula.forecast.ensemble import run_ensemble
from bibula.forecast.forecast import starting_water
from bibula.forecast.laying import INTERVALS, lay
from bibula.forecast.milestones import RESTRAINT_WATER, SHEEN_KG_M2, first_below
from bibula.forecast.stacking import FREE_WATER_KG_M2SPA, build_material
from bibula.formulas.moist_air import suction_pa
from bibula.physics.run import PieceState, run_stage
from bibula.physics.stack import Boundary, Layer, Stack, steady_weather, water_at_suction
from bibula.plan.model import Plan, PlanObject, Room
from bibula.plan.stages import Stage

SLAB, BLOTTER, FELT = (f"{kind} (starting card)" for kind in ("slab", "blotter", "felt"))
NETS = ({"card": "interleaf (starting card)", "id": "n1"}, {"card": "interleaf (starting card)", "id": "n2"})
ROOM = Room(temperature_c=20.0, relative_humidity_percent=50.0)
END_OF_WETTING = (100.0 - 43.0) / 43.0


def sheet(x: float, grammage: float = 150.0) -> PlanObject:
    start = {"state": "measured", "water_content": x, "u_water_content": 0.05}
    fields = {"name": "Invented sheet", "length_m": 0.4, "width_m": 0.3, "fibre": "rag", "start": start}
    return PlanObject.model_validate({**fields, "grammage_g_m2": grammage, "thickness_mm": grammage / 600.0})


def plan(x: float, *stages: dict[str, Any], grammage: float = 150.0) -> Plan:
    made = tuple(Stage.model_validate({"name": f"stage {i}", **s}) for i, s in enumerate(stages))
    return Plan(title="Invented", invented=True, object=sheet(x, grammage), room=ROOM, stages=made)


@cache
def uptake(card_name: str) -> np.ndarray:
    """Water (kg/m2) a dry piece takes up lying on free water, at 0, 5, 60 s and 1 h."""
    card = cards()[card_name]
    values = {k: v.value for k, v in card.values.items()}
    tables = build_material(values, values["density_kg_m3"], 0.0)
    layer = Layer("piece", tables, values["thickness_m"], INTERVALS[card.kind], 0.95, False, False)
    dry = water_at_suction(layer, float(suction_pa(0.5, 20.0)))
    air = steady_weather(20.0, 0.5)
    water = Boundary(air, 20.0, 0.0, FREE_WATER_KG_M2SPA, 0.0, 20.0)
    stack = Stack((layer,), (), water, Boundary(air, 3.0, 0.0))
    result = run_stage(stack, [PieceState(dry, np.full(len(dry), 20.0))], np.array([0.0, 5.0, 60.0, 3600.0]))
    return np.asarray(result.water.sum(axis=1) - dry.sum())


def per_own_mass(card_name: str) -> float:
    card = cards()[card_name]
    return card["capacity_kg_m3"] / card["density_kg_m3"]


@pytest.mark.parametrize("other", [BLOTTER, FELT])
def test_a_slab_takes_up_faster_at_first(other: str) -> None:
    """'Slabs take up water much faster at first than cotton blotter or wool felt': at least half as much again."""
    assert uptake(SLAB)[1] > 1.5 * uptake(other)[1]


@pytest.mark.parametrize("other", [BLOTTER, FELT])
def test_a_slab_takes_less_per_own_weight(other: str) -> None:
    """'... but less per own weight.'"""
    assert per_own_mass(SLAB) < 0.5 * per_own_mass(other)


def test_a_blotter_takes_twice_its_own_weight() -> None:
    """'A blotter takes 2 to 2.5 g/g': of a dry one, less the air-dry water it had."""
    card = cards()[BLOTTER]
    assert 1.9 < uptake(BLOTTER)[3] / (card["density_kg_m3"] * card["thickness_m"]) < 2.5


def sheen_s(card: str, x: float = 1.6) -> float:
    """When the sheen of a landed, drained sheet over non-woven has gone."""
    trace = forecast_run(plan(x, {"duration": "15 min", "stack": [{"card": card}, NETS[0], {"object": True}]}))[1]
    assert trace.film_up[0] > SHEEN_KG_M2
    return first_below(trace.times_s, trace.film_up, SHEEN_KG_M2)


@pytest.mark.parametrize("x", [1.4, 1.6, 1.8])
def test_the_sheen_goes_within_a_minute_on_a_slab(x: float) -> None:
    """'The sheen goes from a landed wet sheet almost at once.'"""
    assert sheen_s(SLAB, x) < 60.0


def test_in_bare_contact_a_slab_draws_first_then_a_blotter_then_a_felt() -> None:
    """'Much faster at first than cotton blotter or wool felt', of what is left in a sheet after a minute."""
    left = []
    for card in (SLAB, BLOTTER, FELT):
        laid, trace = forecast_run(plan(1.6, {"duration": "15 min", "stack": [{"card": card}, {"object": True}]}))
        left.append(float(np.interp(60.0, trace.times_s, trace.water)) / laid.dry_kg_m2)
    assert left[0] < 0.9 * left[1]
    assert left[1] < 0.9 * left[2]


@pytest.mark.xfail(strict=True, reason="the non-woven and its assumed contact, not the absorbent, rule the model here")
def test_the_sheen_stays_longer_on_a_blotter() -> None:
    """'... where a blotter takes a while.' The model has the same seconds for both."""
    assert sheen_s(BLOTTER) > 1.5 * sheen_s(SLAB)


def test_a_used_face_is_dry_to_the_touch_though_the_slab_holds_the_water() -> None:
    """'A used face dries within minutes': the water has gone inward."""
    laid = lay(
        plan(1.6, {"duration": "20 min", "stack": [{"card": SLAB, "id": "s"}, NETS[0], {"object": True}]}), cards()
    )
    run = run_ensemble(laid, starting_water(laid), 8, 1)
    (use,) = absorbents.uses(run)
    held = run.nominal.layers["s"]
    assert use.ready_touch_s is not None
    assert use.ready_touch_s.median < 1800.0
    assert held[-1] - held[0] > 0.03
    assert run.nominal.skin["s"][-1] < 0.20


def closed(card: str, pieces: int, fills: int, grammage: float = 150.0) -> Plan:
    """A sheet between fresh pieces under a board, non-woven kept; nothing evaporates."""
    side = {"card": card, "pieces": pieces}
    nets = [[{**n, "reuse": i > 0} for n in NETS] for i in range(fills)]
    stages = [
        {
            "duration": f"{FILL_HOURS} h",
            "above": "board",
            "weight_kg": 4.0,
            "stack": [side, a, {"object": True}, b, side],
        }
        for a, b in nets
    ]
    return plan(1.33, *stages, grammage=grammage)


def fills_to(target: float, card: str, pieces: int, grammage: float) -> int:
    """After how many fills the sheet holds no more than `target` kg/kg; 9 where four do not do it."""
    laid, trace = forecast_run(closed(card, pieces, 4, grammage))
    ends = [float(trace.water[trace.stage == i][-1]) / laid.dry_kg_m2 for i in range(4)]
    return next((i + 1 for i, x in enumerate(ends) if x <= target), 9)


@pytest.mark.parametrize("grammage", [80.0, 150.0])
def test_blotters_must_be_changed_where_slabs_need_no_change(grammage: float) -> None:
    """'Between slabs no change is needed where blotters must be checked and changed': to 10 % of dry mass."""
    assert fills_to(0.10, BLOTTER, 1, grammage) >= 2
    assert fills_to(0.10, SLAB, 1, grammage) == 1


def test_a_heavy_sheet_needs_fewer_changes_between_slabs() -> None:
    """300 g/m2 in a closed stack is more than one pair of slabs dries to 10 %; blotters need four fills."""
    assert fills_to(0.10, SLAB, 1, 300.0) == 2
    assert fills_to(0.10, BLOTTER, 1, 300.0) >= 4


def test_the_advice_says_so_too() -> None:
    """The same as the words a user reads, for a sheet of 80 g/m2."""
    advice = {}
    for card in (SLAB, BLOTTER):
        laid = lay(closed(card, 1, 1, 80.0), cards())
        advice[card] = {u.advice for u in absorbents.uses(run_ensemble(laid, starting_water(laid), 8, 1))}
    assert all(a.startswith("no change needed") for a in advice[SLAB])
    assert all(a.startswith("change") for a in advice[BLOTTER])


@pytest.mark.parametrize("grammage", [80.0, 150.0, 250.0])
def test_a_sheet_on_a_screen_passes_43_then_63_percent_solids_within_hours(grammage: float) -> None:
    """Complete wetting ends at 43 +/- 9 %, distortion begins at 63 +/- 3 % solids (Sugarman and Vitale 1992).

    Times: half an hour to four hours for thin to medium sheets, overnight for thick (common practice, no source).
    """
    laid, trace = forecast_run(screen_plan(grammage))
    content = trace.water / laid.dry_kg_m2
    wetting, distortion = (first_below(trace.times_s, content, x) for x in (END_OF_WETTING, RESTRAINT_WATER))
    balance = first_below(trace.times_s, content, trace.equilibrium + 0.01)
    assert 60.0 < wetting < distortion < balance
    assert 0.5 * 3600.0 < balance < 15 * 3600.0
    assert distortion > 0.2 * balance


def test_drying_takes_longer_than_its_constant_rate() -> None:
    """266 g/m2 at 70 g/(m2 h) from one face is 3.6 h, and 'the falling rate makes it longer' (computed independently).

    Both faces of a screen give off: no quicker than half of that at the model's own first rate.
    """
    laid, trace = forecast_run(screen_plan(200.0))
    t, w = trace.times_s, trace.water
    early = (t > 900.0) & (t < 2400.0)
    rate = -np.polyfit(t[early], w[early], 1)[0] * 3600.0
    assert 0.05 < rate / 2.0 < 0.11
    dry = first_below(t, w / laid.dry_kg_m2, trace.equilibrium + 0.005) / 3600.0
    assert dry > (w[0] - trace.equilibrium * laid.dry_kg_m2) / rate
