"""One member from the first stage to the last: water kept, sides, what turning mirrors."""

from __future__ import annotations

import numpy as np
import pytest
from bench_plans import BLOTTER, NET, OBJECT, SLAB, laid, middle, plan, rack, run, stage, template, thing

from bibula.forecast.milestones import drying_from, left_by
from bibula.forecast.simulate import simulate, skin_share
from bibula.physics.stack import control_volumes, node_positions

SEALED = {"above": "board"}
AGAIN = {**NET, "reuse": True}
CLOSED = 1e-9


def all_water(trace: object) -> float:
    return sum(float(s.water_kg_m2.sum()) for s in trace.states.values())


def test_a_closed_stack_keeps_its_water_though_pieces_come_off_and_back() -> None:
    slab = {"card": SLAB, "id": "s"}
    fresh = {"card": BLOTTER, "id": "b"}
    stages = (
        stage(slab, NET, OBJECT, **SEALED),
        stage(fresh, AGAIN, OBJECT, **SEALED),
        stage({**slab, "reuse": True, "face": "B"}, AGAIN, OBJECT, {**fresh, "reuse": True}, **SEALED),
    )
    a_laid = laid(plan(*stages))
    trace = simulate(a_laid, middle(a_laid))
    at_start = trace.water[0] + sum(w[np.isfinite(w)][0] for w in trace.layers.values())
    assert all_water(trace) == pytest.approx(at_start, rel=CLOSED)


def test_what_left_by_the_sides_is_what_the_object_lost() -> None:
    trace = run(template("slab-felt"))
    lost = trace.water[0] - trace.water
    assert trace.passed_recto + trace.passed_verso == pytest.approx(lost, abs=CLOSED)


def test_a_piece_taken_off_shows_no_water_while_it_is_away() -> None:
    slab = {"card": SLAB, "id": "s"}
    trace = run(plan(stage(slab, OBJECT), stage(OBJECT), stage({**slab, "reuse": True}, OBJECT)))
    away = trace.stage == 1
    assert np.isnan(trace.layers["s"][away]).all()
    assert trace.layers["s"][trace.stage == 2][0] == pytest.approx(trace.layers["s"][trace.stage == 0][-1], rel=CLOSED)


def test_face_down_mirrors_the_sides() -> None:
    up, down = (run(plan(stage({"card": SLAB}, NET, {"object": True, "face_up": face}))) for face in ("recto", "verso"))
    assert down.passed_recto == pytest.approx(up.passed_verso, rel=1e-6, abs=1e-9)
    assert up.passed_verso[-1] > up.passed_recto[-1]


def test_like_surroundings_take_the_same_from_both_sides() -> None:
    net = {"card": NET["card"]}
    trace = run(plan(stage({"card": BLOTTER}, net, OBJECT, net, {"card": BLOTTER}, weight_kg=3.0, **SEALED)))
    assert trace.passed_recto[-1] == pytest.approx(trace.passed_verso[-1], rel=0.02)


def test_balances_close() -> None:
    trace = run(template("blotters"))
    assert max(trace.balance_water, trace.balance_energy) < 1e-8


def test_a_sheet_on_a_rack_comes_to_the_balance_it_is_told() -> None:
    a_laid = laid(rack("2 d"))
    trace = simulate(a_laid, middle(a_laid))
    assert trace.water[-1] / a_laid.dry_kg_m2 == pytest.approx(trace.equilibrium, rel=1e-3)
    assert trace.equilibrium > run(rack("2 d", object_=thing(start={"state": "air-dry"}))).equilibrium


def test_a_wetter_room_ends_wetter() -> None:
    assert run(rack("1 d"), room_shift_rh=0.1).water[-1] > run(rack("1 d")).water[-1]


def test_a_drying_sheet_is_colder_than_the_room_and_a_damping_one_warmer() -> None:
    drying = run(rack("1 h"))
    damping = run(template("damp-chamber", thing(start={"state": "air-dry"})))
    in_chamber = (damping.stage == 0) & (damping.times_s > 0.0)
    assert drying.surface_c[drying.times_s > 300.0].max() < 20.0 - 1.0
    assert (damping.surface_c[in_chamber] > 20.0).all()
    assert damping.surface_c[in_chamber].max() > 20.1


def test_damping_counts_from_the_end_of_the_chamber() -> None:
    a_laid = laid(template("damp-chamber", thing(start={"state": "air-dry"})))
    trace = simulate(a_laid, middle(a_laid))
    begin = drying_from(trace, a_laid.dry_kg_m2)
    assert trace.times_s[begin] == pytest.approx(a_laid.stages[0].duration_s)
    assert sum(left_by(trace, a_laid.dry_kg_m2)) == pytest.approx(trace.water[begin] - trace.water[-1], abs=1e-6)


@pytest.mark.parametrize("upper", [True, False])
def test_the_skin_is_the_outer_half_millimetre(upper: bool) -> None:
    z = node_positions(0.01, 22, 0.95)
    full_at_top = np.where(z > 0.005, 400.0, 0.0) * control_volumes(z)
    share = skin_share(0.01, 400.0, full_at_top[None, :], upper)
    assert share == pytest.approx(1.0 if upper else 0.0, abs=1e-9)
