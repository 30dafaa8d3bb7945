"""From laid pieces to a physics stack: contacts, boundaries, branches, states."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from bench_plans import ACRYLIC, AIR, BLOTTER, INTERLEAF, NET, OBJECT, SLAB, cards, laid, middle, plan, stage, thing

from bibula.forecast.laying import LaidPlan, LaidStage
from bibula.forecast.stacking import SOAKED_PA, Bench, boundary, contact, mean_suction, stack_stage
from bibula.formulas import moist_air
from bibula.physics.stack import Boundary, Contact, Stack
from bibula.plan.model import Plan
from bibula.plan.stages import Above, Below

SWING = 1e-12


def build(a_plan: Plan, at: int = 0) -> tuple[LaidStage, Stack, Bench]:
    a_laid: LaidPlan = laid(a_plan)
    bench = Bench(middle(a_laid))
    return a_laid.stages[at], stack_stage(a_laid.stages[at], bench)[0], bench


def joint(*stack: dict[str, object], at: int = 0, **more: object) -> Contact:
    return build(plan(stage(*stack, **more)))[1].contacts[at]


def edge(side: Below | Above, **numbers: float) -> Boundary:
    a_laid = laid(plan(stage(OBJECT)))
    return boundary(side, a_laid.stages[0], replace(middle(a_laid), **numbers))


def branch_of(a_plan: Plan, key: str) -> float:
    """0 on the wetting branch; else the share of the drying branch."""
    _, stack, bench = build(a_plan)
    layer = next(x for x in stack.layers if x.key == key)
    return next(b for (_, _, b), tables in bench.tables.items() if tables is layer.tables)


def test_a_contact_is_two_conductances_in_series() -> None:
    values = {"contact_kg_m2spa": 1e-6, "contact_exponent": 0.0, "bridge_suction_pa": 15e3}
    one = {**middle(laid(plan(stage({"card": BLOTTER}, OBJECT)))).cards[BLOTTER], **values}
    two = {**one, "contact_kg_m2spa": 3e-6, "bridge_suction_pa": 9e3}
    made = contact(one, two, 500.0)
    assert made.liquid_kg_m2spa == pytest.approx(1 / (1 / 1e-6 + 1 / 3e-6))
    assert made.bridge_pa == 9e3


def test_weight_and_what_lies_above_press_the_contact() -> None:
    free = joint(NET, OBJECT)
    under_weight = joint(NET, OBJECT, weight_kg=10.0)
    under_slab = joint(NET, OBJECT, {"card": SLAB})
    assert free.liquid_kg_m2spa < under_slab.liquid_kg_m2spa < under_weight.liquid_kg_m2spa


def test_the_pressure_of_a_slab_is_its_weight() -> None:
    slab, net = cards()[SLAB], cards()[INTERLEAF]
    pressure = slab["density_kg_m3"] * slab["thickness_m"] * moist_air.GRAVITY
    made = joint(OBJECT, {"card": INTERLEAF}, {"card": SLAB}, at=1)
    values = [{k: v.value for k, v in c.values.items()} for c in (net, slab)]
    assert made.liquid_kg_m2spa == pytest.approx(contact(values[0], values[1], pressure).liquid_kg_m2spa, rel=SWING)


def test_a_tight_layer_passes_heat_only_and_has_no_film() -> None:
    _, stack, _ = build(plan(stage({"card": ACRYLIC}, OBJECT)))
    assert (stack.contacts[0].liquid_kg_m2spa, stack.contacts[0].vapour_s_m) == (0.0, 0.0)
    assert stack.contacts[0].heat_w_m2k > 0.0
    assert not stack.layers[0].film_above


def test_a_gap_of_air_is_a_contact_without_liquid() -> None:
    _, stack, _ = build(plan(stage({"card": BLOTTER}, {"card": AIR, "thickness_mm": 10.0}, OBJECT)))
    assert len(stack.layers) == 2
    assert stack.contacts[0].liquid_kg_m2spa == 0.0
    assert stack.contacts[0].vapour_s_m == pytest.approx(float(moist_air.delta_air_s(20.0)) / 0.01)


@pytest.mark.parametrize("kind", ["table", "board", "cover"])
def test_table_board_and_cover_seal(kind: str) -> None:
    made = edge(Below(kind="table") if kind == "table" else Above(kind=kind))
    assert (made.vapour_s_m, made.liquid_kg_m2spa) == (0.0, 0.0)


def test_moving_air_takes_more_and_the_factor_scales_it() -> None:
    still, fan = edge(Above(kind="room")), edge(Above(kind="room", air="fan"))
    assert fan.vapour_s_m > 3 * still.vapour_s_m
    assert edge(Above(kind="room"), surface_factor=2.0).vapour_s_m == pytest.approx(2 * still.vapour_s_m, rel=SWING)


def test_a_damp_chamber_has_its_own_humidity() -> None:
    made = edge(Below(kind="damp chamber", relative_humidity_percent=95.0))
    assert made.weather[0, 2] == pytest.approx(0.95 * float(moist_air.saturation_pressure_pa(20.0)))


def test_the_shift_of_the_room_moves_its_vapour() -> None:
    wet = edge(Above(kind="room"), room_shift_rh=0.15)
    assert wet.weather[0, 2] == pytest.approx(0.65 * float(moist_air.saturation_pressure_pa(20.0)))


def test_blown_channels_follow_the_speed() -> None:
    slow, quick = (edge(Above(kind="channelled air", air_speed_m_s=v)) for v in (0.5, 4.0))
    assert quick.vapour_s_m > slow.vapour_s_m > 0.0


def test_water_and_suction_table_have_a_reservoir() -> None:
    water, table = edge(Below(kind="water")), edge(Below(kind="suction table", suction_kpa=5.0))
    assert (water.reservoir_pa, table.reservoir_pa) == (0.0, 5000.0)
    assert min(water.liquid_kg_m2spa, table.liquid_kg_m2spa) > 0.0


def test_a_wet_sheet_dries_on_its_drying_branch() -> None:
    assert branch_of(plan(stage(NET, OBJECT)), "object 0") == middle(laid(plan(stage(OBJECT)))).drying_share


def test_a_fresh_slab_wets_on_its_wetting_branch() -> None:
    assert branch_of(plan(stage({"card": SLAB, "id": "s"}, OBJECT)), "s") == 0.0


def test_a_dry_sheet_over_a_soaked_slab_wets() -> None:
    dry = thing(start={"state": "air-dry"})
    soaked = {"card": SLAB, "id": "s", "start_rh_percent": 100.0}
    assert branch_of(plan(stage(soaked, OBJECT), object_=dry), "object 0") == 0.0


@pytest.mark.parametrize("card", [SLAB, BLOTTER])
def test_a_soaked_piece_is_full_but_carries_no_film(card: str) -> None:
    a_laid = laid(plan(stage({"card": card, "id": "s", "start_rh_percent": 100.0}, OBJECT)))
    bench = Bench(middle(a_laid))
    stack_stage(a_laid.stages[0], bench)
    piece = a_laid.stages[0].pieces[0]
    water = float(bench.states["s"].water_kg_m2.sum())
    assert water > 0.85 * bench.material(piece, 0.0).capacity * piece.thickness_m
    assert mean_suction(bench.material(piece, 0.0), piece.thickness_m, water) == pytest.approx(SOAKED_PA, rel=0.05)


def test_the_first_state_has_the_water_told() -> None:
    a_laid = laid(plan(stage({"card": BLOTTER, "id": "b", "start_water_g": 24.0}, OBJECT)))
    bench = Bench(middle(a_laid))
    stack_stage(a_laid.stages[0], bench)
    assert float(bench.states["b"].water_kg_m2.sum()) == pytest.approx(0.2)
    assert float(bench.states["object 0"].water_kg_m2.sum()) == pytest.approx(1.1 * a_laid.dry_kg_m2)


def test_a_piece_taken_up_again_keeps_water_and_heat_and_is_turned_with_its_face() -> None:
    slab = {"card": SLAB, "id": "s"}
    a_laid = laid(plan(stage(slab, OBJECT), stage({**slab, "reuse": True, "face": "B"}, OBJECT)))
    bench = Bench(middle(a_laid))
    stack_stage(a_laid.stages[0], bench)
    kept = bench.states["s"]
    kept.water_kg_m2[-1] += 0.5
    kept.temperature_c[:] = np.linspace(15.0, 20.0, len(kept.temperature_c))
    _, states = stack_stage(a_laid.stages[1], bench)
    assert states[0].water_kg_m2 == pytest.approx(kept.water_kg_m2[::-1])
    assert states[0].temperature_c == pytest.approx(kept.temperature_c[::-1])
