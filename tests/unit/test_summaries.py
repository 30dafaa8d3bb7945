"""Summaries of weighing series: known truths come back, laws of scale hold, doubts are said."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bibula.evidence.drying_summaries import compare_drying_curves, drying_periods, rate_periods
from bibula.evidence.moisture_content import moisture_content
from bibula.evidence.saturation import saturation
from bibula.evidence.summaries import (
    absorption_coefficient,
    cobb_value,
    initial_rate,
    sorptivity_c1585,
)
from bibula.formulas.drying_curves import constant_then_falling, midilli, page
from bibula.quantities.errors import InputError

AREA = 0.01
T = np.array([0.0, 5, 10, 15, 20, 30, 40, 50, 60, 90, 120, 180, 240, 300])
HOURS = np.linspace(0.0, 10.0, 30) * 3600.0


def root_uptake(a_w, t=T, area=AREA, dry=0.2):
    return dry + area * a_w * np.sqrt(t)


def two_piece(t=HOURS, area=AREA, rate=4e-5, knee_h=3.0, knee_water=0.3, end=0.5):
    start = rate * knee_h * 3600 + knee_water
    return area * (end + constant_then_falling(t, start, knee_water, 0.0, rate))


@settings(max_examples=20, deadline=None)
@given(a_w=st.floats(1e-3, 3.0), factor=st.floats(0.1, 10.0))
def test_absorption_is_recovered_and_falls_with_the_area(a_w, factor):
    one = absorption_coefficient(T, root_uptake(a_w), AREA)
    other = absorption_coefficient(T, root_uptake(a_w), factor * AREA)
    assert one.kind == "A"
    assert one.value == pytest.approx(a_w, rel=1e-6)
    assert other.value == pytest.approx(one.value / factor, rel=1e-9)


@settings(max_examples=20, deadline=None)
@given(factor=st.floats(0.01, 100.0))
def test_absorption_falls_with_the_root_of_the_time_unit(factor):
    one = absorption_coefficient(T, root_uptake(0.4), AREA)
    other = absorption_coefficient(T * factor, root_uptake(0.4), AREA)
    assert other.value == pytest.approx(one.value / math.sqrt(factor), rel=1e-9)


def test_intercept_is_not_forced_through_zero():
    m = root_uptake(0.4)
    m[1:] += 0.05 * AREA
    found = absorption_coefficient(T, m, AREA)
    assert found.value == pytest.approx(0.4)
    assert found.intercept_kg_m2 == pytest.approx(0.05)


def test_absorption_interval_covers_the_truth_as_often_as_it_says():
    rng = np.random.default_rng(11)
    hits = 0
    for _ in range(200):
        found = absorption_coefficient(T, root_uptake(0.4) + rng.normal(0, 2e-4, T.size) * (T > 0), AREA, kind="A")
        hits += found.low <= 0.4 <= found.high
    assert 180 <= hits <= 198


def test_full_piece_bends_the_line_and_is_type_b():
    m = 0.2 + AREA * np.minimum(0.5 * np.sqrt(T), 3.5)  # full at 49 s
    found = absorption_coefficient(T, m, AREA)
    assert found.kind == "B"
    assert found.kink_s == pytest.approx(49.0, rel=0.15)
    assert found.value == pytest.approx(3.5 / math.sqrt(300.0))
    assert math.isnan(found.u)
    before = absorption_coefficient(T, m, AREA, end_s=found.kink_s)
    assert (before.kind, before.value) == ("A", pytest.approx(0.5, rel=1e-3))


def test_unknown_type_is_refused():
    with pytest.raises(InputError, match="no type 'C'"):
        absorption_coefficient(T, root_uptake(0.4), AREA, kind="C")


def test_type_b_from_one_reading():
    found = absorption_coefficient([0.0, 86400.0], [0.2, 0.23], AREA, kind="B")
    assert found.value == pytest.approx(3.0 / 293.9388, rel=1e-6)


def test_short_series_is_told_from_the_standards_day():
    assert any("24 h" in w for w in absorption_coefficient(T, root_uptake(0.4), AREA).warnings)
    day = np.array([0.0, 300, 1200, 3600, 7200, 14400, 28800, 86400])
    assert absorption_coefficient(day, root_uptake(0.01, day), AREA).warnings == ()


def test_sorptivity_is_absorption_over_water_density():
    t = np.array([0.0, 60, 300, 600, 1200, 1800, 3600, 7200, 14400, 21600, 90000, 3e5, 6e5])
    early = sorptivity_c1585(t, root_uptake(0.02, t), AREA)
    late = sorptivity_c1585(t, root_uptake(0.02, t), AREA, secondary=True)
    assert early.value == pytest.approx(2e-5)
    assert late.value == pytest.approx(2e-5)
    assert (early.n, late.n) == (9, 3)


def test_scattered_sorptivity_is_not_determinable():
    t = np.array([0.0, 60, 300, 1200, 3600, 21600])
    m = np.array([0.2, 0.21, 0.25, 0.22, 0.26, 0.24])
    assert any("0.98" in w for w in sorptivity_c1585(t, m, AREA).warnings)


def test_cobb_of_a_sheet_and_of_a_blotter():
    t, m = np.array([0.0, 60.0]), np.array([1e-3, 1.245e-3])
    sheet = cobb_value(t, m, AREA, balance_u_kg=1e-6)
    assert sheet.value == pytest.approx(0.0245)
    assert sheet.u == pytest.approx(math.sqrt(2) * 1e-4)
    assert sheet.warnings == ()
    assert cobb_value(t, m, AREA, kind="blotter").warnings
    assert cobb_value(t, m, AREA, grammage_kg_m2=0.045).warnings
    with pytest.raises(InputError, match="no reading near 300 s"):
        cobb_value(t, m, AREA, test_time_s=300.0)


@settings(max_examples=10, deadline=None)
@given(capacity=st.floats(0.1, 20.0), half=st.floats(10.0, 60.0), n=st.floats(0.5, 1.3), factor=st.floats(0.2, 5.0))
def test_saturation_is_recovered_without_noise(capacity, half, n, factor):
    m = 0.2 + AREA * capacity * (1.0 - 2.0 ** -((T / half) ** n))
    one = saturation(T, m, AREA, profile=False)
    assert one.capacity.value == pytest.approx(capacity, rel=1e-4)
    assert one.half_time.value == pytest.approx(half, rel=1e-4)
    assert one.exponent.value == pytest.approx(n, rel=1e-4)
    assert saturation(T, m, AREA * factor, profile=False).capacity.value == pytest.approx(capacity / factor, rel=1e-4)


def test_saturation_interval_covers_the_truth():
    rng = np.random.default_rng(5)
    clean = AREA * 5.0 * (1.0 - 2.0 ** -((T / 28.0) ** 0.8))
    hits = 0
    for _ in range(24):
        found = saturation(T, 0.2 + clean + rng.normal(0, 2e-4, T.size) * (T > 0), AREA)
        hits += found.half_time.low <= 28.0 <= found.half_time.high
        assert found.half_time.low < found.half_time.value < found.half_time.high
    assert 19 <= hits <= 24


def test_unfinished_filling_is_said():
    m = 0.2 + AREA * 5.0 * (1.0 - np.exp(-T / 400.0))
    assert any("weigh longer" in w for w in saturation(T, m, AREA, profile=False).capacity.warnings)


def test_exponent_can_be_held():
    m = 0.2 + AREA * 5.0 * (1.0 - np.exp(-T / 40.0))
    held = saturation(T, m, AREA, exponent=1.0, profile=False)
    assert (held.exponent.value, held.exponent.method) == (1.0, "held")
    assert held.capacity.value == pytest.approx(5.0)
    assert held.half_time.value == pytest.approx(40.0 * math.log(2.0))
    with pytest.raises(InputError, match="exponent"):
        saturation(T, m, AREA, exponent=9.0)


def test_given_balance_uncertainty_sets_the_error():
    m = 0.2 + AREA * 5.0 * (1.0 - np.exp(-T / 40.0))
    fine, coarse = (saturation(T, m, AREA, balance_u_kg=u, profile=False) for u in (1e-5, 1e-4))
    assert coarse.capacity.u == pytest.approx(10.0 * fine.capacity.u, rel=1e-3)
    assert fine.capacity.u > 0.0


@settings(max_examples=20, deadline=None)
@given(dry=st.floats(1e-6, 1.0), x=st.floats(0.0, 3.0), scale=st.floats(0.1, 10.0))
def test_moisture_contents_of_both_bases_belong_together(dry, x, scale):
    on_dry = moisture_content(dry * (1 + x), dry, 1e-4 * dry)
    on_wet = moisture_content(dry * (1 + x), dry, 1e-4 * dry, "wet")
    assert on_dry.value == pytest.approx(x, abs=1e-9)
    assert on_wet.value == pytest.approx(x / (1 + x), abs=1e-9)
    again = moisture_content(scale * dry * (1 + x), scale * dry, 1e-4 * scale * dry)
    assert (again.value, again.u) == pytest.approx((on_dry.value, on_dry.u), abs=1e-9)


def test_moisture_content_below_zero_is_refused():
    with pytest.raises(InputError, match="below the dry mass"):
        moisture_content(0.9, 1.0)


def test_initial_rate_linear_and_quadratic():
    t = np.linspace(0.0, 50.0, 8)
    line = initial_rate(t, 0.5 - AREA * 2e-3 * t, AREA)
    bent = initial_rate(t, 0.5 - AREA * (2e-3 * t - 1e-5 * t**2), AREA)
    assert line.value == pytest.approx(-2e-3)
    assert bent.value == pytest.approx(-2e-3)
    assert line.method.startswith("linear")
    assert bent.method.startswith("quadratic")
    assert initial_rate(t * 60.0, 0.5 - AREA * 2e-3 * t, 2 * AREA).value == pytest.approx(-2e-3 / 120.0)


@settings(max_examples=8, deadline=None)
@given(rate=st.floats(1e-5, 1e-4), knee_h=st.floats(1.5, 5.0), water=st.floats(0.1, 0.5))
def test_drying_periods_are_recovered_without_noise(rate, knee_h, water):
    found = drying_periods(HOURS, two_piece(rate=rate, knee_h=knee_h, knee_water=water), AREA, profile=False)
    assert found.rate.value == pytest.approx(rate, rel=1e-4)
    assert found.knee_time.value == pytest.approx(knee_h * 3600, rel=1e-3)
    assert found.knee_water.value == pytest.approx(water, rel=1e-3)
    assert found.better_than_exponential > 10.0


def test_drying_knee_interval_covers_the_truth():
    rng = np.random.default_rng(2)
    hits = 0
    for _ in range(16):
        found = drying_periods(HOURS, two_piece() + rng.normal(0, 3e-5, HOURS.size), AREA, resolution_kg=1e-5)
        hits += found.knee_time.low <= 3 * 3600 <= found.knee_time.high
        assert found.rms_over_resolution == pytest.approx(found.rms_kg / 1e-5)
    assert 12 <= hits <= 16


def test_doubling_the_area_halves_rate_and_water_but_not_the_time():
    one = drying_periods(HOURS, two_piece(), AREA, profile=False)
    two = drying_periods(HOURS, two_piece(), 2 * AREA, profile=False)
    assert two.rate.value == pytest.approx(one.rate.value / 2, rel=1e-5)
    assert two.knee_mass.value == pytest.approx(one.knee_mass.value / 2, rel=1e-5)
    assert two.knee_time.value == pytest.approx(one.knee_time.value, rel=1e-5)


def test_critical_content_is_the_knee_over_the_dry_mass():
    noisy = two_piece() + np.random.default_rng(3).normal(0, 1e-5, HOURS.size)
    found = drying_periods(HOURS, noisy, AREA, dry_mass_kg=0.45 * AREA, profile=False)
    assert found.critical_content.value == pytest.approx((0.8 - 0.45) / 0.45, rel=0.02)
    assert found.critical_content.u == pytest.approx(found.knee_mass.u / 0.45)
    assert found.critical_content.low < (0.8 - 0.45) / 0.45 < found.critical_content.high
    assert drying_periods(HOURS, noisy, AREA, profile=False).critical_content is None


def test_start_of_the_clock_does_not_matter():
    one = drying_periods(HOURS, two_piece(), AREA, profile=False)
    later = drying_periods(HOURS + 1e6, two_piece(), AREA, profile=False)
    assert later.knee_time.value == pytest.approx(one.knee_time.value, rel=1e-4)


def test_pure_exponential_shows_no_constant_rate():
    m = AREA * (0.5 + 0.8 * np.exp(-HOURS / 9000.0)) + np.random.default_rng(0).normal(0, 1e-5, HOURS.size)
    found = drying_periods(HOURS, m, AREA, profile=False)
    assert found.better_than_exponential < 10.0
    assert any("not shown" in w for w in found.warnings)


def test_slow_loss_is_told_apart_from_the_fall():
    m = two_piece(rate=3e-5) - AREA * 1e-6 * HOURS
    found = drying_periods(HOURS, m, AREA, slow_loss=True, profile=False)
    assert found.fit["slow_rate"] == pytest.approx(1e-6, rel=1e-3)
    assert found.rate.value == pytest.approx(3.1e-5, rel=1e-4)
    assert found.end_mass.value == pytest.approx(0.5, rel=1e-4)


def test_rate_knee_is_recovered_in_any_unit():
    t = np.linspace(0, 100.0, 41)
    y = np.where(t < 40, 5.0, 0.5 + 4.5 * np.exp(-(t - 40) / 12.0))
    for unit in (1.0, 1e-8):
        found = rate_periods(t, unit * y)
        assert found.knee_time.value == pytest.approx(40.0, rel=1e-3)
        assert found.plateau.value == pytest.approx(5.0 * unit, rel=1e-4)
        assert found.decay_time.value == pytest.approx(12.0, rel=1e-3)
        assert found.rest.value == pytest.approx(0.5 * unit, rel=1e-3)


def test_a_rate_that_never_falls_has_no_knee():
    with pytest.raises(InputError, match="no knee"):
        rate_periods(np.arange(10.0), np.ones(10))


def test_the_true_drying_curve_wins():
    rng = np.random.default_rng(4)
    t = np.linspace(0, 36000.0, 40)
    for name, clean in (("Page", page(t, 2e-5, 1.2)), ("Midilli", midilli(t, 0.95, 2e-5, 1.2, -3e-6))):
        best = compare_drying_curves(t, clean + rng.normal(0, 1e-3, t.size))
        assert best[0].name == name
        assert sum(c.weight for c in best) == pytest.approx(1.0)


def test_the_simplest_curve_wins_where_it_is_enough():
    t = np.linspace(0, 36000.0, 40)
    best = compare_drying_curves(t, page(t, 2e-4, 1.0) + np.random.default_rng(1).normal(0, 5e-3, t.size))
    assert best[0].name == "Lewis"
    assert best[0].result["half_time"] == pytest.approx(math.log(2) / 2e-4, rel=0.02)


@pytest.mark.parametrize(
    ("times", "masses", "area", "said"),
    [
        ([0.0, 5.0, 5.0, 9.0, 12.0, 15.0], [1.0] * 6, AREA, "do not rise"),
        ([0.0, 1.0], [1.0, 2.0], AREA, "at least"),
        ([0.0, 1.0, 2.0, 3.0, 4.0, 5.0], [1.0] * 5 + [math.nan], AREA, "numbers"),
        (list(range(6)), [1.0] * 6, 0.0, "area"),
        ([1.0, 2.0, 3.0, 4.0, 5.0, 6.0], [1.0, 2.0, 3.0, 4.0, 5.0, 6.0], AREA, "time 0"),
        (list(range(6)), [1.0, 0.9, 0.8, 0.7, 0.6, 0.5], AREA, "gained no water"),
    ],
)
def test_nonsense_gets_one_sentence(times, masses, area, said):
    with pytest.raises(InputError, match=said):
        absorption_coefficient(times, masses, area)
