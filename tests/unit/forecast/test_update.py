"""Correcting a forecast: vectors, no information, exact information, refusals, the doubt test."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from bench_plans import NET, OBJECT, SLAB, cards, ensemble, laid, middle, plan, rack, stage
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import kstest

from bibula.forecast.doubt import doubt, predictions
from bibula.forecast.draws import members
from bibula.forecast.forecast import starting_water
from bibula.forecast.observations import Observation, layer_key, observe, uncertainties
from bibula.forecast.simulate import simulate
from bibula.forecast.update import (
    assimilate,
    coordinates,
    from_vector,
    informed,
    to_vector,
    update_forecast,
)
from bibula.quantities.errors import InputError

HOUR = 3600.0
PLAN = rack("3 h")
N = 40


@cache
def prior():
    return ensemble(PLAN, N)


def weight(hours: float, value: float = 0.05, u: float = 4e-4) -> Observation:
    return Observation(hours * HOUR, "object weight", value, u)


def spread_at(run, hours: float) -> float:
    return float(np.std([np.interp(hours * HOUR, t.times_s, t.water) for t in run.traces]))


def median_at(run, hours: float) -> float:
    return float(np.median([np.interp(hours * HOUR, t.times_s, t.water) for t in run.traces]))


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.integers(0, N - 1), st.floats(-0.2, 0.2), st.floats(0.5, 2.0))
def test_numbers_survive_the_way_to_a_vector_and_back(i: int, shift: float, factor: float) -> None:
    numbers = replace(prior().numbers[i], room_shift_rh=shift, surface_factor=factor)
    names = coordinates(prior().laid, numbers)
    back = from_vector(names, to_vector(names, numbers), numbers)
    assert back.room_shift_rh == pytest.approx(shift)
    assert back.water_content == pytest.approx(numbers.water_content)
    assert {k: dict(v) for k, v in back.cards.items()} == {
        k: {p: pytest.approx(x) for p, x in v.items()} for k, v in numbers.cards.items()
    }


@settings(max_examples=10, deadline=None, derandomize=True)
@given(st.floats(-50.0, 50.0))
def test_a_vector_far_out_stays_within_every_range(step: float) -> None:
    numbers = prior().numbers[0]
    names = coordinates(prior().laid, numbers)
    moved = from_vector(names, to_vector(names, numbers) + step, numbers)
    again = to_vector(names, moved)
    values = [float(np.exp(x)) if c.log else float(x) for c, x in zip(names, again, strict=True)]
    small = [1e-9 * max(abs(c.low), abs(c.high)) for c in names]
    assert all(c.low - s <= v <= c.high + s for c, v, s in zip(names, values, small, strict=True))


def test_an_observation_that_says_nothing_changes_nothing() -> None:
    after = assimilate(prior(), [weight(1.0, u=1e3)], 1)
    assert median_at(after, 1.0) == pytest.approx(median_at(prior(), 1.0), rel=1e-3)
    assert informed(prior(), after) == ()


def test_an_exact_weight_pulls_the_median_to_it() -> None:
    told = median_at(prior(), 1.0) + 1.0 * spread_at(prior(), 1.0)
    after = assimilate(prior(), [weight(1.0, told, 1e-4)], 1)
    assert abs(median_at(after, 1.0) - told) < 0.2 * abs(median_at(prior(), 1.0) - told)


def test_the_corrected_nominal_member_is_corrected_too() -> None:
    told = median_at(prior(), 1.0) + 1.0 * spread_at(prior(), 1.0)
    after = assimilate(prior(), [weight(1.0, told, 1e-4)], 1)
    before, now = (float(np.interp(HOUR, r.nominal.times_s, r.nominal.water)) for r in (prior(), after))
    assert abs(now - told) < 0.3 * abs(before - told)


@pytest.mark.parametrize("kind", ["object weight", "surface temperature"])
def test_a_corrected_band_is_not_wider(kind: str) -> None:
    o = Observation(0.75 * HOUR, kind, 0.0, 4e-4 if kind == "object weight" else 0.5)
    seen = replace(o, value=float(np.median(predictions(prior(), [o]))))
    after = assimilate(prior(), [seen], 1)
    assert spread_at(after, 0.75) < 1.02 * spread_at(prior(), 0.75)


def test_a_weight_informs_numbers_and_says_which() -> None:
    found = informed(prior(), assimilate(prior(), [weight(1.0, median_at(prior(), 1.0), 1e-4)], 1))
    assert any("exchange with the air" in x.name for x in found)
    assert all(x.after.high - x.after.low < x.before.high - x.before.low for x in found)


def test_update_forecast_carries_weights_and_doubts() -> None:
    wrong = update_forecast(PLAN, cards(), [weight(1.0, 0.17)], members=24)
    assert not wrong.fits
    assert any("does not fit the model as told" in w for w in wrong.forecast.warnings)
    assert wrong.forecast.observations == ((HOUR, 170.0, "object weight"),)
    assert wrong.residuals[0][0] == "object weight at 1.00 h"


@pytest.mark.parametrize(
    ("seen", "said"),
    [
        ([], "no observation"),
        ([weight(5.0)], "observation 1 is at 5.00 h, outside the plan's 3.00 h"),
        ([weight(1.0), weight(-0.1)], "observation 2 is at -0.10 h"),
        ([weight(1.0, u=0.0)], "no uncertainty above zero"),
        ([weight(1.0, float("nan"))], "observation 1"),
    ],
)
def test_observations_that_cannot_be_are_refused(seen: list[Observation], said: str) -> None:
    with pytest.raises(InputError, match=said):
        update_forecast(PLAN, cards(), seen, members=20)


def test_layers_are_found_by_key_or_name_and_doubtful_names_refused() -> None:
    a_laid = laid(plan(stage({"card": SLAB}, NET, OBJECT), stage({"card": SLAB, "id": "s2"}, OBJECT)))
    assert layer_key(a_laid, "s2") == "s2"
    with pytest.raises(InputError, match="several layers are called 'slab'"):
        layer_key(a_laid, "slab")
    with pytest.raises(InputError, match="no layer of the plan is called 'moss'"):
        layer_key(a_laid, "moss")


def test_a_pulled_absorbent_is_weighed_by_what_it_gained() -> None:
    a_laid = laid(plan(stage({"card": SLAB, "id": "s"}, NET, OBJECT), stage(OBJECT)))
    numbers = middle(a_laid)
    trace = simulate(a_laid, numbers)
    o = Observation(HOUR, "absorbent weight", 0.0, 1e-3, "s")
    kept = trace.layers["s"][np.isfinite(trace.layers["s"])]
    assert observe(a_laid, numbers, trace, [o])[0] == pytest.approx(kept[-1] - kept[0])


def test_surface_temperature_is_against_a_dry_reference_in_the_logged_room() -> None:
    log = np.array([[0.0, 18.0, 0.5], [HOUR, 24.0, 0.5]])
    a_laid = laid(plan(stage(OBJECT, name="a"), stage(OBJECT, name="a")), logger=log)
    numbers = middle(a_laid)
    trace = simulate(a_laid, numbers)
    o = Observation(0.75 * HOUR, "surface temperature", 0.0, 0.5)
    assert observe(a_laid, numbers, trace, [o])[0] == pytest.approx(
        float(np.interp(o.time_s, trace.times_s, trace.surface_c)) - 22.5
    )


def test_doubt_p_values_are_uniform_where_the_model_is_true() -> None:
    told = [weight(h) for h in (0.25, 0.75, 1.5, 3.0)]
    a_laid = prior().laid
    rng = np.random.default_rng(4)
    p = []
    for numbers in members(a_laid, starting_water(a_laid), 40, 99):
        noted = observe(a_laid, numbers, simulate(a_laid, numbers), told) + rng.normal(size=4) * uncertainties(told)
        p.append(doubt(prior(), [replace(o, value=v) for o, v in zip(told, noted, strict=True)], 1)[1])
    assert kstest(p, "uniform").pvalue > 0.01


def test_doubt_notices_a_weight_that_cannot_be() -> None:
    fits, p, distance = doubt(prior(), [weight(1.0, median_at(prior(), 1.0) + 8 * spread_at(prior(), 1.0))], 1)
    assert (fits, p) == (False, pytest.approx(1 / (N + 1)))
    assert distance > 30.0
