"""The one function everybody calls: what it refuses, carries, and hands over."""

from __future__ import annotations

import json
from functools import cache

import numpy as np
import pytest
from bench_plans import cards, rack, template, thing

from bibula.forecast.forecast import make_forecast
from bibula.forecast.milestones import RULES
from bibula.forecast.result import Forecast
from bibula.plan.model import Medium, Plan, Room
from bibula.quantities.errors import InputError, ValidityError
from bibula.report.numbers import forecast_json


@cache
def made(key: str) -> Forecast:
    dry = key.startswith("damp")
    return make_forecast(
        template(key, thing(start="air-dry" if dry else "drained")), cards(), members=20, made="2026-01-02"
    )


def test_every_word_of_the_forecast_is_there_with_its_origin() -> None:
    found = made("slab-felt").milestones
    assert [m.key for m in found] == [r.key for r in RULES]
    assert all(m.rule and m.origin for m in found)


def test_shares_of_the_two_sides_sum_to_one() -> None:
    f = made("slab-felt")
    assert f.leaves_by_recto.median + f.leaves_by_verso.median == pytest.approx(1.0)


def test_shares_of_a_damped_sheet_are_those_of_its_drying() -> None:
    f = made("damp-chamber")
    assert f.leaves_by_recto.median + f.leaves_by_verso.median == pytest.approx(1.0, abs=1e-6)
    assert 0.35 < f.leaves_by_recto.median < 0.65


def test_after_a_damp_chamber_the_window_is_at_once() -> None:
    words = {m.key: m for m in made("damp-chamber").milestones}
    assert words["window_opens"].time_s == words["window_closes"].time_s == pytest.approx(3 * 3600.0)
    assert words["balance_room"].time_s is None or words["balance_room"].time_s > 3 * 3600.0
    assert words["balance_stack"].time_s > 3 * 3600.0


def test_bands_have_one_value_per_time_in_order() -> None:
    f = made("slab-felt")
    for band in (f.sheet_water_g_m2, f.sheet_moisture, f.sheet_solids, f.surface_temperature_c):
        assert band.median.shape == f.times_s.shape
        assert ((band.low <= band.median) & (band.median <= band.high)).all()


def test_solids_are_the_other_side_of_moisture() -> None:
    """An odd number of members: the median is one of them, so the two are exactly each other's."""
    f = make_forecast(template("slab-felt", thing(start="drained")), cards(), members=21)
    assert f.sheet_solids.median == pytest.approx(1.0 / (1.0 + f.sheet_moisture.median), rel=1e-9)


def test_balances_of_all_members_close() -> None:
    assert max(made("blotters").balance_water, made("blotters").balance_energy) < 1e-8


def test_a_forecast_becomes_json() -> None:
    read = json.loads(forecast_json(made("slab-felt")))
    assert read["members"] == 20
    assert len(read["sheet_water_g_m2"]["median"]) == len(made("slab-felt").times_s)


def test_cautions_of_the_plan_are_carried() -> None:
    letter = thing(media=(Medium(what="iron-gall ink", where="both"),), start="air-dry")
    f = make_forecast(template("damp-chamber", letter), cards(), members=20)
    assert any(c.level == "stop" and "ink" in (c.text + c.why) for c in f.cautions)
    assert all(c.source for c in f.cautions)


def test_inputs_name_their_origins_and_invented_is_kept() -> None:
    f = made("slab-felt")
    assert all(line.origin for line in f.inputs)
    assert f.invented
    assert any("nothing weighed" in w for w in f.warnings)


def test_the_water_budget_adds_up() -> None:
    f = made("blotters")
    start, recto, verso, end = (float(line.value.split()[0]) for line in f.water_budget_g_m2[:4])
    assert start - recto - verso == pytest.approx(end, abs=3.0)


def test_sections_lie_within_the_plan_and_hold_the_object() -> None:
    for picture in made("slab-felt").pictures:
        assert 0.0 <= picture.time_s <= made("slab-felt").times_s[-1]
        assert sum(layer.is_object for layer in picture.layers) == 1


@pytest.mark.parametrize(
    ("temperature", "humidity", "said"),
    [(20.0, 3.0, "from 5 to 100 % RH"), (1.0, 10.0, "above 0 °C")],
)
def test_a_room_outside_the_model_is_refused_in_a_sentence(temperature: float, humidity: float, said: str) -> None:
    outside = rack(room=Room(temperature_c=temperature, relative_humidity_percent=humidity, u_temperature_k=0.1))
    with pytest.raises(ValidityError) as caught:
        make_forecast(outside, cards(), members=20)
    assert said in caught.value.sentence()
    assert caught.value.sentence().endswith(".")


def test_an_impossible_start_is_refused_in_a_sentence() -> None:
    flooded: Plan = rack(object_=thing(start={"state": "measured", "water_content": 25.0}))
    with pytest.raises(ValidityError, match="cannot hold") as caught:
        make_forecast(flooded, cards(), members=20)
    assert caught.value.mend


def test_an_unknown_card_is_refused() -> None:
    with pytest.raises(InputError, match="no such card"):
        make_forecast(rack(object_=thing(card="moss")), cards(), members=20)


def test_progress_is_told() -> None:
    told: list[tuple[int, int]] = []
    make_forecast(rack("30 min"), cards(), members=20, progress=lambda done, of: told.append((done, of)))
    assert told[-1] == (20, 20)
    assert np.all(np.diff([d for d, _ in told]) > 0)
