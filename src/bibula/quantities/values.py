"""A number as Bibula keeps it: value, unit, standard uncertainty, origin."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Origin = Literal["measured", "published", "assumed"]


@dataclass(frozen=True)
class Value:
    """One number with what is known of it.

    Attributes:
        value: in `unit`.
        unit: SI, written as in the key's suffix ("kg/m3", "Pa", "1").
        u: standard uncertainty, same unit (0 where exact by definition).
        origin: `measured` (readings named in `source`), `published` (a key of
            docs/references.bib in `source`), `assumed` (common practice, no source).
        source: which readings or which publication; empty for `assumed`.
        date: ISO date the value was made, or "".
        note: anything a reader must know.
    """

    value: float
    unit: str
    u: float = 0.0
    origin: Origin = "assumed"
    source: str = ""
    date: str = ""
    note: str = ""


@dataclass(frozen=True)
class Estimate:
    """A forecast number with its 95 % band. `low`/`high` are the 2.5 % and 97.5 % quantiles."""

    median: float
    low: float
    high: float
    unit: str = "1"
