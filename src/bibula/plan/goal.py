"""The goal of a treatment, from the words of a plan file to a kind and a number."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

_BALANCE = re.compile(r"^in balance(?: with the room)?(?: within (\d+(?:\.\d+)?) ?%(?: of dry mass)?)?$")
_MOISTURE = re.compile(r"^(\d+(?:\.\d+)?) ?% (?:moisture|water)(?: of dry mass)?$")


@dataclass(frozen=True)
class Goal:
    """When the object is done.

    Attributes:
        kind: `balance` (within `value` kg/kg of the room's equilibrium), `handleable` (water per dry
            mass at most `value` all through), `moisture` (mean water per dry mass at most `value`).
        value: kg water per kg dry mass.
    """

    kind: Literal["balance", "handleable", "moisture"]
    value: float


def parse_goal(text: str) -> Goal:
    """The goal in words, read. "10 % moisture" is water per dry mass.

    Raises:
        ValueError: with a sentence part, where the words are not understood.
    """
    words = " ".join(text.lower().split())
    if words == "handleable":
        return Goal("handleable", 0.35)
    match = _BALANCE.match(words)
    if match:
        percent = float(match.group(1) or 1.0)
        if not 0.1 <= percent <= 10.0:
            raise ValueError(f"a balance within {percent:g} % is outside 0.1 to 10 %")
        return Goal("balance", percent / 100.0)
    match = _MOISTURE.match(words)
    if match:
        percent = float(match.group(1))
        if not 2.0 <= percent <= 150.0:
            raise ValueError(f"a moisture of {percent:g} % is outside 2 to 150 %")
        return Goal("moisture", percent / 100.0)
    raise ValueError(f"the goal '{text}' is not understood")
