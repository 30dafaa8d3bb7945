"""A caution: one thing the user must see before the work, with its reason and its source."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Level = Literal["stop", "override", "caution", "note"]


@dataclass(frozen=True)
class Caution:
    """One thing the user must see.

    Attributes:
        level: `stop` (refused, unless set aside with reason and name), `override` (refused until a
            good test or a recorded override stands against it), `caution`, `note`.
        text: what to do or not to do, one or two sentences.
        why: what in the plan calls for it.
        source: who says so, or "common practice, no source".
        overridden_because: reason, name and date where a stop was set aside; then the level is `caution`.
        rule: key of the rule, as an override names it.
    """

    level: Level
    text: str
    why: str
    source: str
    overridden_because: str = ""
    rule: str = ""
