"""A forecast as plain text for a terminal: no colour, at most as wide as asked."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from bibula.forecast.result import Forecast
from bibula.report.contents import Row, SheetContents, contents
from bibula.report.curves import table_times
from bibula.report.formatting import banded, duration

BAR = 24
STOPPING = ("stop", "override")


def summary(forecast: Forecast, units: str = "metric", width: int = 92) -> str:
    """The forecast in plain text.

    Args:
        forecast: what to print.
        units: "metric" or "inch".
        width: longest line, 60 or more.

    Raises:
        InputError: `units` is neither.
    """
    c = contents(forecast, units)
    parts = [
        _head(c, width),
        _section("STOP", _cautions(c, STOPPING, width), width),
        _section("ANSWERS", _answers(c, width), width),
        _section("WHAT TO DO (h:mm from the start)", _steps(c, width), width),
        _section("CAUTIONS", _cautions(c, ("caution", "note"), width) + _bullets(c.safety, width), width),
        _section("WHEN", _milestones(c, width), width),
        _section("WATER IN THE SHEET (median, 95 % band)", _curve(forecast, width), width),
        _section("ABSORBENTS", _absorbents(c, width), width),
        _section("WHERE THE WATER GOES", _rows((*c.water, *c.conditions), width), width),
        _section("WHAT WENT IN", _rows(c.inputs, width), width),
        _section("WHAT THIS CANNOT SAY", _bullets((*c.limits, *c.warnings, *c.validity), width), width),
        _section("SOURCES", _bullets(map(str, c.citations), width), width),
    ]
    return "\n\n".join(p for p in parts if p) + "\n"


def wrapped(text: str, width: int, first: str = "", rest: str | None = None) -> list[str]:
    """Lines of at most `width`, the first one after `first`, the others indented."""
    indent = " " * len(first) if rest is None else rest
    return textwrap.wrap(text, width, initial_indent=first, subsequent_indent=indent, break_on_hyphens=False) or [
        first.rstrip()
    ]


def _section(title: str, lines: Iterable[str], width: int) -> str:
    body = list(lines)
    return "\n".join([title, "-" * min(width, len(title)), *body]) if body else ""


def _head(c: SheetContents, width: int) -> str:
    made = f", made {c.made}" if c.made else ""
    lines = wrapped(f"*** {c.invented} ***", width) if c.invented else []
    for text in (c.object_name, f"{c.title}{made}, {c.version}", c.defer):
        lines += wrapped(text, width)
    return "\n".join(lines)


def _cautions(c: SheetContents, levels: tuple[str, ...], width: int) -> list[str]:
    lines: list[str] = []
    for k in c.cautions:
        if k.level in levels:
            source = f" [{k.source}]" if k.source else ""
            text = " ".join(x for x in (k.text, f"{k.why}{source}", k.overridden) if x)
            lines += wrapped(text, width, f"{k.word + ':':<12}")
    return lines


def _answers(c: SheetContents, width: int) -> list[str]:
    rows = [(r.name, r.value + (f" ({r.origin})" if r.origin else "")) for r in c.headline]
    rows += [("overnight", c.overnight)] if c.overnight else []
    longest = min(30, max((len(name) for name, _ in rows), default=0))
    return [line for name, text in rows for line in wrapped(text, width, f"{name:<{longest}}  ")]


def _steps(c: SheetContents, width: int) -> list[str]:
    lines: list[str] = []
    for s in c.steps:
        lines += wrapped(s.text, width, f"[ ] {s.when:>7}  ")
        for detail in s.details:
            lines += wrapped(detail, width, " " * 13, " " * 15)
    return lines


def _milestones(c: SheetContents, width: int) -> list[str]:
    lines: list[str] = []
    for m in c.milestones:
        band = f" ({m.band})" if m.band else ""
        reached = f"; {m.reached}" if m.reached else ""
        lines += wrapped(f"{m.label}: {m.when}{band}{reached}", width, f"{m.mark}  ")
        lines += wrapped(f"rule: {m.rule} [{m.origin}]", width, "     ")
    return lines


def _curve(forecast: Forecast, width: int) -> list[str]:
    """The forecast's own values at a few of its times, each with a bar."""
    band = forecast.sheet_water_g_m2
    most = max(float(band.high.max()), 1e-9)
    lines = []
    for i in table_times(forecast):
        low, mid, high = (float(a[i]) for a in (band.low, band.median, band.high))
        a, b = round(BAR * low / most), round(BAR * high / most)
        bar = "=" * a + "-" * (b - a)
        lines.append(f"{duration(float(forecast.times_s[i])):>10}  {bar:<{BAR}}  {banded(mid, low, high, 'g/m²', 0)}")
    return [*lines, *wrapped("= up to the low end of the band, - up to its high end", width, " " * 12)]


def _absorbents(c: SheetContents, width: int) -> list[str]:
    lines: list[str] = []
    for a in c.absorbents:
        dry = f"face dry to the touch {a.dry}" if a.dry else ""
        ready = f"ready again by weight {a.ready}" if a.ready else ""
        told = "; ".join(x for x in (a.near_full, a.advice, dry, ready) if x)
        text = f"{a.layer} ({a.stage}): takes {a.taken}, full to {a.fill}; {told}."
        lines += wrapped(text, width, "- ")
    return lines


def _rows(rows: Iterable[Row], width: int) -> list[str]:
    lines: list[str] = []
    for r in rows:
        origin = f" [{r.origin}]" if r.origin and r.origin != "model" else ""
        lines += wrapped(f"{r.name}: {r.value}{origin}", width, "- ")
    return lines


def _bullets(texts: Iterable[str], width: int) -> list[str]:
    return [line for text in texts for line in wrapped(text, width, "- ")]
