"""The words of a forecast as rules on one member's run, with their defaults and where those come from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bibula.forecast.simulate import Trace
from bibula.plan.goal import Goal

Array = NDArray[np.float64]

SHEEN_KG_M2 = 1e-3
"""Film below which the sheen is gone. Assumed."""
RESTRAINT_WATER = 0.587
"""Water content at 63 % solids, where papers begin to cockle: 63 +/- 3 % (Sugarman1992)."""
RESTRAINT_SOLIDS, RESTRAINT_SOLIDS_U = 0.63, 0.03
"""The same as solids, with the published spread over papers; every member of an ensemble has its own."""
HUMIDIFIED = 0.02
"""Rise of the mean water content (kg/kg) above its start that counts as damping. Assumed."""
PEAK_MARGIN = 0.002
HANDLEABLE_WATER = 0.35
STACK_RATE_PER_H = 0.002
ROOM_WATER = 0.01
MOULD_RH = 0.80
MOULD_CAUTION_H, MOULD_STOP_H = 24.0, 48.0
NEAR_FULL = 0.80


@dataclass(frozen=True)
class Rule:
    """One word: key, label, the threshold in words, where it comes from."""

    key: str
    label: str
    words: str
    origin: str


RULES: tuple[Rule, ...] = (
    Rule("sheen_gone", "Sheen gone", "the film on the upper face holds less than 1 g/m2", "assumed"),
    Rule("window_opens", "Restraint: not before", "the sheen has gone; after damping, at once", "assumed"),
    Rule(
        "window_closes",
        "Restraint: not after",
        "mean water 0.59 of dry mass (63 ± 3 % solids; small air-dried pieces of seven papers); "
        "damped to less than that: at once",
        "Sugarman1992",
    ),
    Rule("handleable", "Handleable", "no place in the object wetter than 0.35 of dry mass", "assumed"),
    Rule("balance_stack", "In balance with its stack", "changes by less than 0.2 % of dry mass in an hour", "assumed"),
    Rule("balance_room", "In balance with the room", "within 1 % of dry mass of the room's equilibrium", "assumed"),
    Rule("target", "Target reached", "as the plan says", "the plan"),
    Rule("release", "Release", "in balance with the room, and the holding time has passed", "assumed"),
)


def first_below(times: Array, values: Array, limit: float) -> float:
    """First time a curve is at or below a limit, interpolated; inf if never."""
    under = np.flatnonzero(values <= limit)
    if not len(under):
        return float("inf")
    i = int(under[0])
    return float(times[0]) if i == 0 else _between(times, values - limit, i)


def lasting_within(times: Array, values: Array, limit: float) -> float:
    """Time from which a curve stays at or below a limit to its end; inf if it ends above."""
    over = np.flatnonzero(values > limit)
    if not len(over):
        return float(times[0])
    i = int(over[-1]) + 1
    return float("inf") if i >= len(times) else _between(times, values - limit, i)


def _between(times: Array, over: Array, i: int) -> float:
    a, b = float(over[i - 1]), float(over[i])
    share = a / (a - b) if a != b else 1.0
    return float(times[i - 1] + share * (times[i] - times[i - 1]))


def drying_from(trace: Trace, dry_kg_m2: float) -> int:
    """Row from which the object dries: the first, or its wettest where chamber, slab or paste first wetted it."""
    peak = int(np.argmax(trace.water))
    if trace.water[peak] <= trace.water[0] + HUMIDIFIED * dry_kg_m2:
        return 0
    near = trace.water >= trace.water[peak] - PEAK_MARGIN * dry_kg_m2  # a chamber holds it at its wettest for hours
    return int(np.flatnonzero(near & (trace.stage == trace.stage[peak]))[-1])


def left_by(trace: Trace, dry_kg_m2: float) -> tuple[float, float]:
    """Water (kg/m2) that has left by recto and by verso since the object began to dry; what came in counts as 0."""
    start = drying_from(trace, dry_kg_m2)
    recto, verso = (float(p[-1] - p[start]) for p in (trace.passed_recto, trace.passed_verso))
    return max(recto, 0.0), max(verso, 0.0)


def stack_balance(trace: Trace, dry_kg_m2: float) -> float:
    """First time from which the object hardly changes for the rest of some stage (at least a quarter of an hour).

    Only from when it dries: a sheet in balance with a damp chamber is not meant.
    """
    content = trace.water / dry_kg_m2
    begin = drying_from(trace, dry_kg_m2)
    for stage in range(int(trace.stage.max()) + 1):
        inside = np.flatnonzero(trace.stage == stage)
        inside = inside[inside >= begin]
        if len(inside) < 2:
            continue
        t, x = trace.times_s[inside], content[inside]
        gap = np.maximum(np.diff(t), 1e-9)
        rate = np.abs(np.diff(x)) / gap * 3600.0
        fast = np.flatnonzero(rate >= STACK_RATE_PER_H)
        i = 0 if not len(fast) else int(fast[-1]) + 1
        if i < len(t) - 1 and t[-1] - t[i] >= 900.0:
            return float(t[i])
    return float("inf")


def times_of(
    trace: Trace, dry_kg_m2: float, goal: Goal, holding_s: float, restraint_water: float = RESTRAINT_WATER
) -> dict[str, float]:
    """Time in s of every rule for one member; inf where it is not reached within the plan.

    Args:
        trace: the member's run.
        dry_kg_m2: dry mass of the object per area.
        goal: the plan's target.
        holding_s: how long it stays under its weights after it is in balance with the room.
        restraint_water: water content (kg/kg) at which this member's paper begins to cockle.
    """
    t = trace.times_s
    content = trace.water / dry_kg_m2
    away = np.abs(content - trace.equilibrium)
    begin = drying_from(trace, dry_kg_m2)
    glossy = bool((trace.film_up > SHEEN_KG_M2).any())
    sheen = first_below(t[begin:], trace.film_up[begin:], SHEEN_KG_M2) if glossy else float(t[0])
    handleable = lasting_within(t, trace.wettest, HANDLEABLE_WATER)
    room = lasting_within(t, away, ROOM_WATER)
    target = {
        "balance": lambda: lasting_within(t, away, goal.value),
        "handleable": lambda: handleable,
        "moisture": lambda: lasting_within(t, content, goal.value),
    }[goal.kind]()
    return {
        "sheen_gone": sheen,
        "window_opens": max(sheen, float(t[begin])),
        "window_closes": first_below(t[begin:], content[begin:], restraint_water),
        "handleable": handleable,
        "balance_stack": stack_balance(trace, dry_kg_m2),
        "balance_room": room,
        "target": target,
        "release": room + holding_s,
    }


def wet_hours(times: Array, humidity: Array, limit: float = MOULD_RH) -> float:
    """Hours a curve of equilibrium humidity spends above a limit; times in which it is nan do not count."""
    ok = np.isfinite(humidity)
    mid = 0.5 * (np.diff(times))
    wet = np.where(ok, humidity, 0.0) > limit
    return float((mid * (wet[1:].astype(float) + wet[:-1].astype(float)))[ok[1:] & ok[:-1]].sum() / 3600.0)
