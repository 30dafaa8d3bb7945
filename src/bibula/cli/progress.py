"""Signs of life on the error stream for anything that takes longer than two seconds."""

from __future__ import annotations

import sys
import time
from types import TracebackType
from typing import TextIO

PATIENCE_S = 2.0
"""How long a step stays silent."""
CALM_S = 10.0
"""How often a line is repeated where it cannot be renewed in place."""
IN_PLACE_S = 0.2
BAR = 24


class Steps:
    """Progress of one piece of work: a bar in place on a terminal, a plain line now and then elsewhere.

    Used as `with Steps("forecast") as steps: work(progress=steps)`; a call gives (done, all).

    Args:
        title: what is being done.
        stream: where to write; the error stream if None.
        passes: how often the work counts from nothing to all.
    """

    def __init__(self, title: str, stream: TextIO | None = None, passes: int = 1) -> None:
        self.title = title
        self.passes = passes
        self.past, self.before = 0, 0.0
        self.stream = stream or sys.stderr
        self.begun = time.monotonic()
        self.said = self.begun + PATIENCE_S - CALM_S
        self.shown = False

    def __enter__(self) -> Steps:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        del error, trace
        if self.shown and self.stream.isatty():
            self.stream.write("\r\x1b[K")
        if self.shown and kind is None:
            self.stream.write(f"{self.title}: done in {time.monotonic() - self.begun:.0f} s\n")
        self.stream.flush()

    def rename(self, title: str) -> None:
        """Go on under another title."""
        self.title = title

    def __call__(self, done: int, total: int) -> None:
        """Say how far it has come, if it is time to say so."""
        own = min(done / total, 1.0) if total else 0.0
        if own < self.before and self.past < self.passes - 1:
            self.past += 1
        self.before = own
        share = (self.past + own) / self.passes
        now = time.monotonic()
        in_place = self.stream.isatty()
        if now - self.begun < PATIENCE_S or now - self.said < (IN_PLACE_S if in_place else CALM_S):
            return
        self.said, self.shown = now, True
        if in_place:
            bar = "#" * round(BAR * share)
            self.stream.write(f"\r\x1b[K{self.title}  [{bar:<{BAR}}] {100 * share:3.0f} %  {now - self.begun:.0f} s")
        else:
            self.stream.write(f"{self.title}: {100 * share:.0f} %, {now - self.begun:.0f} s\n")
        self.stream.flush()
