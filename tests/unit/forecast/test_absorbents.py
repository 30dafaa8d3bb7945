"""What absorbents took, when to change them, when a face is ready again; the night; the mould clock of a run."""

from __future__ import annotations

import math

import pytest
from bench_plans import BLOTTER, FELT, NET, OBJECT, SLAB, ensemble, plan, stage, template, thing

from bibula.forecast import absorbents
from bibula.forecast.forecast import assemble, mould_hours
from bibula.forecast.overnight import answer

NET2 = {**NET, "id": "n2"}
SEALED = {"above": "board"}
N = 8


def used(a_plan):
    return absorbents.uses(ensemble(a_plan, N))


def between(card: str, duration: str, pieces: int = 1, **more):
    sides = {"card": card, "pieces": pieces}
    return plan(stage(sides, NET, OBJECT, NET2, sides, duration=duration, **SEALED), **more)


def test_what_a_closed_stack_takes_is_what_the_sheet_gives() -> None:
    run = ensemble(between(BLOTTER, "4 h", 2), N)
    taken = sum(u.taken_g_m2.median for u in absorbents.uses(run))
    given = run.estimate(lambda t: 1000.0 * float(t.water[0] - t.water[-1])).median
    assert taken == pytest.approx(given, rel=0.05)


def test_between_slabs_no_change_is_needed() -> None:
    assert [u.advice.split(":")[0] for u in used(between(SLAB, "6 h"))] == ["no change needed"] * 2


def test_thin_blotters_fill_and_must_be_changed() -> None:
    thin = plan(stage({"card": BLOTTER, "thickness_mm": 0.1, "start_water_g": 9.0}, OBJECT, duration="2 h", **SEALED))
    (use,) = used(thin)
    assert use.fill.median > 0.8
    assert use.near_full_s is not None
    assert "near full" in use.advice


def test_a_stack_that_shares_its_water_must_be_changed() -> None:
    heavy = thing(grammage_g_m2=300.0, thickness_mm=0.5)
    assert all("share their water" in u.advice for u in used(between(BLOTTER, "12 h", object_=heavy)))


def test_a_slab_says_when_its_face_is_ready_again_and_a_blotter_does_not() -> None:
    slab, blotter = used(plan(stage({"card": SLAB}, NET, OBJECT, NET2, {"card": BLOTTER})))
    assert slab.ready_touch_s is not None
    assert slab.ready_weight_s is not None
    assert 0.0 <= slab.ready_touch_s.median < math.inf
    assert blotter.ready_touch_s is None


def test_a_used_face_recovers_the_same_whichever_face_it_is() -> None:
    a, b = (used(plan(stage({"card": SLAB, "face": face, "start_rh_percent": 99.0}, NET, OBJECT)))[0] for face in "AB")
    assert a.ready_touch_s == b.ready_touch_s
    assert a.ready_weight_s == b.ready_weight_s


def night(a_plan) -> str:
    return assemble(ensemble(a_plan, N), ()).overnight


def test_short_stages_cannot_be_left_overnight() -> None:
    assert night(between(BLOTTER, "4 h")).startswith("Not as planned: no stage is long enough")


def test_a_quiet_night_under_restraint_is_said() -> None:
    assert night(template("blotters")).startswith("Yes, from 6.0 h on, in stage 'overnight'")


def test_a_free_wet_sheet_is_left_only_with_care() -> None:
    assert "it can still cockle" in night(plan(stage(NET, OBJECT, duration="16 h", below="rack")))


def test_absorbents_that_fill_are_named_for_the_night() -> None:
    run = ensemble(
        plan(stage({"card": BLOTTER, "thickness_mm": 0.1, "start_water_g": 9.0}, OBJECT, duration="16 h", **SEALED)), N
    )
    said = answer(run, assemble(run, ()).milestones, absorbents.uses(run), ())
    assert "blotter may be near full: change it before leaving" in said


def test_a_wet_felt_under_a_board_runs_the_mould_clock() -> None:
    soaked = {"card": FELT, "start_water_g": 150.0}
    run = ensemble(plan(stage(soaked, OBJECT, duration="3 d", **SEALED)), N)
    hours = dict(mould_hours(run))
    assert hours["felt (below)"].median == pytest.approx(72.0, abs=1.0)
    assert {"stop"} == {c.level for c in assemble(run, ()).cautions}


def test_the_mould_clock_tells_like_pieces_apart() -> None:
    names = [name for name, _ in mould_hours(ensemble(template("blotters"), 4))]
    assert len(names) == len(set(names))
    assert any("(below, " in name and "2 x blotter" in name for name in names)
