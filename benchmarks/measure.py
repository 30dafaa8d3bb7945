"""Figures and how they are taken."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Figure:
    """One measured figure. `met` speaks of the goal; None where the figure has none.

    Attributes:
        name: what was measured.
        value, unit: the figure.
        goal, stretch: bounds it should keep, in the same unit; None for none.
        at_least: the goal is a lower bound instead of an upper one.
    """

    name: str
    value: float
    unit: str
    goal: float | None = None
    stretch: float | None = None
    at_least: bool = False

    @property
    def met(self) -> bool | None:
        """Whether the goal is kept."""
        if self.goal is None:
            return None
        return self.value >= self.goal if self.at_least else self.value <= self.goal


def median_s(run: Callable[[], object], repeats: int = 7) -> float:
    """Median wall-clock seconds of a call, after one that is not counted."""
    run()
    times = []
    for _ in range(repeats):
        begun = time.perf_counter()
        run()
        times.append(time.perf_counter() - begun)
    return statistics.median(times)


def in_turns(first: Callable[[], object], second: Callable[[], object], repeats: int = 5) -> tuple[float, float, float]:
    """Median seconds of two calls taken in turns, and the median of second/first pair by pair."""
    first()
    second()
    a, b, ratio = [], [], []
    for _ in range(repeats):
        begun = time.perf_counter()
        first()
        middle = time.perf_counter()
        second()
        a.append(middle - begun)
        b.append(time.perf_counter() - middle)
        ratio.append(b[-1] / a[-1])
    return statistics.median(a), statistics.median(b), statistics.median(ratio)


def yardstick_ms() -> float:
    """Milliseconds this machine takes for a fixed piece of arithmetic: 50 products of 200 x 200 and a Python loop."""
    a = np.random.default_rng(1).random((200, 200))

    def work() -> float:
        b = a
        for _ in range(50):
            b = a @ b / 100.0
        return float(b.sum()) + sum(i * i for i in range(100_000))

    return 1000.0 * median_s(work)
