"""The contents say what the forecast says, in the order a bench needs."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from sample_forecast import HOUR, large, sample

from bibula.quantities.caution import Caution
from bibula.quantities.values import Estimate
from bibula.report.contents import INVENTED, contents
from bibula.report.curves import charts, table_times, time_panels, window
from bibula.report.numbers import forecast_json
from bibula.report.summary import summary


def test_cautions_come_worst_first():
    assert [k.level for k in contents(sample()).cautions] == ["stop", "override", "caution", "caution", "note"]


def test_a_caution_set_aside_says_why():
    assert any("lost before this treatment" in k.overridden for k in contents(sample()).cautions)


def test_what_waits_for_an_override_says_so():
    held = next(k for k in contents(sample()).cautions if k.level == "override")
    assert held.word == "OVERRIDE NEEDED"
    assert "until a good test or a recorded override" in held.overridden


def test_invented_is_said_and_only_then():
    assert contents(sample()).invented == INVENTED
    assert contents(sample(invented=False)).invented == ""


def test_milestones_show_time_band_rule_and_origin():
    row = contents(sample()).milestones[1]
    assert (row.mark, row.label, row.when, row.band) == ("B", "window closes", "about 40 min", "25 to 55 min")
    assert (row.rule, row.origin) == ("moisture at or below 59 % of dry mass (63 % solids)", "Sugarman1992")


def test_a_milestone_some_runs_never_reach_says_in_how_many():
    rows = {m.label: m for m in contents(sample()).milestones}
    assert rows["in balance with the room"].reached == "not reached in 10 % of runs"
    assert rows["release"].when == "not within the plan"
    assert rows["sheen gone"].reached == ""


@pytest.mark.parametrize(
    ("share", "words"),
    [(0.0, "not reached in any run"), (0.999, "not reached in 1 % of runs"), (0.001, "not reached in 99 % of runs")],
)
def test_a_share_never_rounds_to_all_or_none(share, words):
    base = sample()
    rare = tuple(replace(m, reached=share) if m.key == "release" else m for m in base.milestones)
    assert contents(replace(base, milestones=rare)).milestones[-1].reached == words


def test_steps_are_in_order_and_name_the_change():
    steps = contents(sample()).steps
    assert [s.when for s in steps] == ["0:00", "watch", "0:20", "2:00", "24:00"]
    assert "From the table up: acrylic board (6.0 mm) · Marl slab, lot 2 (9.0 mm)" in steps[0].details[0]
    assert steps[3].details[0] == "Take out cotton blotter. Put in wool felt."
    assert "cotton blotter: change at 0:20" in steps[0].details


def test_the_sure_part_of_the_window_is_latest_opening_to_earliest_closing():
    assert contents(sample()).headline[0].origin == "open in 95 % of runs: 7 min to 25 min"


def test_overlapping_bands_leave_no_sure_part():
    base = sample()
    wide = tuple(replace(m, low_s=60.0) if m.key == "window_closes" else m for m in base.milestones)
    assert "bands overlap" in contents(replace(base, milestones=wide)).headline[0].origin


def test_a_window_that_never_closes_in_the_plan_is_not_called_sure():
    base = sample()
    never = tuple(
        replace(m, time_s=None, low_s=None, high_s=None) if m.key == "window_closes" else m for m in base.milestones
    )
    text = contents(replace(base, milestones=never)).window
    assert "not within the plan" in text
    assert "go by what you see" in text


def test_a_forecast_without_a_window_has_none():
    base = sample()
    rest = tuple(m for m in base.milestones if m.key not in ("sheen_gone", "window_closes"))
    bare = replace(base, milestones=rest)
    assert window(bare) is None
    assert contents(bare).window == ""
    assert all(not s.watch for s in contents(bare).steps)


def test_slab_cautions_need_a_slab():
    base = sample()
    assert any("silica" in s for s in contents(base).safety)
    bare = replace(base, pictures=(), absorbents=tuple(a for a in base.absorbents if a.kind != "slab"))
    assert not any("silica" in s for s in contents(bare).safety)


def test_what_a_caution_says_is_not_said_again():
    base = sample()
    dust = Caution("note", "Dust holds crystalline silica. Ask for an asbestos declaration.", "slab", "", rule="dust")
    said = contents(replace(base, cautions=(dust,))).safety
    assert any("alkaline" in s for s in said)
    assert not any("silica" in s or "asbestos" in s for s in said)


def test_a_note_that_says_no_more_than_the_first_line_is_left_out():
    advice = Caution("note", "A plan is advice.", "every plan", "", rule="responsible")
    assert contents(replace(sample(), cautions=(advice,))).cautions == ()


def test_the_mould_clock_names_only_what_stays_damp():
    dry = ("felt", Estimate(0.0, 0.0, 0.4, "h"))
    one = replace(sample(), mould_hours=(("object", Estimate(3.0, 0.0, 5.0, "h")), dry))
    rows = {r.name: r.value for r in contents(one).conditions}
    assert rows["mould clock"] == "object 3 h (0 to 5 h), all others dry enough"
    none = {r.name: r.value for r in contents(replace(one, mould_hours=(dry,))).conditions}
    assert none["mould clock"] == "everything dry enough within half an hour"


def test_a_face_ready_at_once_or_never_says_so():
    base = sample()
    never = Estimate(0.0, 0.0, math.inf, "s")
    late = Estimate(5 * HOUR, 3 * HOUR, math.inf, "s")
    used = (replace(base.absorbents[0], ready_touch_s=never, ready_weight_s=late),)
    row = contents(replace(base, absorbents=used)).absorbents[0]
    assert row.dry == "at once (its water has gone inward: no release by itself), in some runs not within 3 days"
    assert row.ready == "within 5 h in half of the runs, in some not within 3 days"
    assert "not known" not in summary(replace(base, absorbents=used))


def test_an_absorbent_has_its_stage_number_and_its_side_where_two_share_a_name():
    base = sample()
    twice = tuple(replace(base.absorbents[1], side=side) for side in ("below", "above"))
    rows = contents(replace(base, absorbents=twice)).absorbents
    assert [(r.number, r.layer) for r in rows] == [("1", "cotton blotter (below)"), ("1", "cotton blotter (above)")]
    assert contents(base).absorbents[2].change == "no"


def test_what_hands_do_stands_in_the_step():
    told = replace(sample(), moves=(("On top: board.",), ("Put in fresh cotton blotter.",), ("No weight.",)))
    steps = contents(told).steps
    assert "On top: board." in steps[0].details
    assert steps[2].details[0] == "Put in fresh cotton blotter."


def test_a_key_of_a_source_becomes_a_reference_and_other_text_stays():
    cited = contents(replace(sample(), citations=("Sugarman1992", "my notebook"))).citations
    assert cited[0].work.startswith("[Sugarman1992] Sugarman, Jane E.; Vitale, Timothy J. (1992). Observations on")
    assert "31(2), 175–197." in cited[0].place
    assert str(cited[1]) == "my notebook"


def test_the_sheet_defers_to_local_rules():
    assert contents(sample()).defer.startswith("Local rules and the conservator responsible")


def test_inch_shows_inches_and_fahrenheit():
    c = contents(sample(), "inch")
    assert "(0.35 in)" in c.steps[0].details[0]
    assert any(r.value.endswith("°F") for r in c.conditions)


def test_inputs_and_budget_pass_through_untouched():
    f, c = sample(), contents(sample())
    assert [(r.name, r.value, r.origin) for r in c.inputs] == [(x.name, x.value, x.origin) for x in f.inputs]
    assert [(r.name, r.value, r.origin) for r in c.water] == [(x.name, x.value, x.origin) for x in f.water_budget_g_m2]


def test_curves_are_the_forecasts_own():
    f = sample()
    water, moisture, temperature = charts(f)
    np.testing.assert_array_equal(water.lines[0].y, f.sheet_water_g_m2.median)
    np.testing.assert_array_equal(water.lines[0].low, f.sheet_water_g_m2.low)
    np.testing.assert_allclose(moisture.lines[1].y, 100.0 * f.sheet_solids.median)
    np.testing.assert_array_equal(temperature.lines[0].high, f.surface_temperature_c.high)
    assert water.points[0].y == (151.0, 88.0, 41.0)


def test_the_data_table_holds_the_forecasts_numbers():
    f = sample()
    table = charts(f)[0].table
    last = table_times(f)[-1]
    assert table[-1] == ("24 h", f"{f.sheet_water_g_m2.median[last]:.0f} (7 to 10)")


def test_early_minutes_get_their_own_panel_when_the_water_leaves_early():
    panels = time_panels(sample())
    assert [(p.unit, p.end_s) for p in panels] == [("min", 1800.0), ("h", 24 * HOUR)]


def test_a_slow_sheet_gets_one_panel():
    f = sample()
    slow = np.linspace(200.0, 50.0, len(f.times_s))
    assert len(time_panels(replace(f, sheet_water_g_m2=replace(f.sheet_water_g_m2, median=slow)))) == 1


def test_attached_numbers_are_the_forecast_and_valid_json():
    f = sample()
    holed = replace(f, room_temperature_c=float("nan"))
    data = json.loads(forecast_json(holed))
    assert data["sheet_water_g_m2"]["median"] == f.sheet_water_g_m2.median.tolist()
    assert data["room_temperature_c"] is None
    assert data["milestones"][1]["time_s"] == 38 * 60


@pytest.mark.parametrize("width", [60, 92, 100])
@pytest.mark.parametrize("make", [sample, large])
def test_the_terminal_summary_keeps_its_width(make, width):
    assert max(len(line) for line in summary(make(), width=width).splitlines()) <= width


def test_the_terminal_summary_says_the_main_things():
    text = summary(sample())
    for words in (INVENTED, "STOP:", "about 40 min", "change at 0:20", "64 % (52 to 75 %)", "Yes: left alone"):
        assert words in text
