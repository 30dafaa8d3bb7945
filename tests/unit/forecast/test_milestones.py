"""The words of a forecast on made-up curves whose crossing times are known."""

from __future__ import annotations

import math

import numpy as np
import pytest
from bench_plans import made_up

from bibula.forecast.milestones import (
    drying_from,
    first_below,
    lasting_within,
    left_by,
    stack_balance,
    times_of,
    wet_hours,
)
from bibula.forecast.overnight import mould_cautions
from bibula.plan.goal import Goal, parse_goal
from bibula.quantities.values import Estimate

HOUR = 3600.0
T = np.linspace(0.0, 4 * HOUR, 241)
BALANCE = Goal("balance", 0.01)


def straight(start: float, end: float) -> np.ndarray:
    return start + (end - start) * T / T[-1]


def known(limit: float, start: float, end: float) -> float:
    return T[-1] * (start - limit) / (start - end)


def words(trace: object, goal: Goal = BALANCE, holding: float = 0.0) -> dict[str, float]:
    return times_of(trace, 1.0, goal, holding)


def test_crossings_are_interpolated() -> None:
    assert first_below(T, straight(1.0, 0.0), 0.305) == pytest.approx(known(0.305, 1.0, 0.0))


def test_never_is_infinite_and_already_is_the_start() -> None:
    assert math.isinf(first_below(T, straight(1.0, 0.5), 0.4))
    assert first_below(T, straight(0.3, 0.1), 0.4) == 0.0


def test_lasting_means_to_the_end() -> None:
    back = np.where(T < 2 * HOUR, straight(1.0, -1.0), 0.5)
    assert math.isinf(lasting_within(T, back, 0.2))
    assert lasting_within(T, straight(1.0, 0.0), 0.2) == pytest.approx(known(0.2, 1.0, 0.0))


def test_the_window_opens_with_the_sheen_and_closes_at_63_percent_solids() -> None:
    film = np.clip(straight(0.02, -0.06), 0.0, None)
    found = words(made_up(straight(1.3, 0.06), T, film=film))
    assert found["sheen_gone"] == pytest.approx(known(0.001, 0.02, -0.06), rel=1e-3)
    assert found["window_opens"] == found["sheen_gone"]
    assert found["window_closes"] == pytest.approx(known(0.587, 1.3, 0.06))


def test_handleable_and_balance_and_release() -> None:
    found = words(made_up(straight(1.3, 0.06), T), holding=HOUR)
    assert found["handleable"] == pytest.approx(known(0.35, 1.3, 0.06))
    assert found["balance_room"] == pytest.approx(known(0.07, 1.3, 0.06))
    assert found["release"] == pytest.approx(found["balance_room"] + HOUR)


@pytest.mark.parametrize(
    ("text", "limit"), [("10 % moisture", 0.10), ("handleable", 0.35), ("in balance within 2 % of dry mass", 0.08)]
)
def test_the_target_is_the_plans(text: str, limit: float) -> None:
    assert words(made_up(straight(1.3, 0.06), T), parse_goal(text))["target"] == pytest.approx(known(limit, 1.3, 0.06))


def damped(peak: float) -> object:
    """Two hours of damping to a peak, then an hour's drying and an hour at rest."""
    water = np.interp(T, [0.0, 2 * HOUR, 3 * HOUR, 4 * HOUR], [0.06, peak, 0.07, 0.07])
    return made_up(water, T, stages=(T > 2 * HOUR).astype(int), equilibrium=0.07)


def test_after_a_damp_chamber_restraint_is_at_once() -> None:
    found = words(damped(0.2))
    assert found["window_opens"] == found["window_closes"] == 2 * HOUR
    assert found["sheen_gone"] == 0.0


def test_balance_words_after_damping_mean_the_drying() -> None:
    found = words(damped(0.2))
    assert found["balance_stack"] >= 3 * HOUR
    assert 2 * HOUR < found["balance_room"] < 3 * HOUR
    assert found["handleable"] == 0.0


def test_a_sheet_damped_very_wet_has_the_usual_window() -> None:
    found = words(damped(1.0))
    assert found["window_opens"] == 2 * HOUR
    assert 2 * HOUR < found["window_closes"] < found["handleable"]


def test_a_sheet_in_balance_with_the_chamber_is_not_in_balance_with_its_stack() -> None:
    water = np.interp(T, [0.0, 0.5 * HOUR, 2 * HOUR, 4 * HOUR], [0.06, 0.2, 0.2, 0.05])
    assert math.isinf(stack_balance(made_up(water, T, stages=(T > 2 * HOUR).astype(int)), 1.0))


def test_balance_with_the_stack_needs_a_quiet_rest_of_the_stage() -> None:
    water = np.interp(T, [0.0, HOUR, 4 * HOUR], [1.0, 0.1, 0.1])
    assert stack_balance(made_up(water, T), 1.0) == pytest.approx(HOUR, abs=T[1])
    assert math.isinf(stack_balance(made_up(straight(1.0, 0.1), T), 1.0))


def test_a_small_rise_is_no_damping() -> None:
    water = np.interp(T, [0.0, HOUR, 4 * HOUR], [1.0, 1.01, 0.1])
    assert drying_from(made_up(water, T), 1.0) == 0
    assert left_by(made_up(water, T), 1.0) == pytest.approx((0.0, 0.9))


def test_the_mould_clock_counts_hours_above_80_percent() -> None:
    humidity = np.where(T < 3 * HOUR, 0.9, 0.6)
    assert wet_hours(T, humidity) == pytest.approx(3.0, abs=T[1] / HOUR)


def test_the_mould_clock_does_not_run_while_a_piece_is_away() -> None:
    humidity = np.where(T < HOUR, 0.9, np.where(T < 2 * HOUR, np.nan, 0.9))
    assert wet_hours(T, humidity) == pytest.approx(3.0, abs=2 * T[1] / HOUR)


@pytest.mark.parametrize(("hours", "level"), [(12.0, None), (30.0, "caution"), (60.0, "stop")])
def test_mould_cautions_begin_at_24_and_48_hours(hours: float, level: str | None) -> None:
    found = mould_cautions((("felt", Estimate(hours, hours - 1.0, hours + 1.0, "h")),))
    assert [c.level for c in found] == ([level] if level else [])
