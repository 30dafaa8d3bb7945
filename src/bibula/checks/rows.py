"""One check: what we get, what an outside source says, how far apart they may be and why."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

CheckOrigin = Literal["published", "library", "computed", "memory", "practice"]


@dataclass(frozen=True)
class CheckRow:
    """One recomputed check value.

    Attributes:
        name: unique, readable ("EN 15026 profile: w at 0.03 m after 30 d [kg/m3]").
        source: who says so; a key of docs/references.bib or a plain sentence.
        origin: `published` (read in a publication), `library` (an independent library),
            `computed` (an independent second road), `memory`, `practice` (common practice, no source).
        ours, theirs: in the unit the name states.
        tolerance: largest allowed difference.
        relative: tolerance is a share of |theirs| instead of an absolute difference.
        reason: why that tolerance.
    """

    name: str
    source: str
    origin: CheckOrigin
    ours: float
    theirs: float
    tolerance: float
    reason: str
    relative: bool = False

    @property
    def difference(self) -> float:
        """|ours - theirs|, divided by |theirs| if the tolerance is relative."""
        d = abs(self.ours - self.theirs)
        return d / abs(self.theirs) if self.relative else d

    @property
    def ok(self) -> bool:
        """Within tolerance, and a number at all."""
        return math.isfinite(self.ours) and self.difference <= self.tolerance
