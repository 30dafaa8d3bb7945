"""The two distances of the doubt test and how they are put together."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from bench_plans import ROOM, ensemble, rack

from bibula.forecast.doubt import _distances, _rarer, doubt, doubt_sentence, predictions
from bibula.forecast.observations import Observation

LATE = tuple(Observation(h * 3600.0, "object weight", 0.0, 4e-4) for h in (1.0, 5.0, 6.0))


def test_distances_are_in_units_of_the_scatter() -> None:
    gap, scatter, line = np.array([3.0, 4.0]), np.diag([1.0, 4.0]), np.array([0.0, 1.0])
    assert _distances(gap, scatter, line) == pytest.approx((9.0 + 4.0, 4.0))


def test_without_a_line_only_the_first_distance_counts() -> None:
    assert _distances(np.ones(2), np.eye(2), np.zeros(2)) == (2.0, 0.0)


def test_the_last_of_many_like_rows_is_as_rare_as_its_rank() -> None:
    rng = np.random.default_rng(1)
    found = [_rarer(rng.chisquare(3, size=(41, 2))) for _ in range(400)]
    assert np.mean(np.array(found) <= 0.05) == pytest.approx(0.05, abs=0.025)


def test_a_room_told_as_exact_still_gives_an_answer() -> None:
    sure = ROOM.model_copy(update={"u_relative_humidity_percent": 0.0})
    run = ensemble(rack("6 h", room=sure), 24)
    seen = [replace(o, value=float(v)) for o, v in zip(LATE, np.median(predictions(run, LATE), axis=0), strict=True)]
    fits, p, _ = doubt(run, seen, 1)
    assert fits
    assert 0.0 < p <= 1.0


def test_a_much_wetter_room_is_doubted() -> None:
    run = ensemble(rack("6 h"), 40)
    dry = run.laid.dry_kg_m2
    balance = np.array([t.equilibrium * dry for t in run.traces])
    wet = float(balance.mean() + 6.0 * balance.std())
    seen = [replace(o, value=wet) for o in LATE[1:]]
    fits, p, _ = doubt(run, seen, 1)
    assert not fits
    assert f"{100 * p:.1f} % of sound runs" in doubt_sentence(p)
