"""One `Chart` value becomes one SVG, for the page and for print alike. The only importer of matplotlib.

A chart is drawn in one or two time panels (the first minutes, the whole), with stages named on a strip, events
as lettered lines with their own band, and windows as hatched spans. Meaning never hangs on colour alone.
Files are reproducible: fixed hash salt, no date.
"""

from __future__ import annotations

import io
import re
import warnings
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]
Size = Literal["wide", "narrow", "print", "half", "print-low", "half-low"]
INK, SOFT, PAPER, STRIP = "#16211f", "#5b6664", "#fffffe", "#e9ece6"
SERIES = ("#0a5f7d", "#9c3f16", "#59631a")
VARIABLES = {INK: "ink", SOFT: "soft", PAPER: "paper", STRIP: "strip", **{c: f"line-{i}" for i, c in enumerate(SERIES)}}
DASHES: tuple[Any, ...] = ("solid", (0, (6, 2)), (0, (5, 2, 1, 2)))
LANE_IN, STRIP_IN, CHAR_IN = 0.17, 0.2, 0.078
SIZES: dict[Size, tuple[float, float]] = {  # width and height of one plot, inches
    "wide": (7.7, 2.4),
    "narrow": (3.7, 2.2),
    "print": (7.1, 1.1),
    "half": (3.5, 0.85),
    "print-low": (7.1, 0.8),
    "half-low": (3.5, 0.6),
}
STYLE: dict[str, Any] = {
    "svg.hashsalt": "bibula",
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": 9.0,
    "text.parse_math": False,  # a user's dollar signs are dollar signs
    "axes.labelsize": 9.0,
    "xtick.labelsize": 9.0,
    "ytick.labelsize": 9.0,
    "text.color": INK,
    "axes.edgecolor": SOFT,
    "axes.labelcolor": INK,
    "axes.facecolor": PAPER,
    "xtick.color": INK,
    "ytick.color": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "grid.color": STRIP,
    "hatch.linewidth": 0.7,
    "lines.linewidth": 1.9,
}


@dataclass(frozen=True)
class Line:
    """A curve: x in seconds, y in the axis unit, with its 95 % band where there is one."""

    label: str
    x_s: Array
    y: Array
    low: Array | None = None
    high: Array | None = None


@dataclass(frozen=True)
class Points:
    """Readings: x in seconds, y in the axis unit, half-width of the error bar or None."""

    label: str
    x_s: tuple[float, ...]
    y: tuple[float, ...]
    error: tuple[float, ...] | None = None


@dataclass(frozen=True)
class Event:
    """Something that happens at a moment, with its letter and its band in seconds."""

    mark: str
    label: str
    time_s: float
    low_s: float | None = None
    high_s: float | None = None


@dataclass(frozen=True)
class Span:
    """A labelled stretch of time in seconds: a window (hatched) or a stage (on the strip)."""

    label: str
    start_s: float
    end_s: float


@dataclass(frozen=True)
class TimePanel:
    """One stretch of the time axis and the unit it is read in."""

    start_s: float
    end_s: float
    unit: str
    unit_s: float
    title: str = ""


@dataclass(frozen=True)
class Chart:
    """Everything one chart shows, and its words for those who do not see it.

    `y_label` carries the unit. `levels` are labelled horizontal lines in the axis unit. `table` has a header row
    first. `alt` is one sentence, `summary` says what the curve does.
    """

    key: str
    title: str
    y_label: str
    panels: tuple[TimePanel, ...]
    lines: tuple[Line, ...]
    points: tuple[Points, ...] = ()
    events: tuple[Event, ...] = ()
    windows: tuple[Span, ...] = ()
    stages: tuple[Span, ...] = ()
    levels: tuple[tuple[str, float], ...] = ()
    from_zero: bool = True
    name_bands: bool = True
    alt: str = ""
    summary: str = ""
    table: tuple[tuple[str, ...], ...] = ()


def draw(chart: Chart, size: Size = "wide") -> str:
    """The chart as SVG text.

    "wide" and "narrow" are for the page: real text, colours as CSS variables (`--chart-ink` and so on, each with the
    light colour to fall back on). The others are for paper, "-low" for a full one: text as outlines, fixed colours.
    """
    import matplotlib as mpl
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    for_page = size in ("wide", "narrow")
    rc: Any = {**mpl.rcParamsDefault, **STYLE, "svg.fonttype": "none" if for_page else "path"}
    rc.pop("backend", None)
    with mpl.rc_context(rc), warnings.catch_warnings():
        # A letter the font lacks: the page's own fonts have it; on paper the sheet is refused with a sentence.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        figure = _figure(chart, size)
        FigureCanvasSVG(figure)
        out = io.StringIO()
        figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None}, transparent=True)
    svg = _trim(out.getvalue(), f"{chart.key}-{size}")
    return _for_page(svg, chart) if for_page else svg


def font_folder() -> str:
    """The folder of the fonts that come with matplotlib (DejaVu), without starting matplotlib."""
    from importlib.util import find_spec
    from pathlib import Path

    spec = find_spec("matplotlib")
    origin = spec.origin if spec else None
    return str(Path(origin).parent / "mpl-data" / "fonts" / "ttf") if origin else ""


def _trim(svg: str, prefix: str) -> str:
    """Without prologue and metadata, and with ids that no other drawing of the page has."""
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"<metadata>.*?</metadata>\s*", "", svg, flags=re.DOTALL)
    svg = re.sub(r'\bid="', f'id="{prefix}-', svg)
    svg = svg.replace("url(#", f"url(#{prefix}-")
    return re.sub(r'xlink:href="#', f'xlink:href="#{prefix}-', svg)


def _for_page(svg: str, chart: Chart) -> str:
    """Colours become CSS variables; the drawing gets its role and its words."""
    for colour, name in VARIABLES.items():
        svg = svg.replace(colour, f"var(--chart-{name}, {colour})")
    label = _escape(chart.alt or chart.title)
    svg = re.sub(r'^<svg ([^>]*?)width="[^"]*" height="[^"]*"', r"<svg \1", svg)
    svg = re.sub(r'^<svg ([^>]*?)height="[^"]*"', r"<svg \1", svg)
    svg = re.sub(r'(^<svg [^>]*?)\s+width="[^"]*"', r"\1", svg)
    return svg.replace("<svg ", f'<svg role="img" aria-label="{label}" ', 1)


def _escape(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace('"', "&quot;")


def _panel_events(chart: Chart, index: int) -> list[Event]:
    """The events one panel shows: the whole leaves out those the close-up has already shown."""
    panel = chart.panels[index]
    shown_before = chart.panels[index - 1].end_s if index else -np.inf
    return [e for e in chart.events if max(panel.start_s, shown_before) <= e.time_s <= panel.end_s]


def _lanes(events: list[Event], panel: TimePanel, width_in: float) -> dict[str, int]:
    """A lane above the plot for each letter, so that letters and their bands never cover each other."""
    per_s = width_in / (panel.end_s - panel.start_s)
    ends: list[float] = []
    lanes: dict[str, int] = {}
    for event in sorted(events, key=lambda e: e.time_s):
        low = min(event.time_s if event.low_s is None else event.low_s, event.time_s)
        high = max(event.time_s if event.high_s is None else event.high_s, event.time_s)
        left = max(panel.start_s, low) * per_s - 0.12
        lane = next((i for i, end in enumerate(ends) if end <= left), len(ends))
        right = min(panel.end_s, high) * per_s + 0.12
        if lane == len(ends):
            ends.append(right)
        else:
            ends[lane] = right
        lanes[event.mark] = lane
    return lanes


def _figure(chart: Chart, size: Size) -> Figure:
    """Lays the panels out in inches, so that nothing is ever clipped or covered."""
    from matplotlib.figure import Figure

    total, plot_h = SIZES[size]
    half = size.startswith("half")
    if half:
        chart = replace(chart, panels=chart.panels[-1:], stages=(), name_bands=False)
    stacked = (size != "wide" and not size.startswith("print")) or len(chart.panels) == 1
    low, high = _limits(chart)
    left, right, gap = (0.62 if 4.0 <= high - low < 900.0 else 0.8), 0.16, 0.5
    inner = total - left - right
    widths = [inner] * len(chart.panels) if stacked else [0.42 * (inner - gap), 0.58 * (inner - gap)]
    lanes = [_lanes(_panel_events(chart, i), p, w) for i, (p, w) in enumerate(zip(chart.panels, widths, strict=True))]
    tops = [LANE_IN * (1 + max(x.values(), default=-1)) + (STRIP_IN if chart.stages else 0.0) + 0.08 for x in lanes]
    if not stacked:
        tops = [max(tops)] * len(tops)
    legend_columns = 1 if size == "narrow" else (3 if half else 5)
    entries = len(chart.lines) * (1 + chart.name_bands) + len(chart.points) + bool(chart.windows) + len(chart.levels)
    legend_h = 0.165 * -(-entries // legend_columns) + 0.05
    bottom = 0.43
    rows = len(chart.panels) if stacked else 1
    height = legend_h + sum(t + plot_h + bottom for t in tops[:rows])
    figure = Figure(figsize=(total, height))
    y, x = height, left
    for index, panel in enumerate(chart.panels):
        if stacked or index == 0:
            y -= tops[index] + plot_h
        axes = figure.add_axes((x / total, y / height, widths[index] / total, plot_h / height))
        axes.set_ylim(low, high)
        _draw_panel(axes, chart, index, (widths[index], plot_h), lanes[index])
        if stacked or index == 0:
            axes.set_ylabel(chart.y_label)
        if stacked:
            y -= bottom
        else:
            x += widths[index] + gap
        axes.set_xlabel(f"time from the start, {panel.unit}" if stacked or index else f"the beginning, {panel.unit}")
    handles, labels = _legend(figure.axes[-1])
    figure.legend(
        handles,
        labels,
        loc="lower left",
        bbox_to_anchor=((0.02 if half else left - 0.1) / total, 0.0),
        ncols=legend_columns,
        frameon=False,
        fontsize=9,
        borderaxespad=0.1,
        handlelength=2.0 if half else 2.6,
        columnspacing=1.2,
        labelspacing=0.3,
    )
    return figure


def _legend(axes: Axes) -> tuple[list[Any], list[str]]:
    """Curves first, then their bands, then the rest."""
    rank = {"Line2D": 0, "FillBetweenPolyCollection": 1, "ErrorbarContainer": 2}
    found = zip(*axes.get_legend_handles_labels(), strict=True)
    ordered = sorted(found, key=lambda x: rank.get(type(x[0]).__name__, 3))
    return [h for h, _ in ordered], [text for _, text in ordered]


def _limits(chart: Chart) -> tuple[float, float]:
    """The y range that holds every curve, band, reading and level, with a little air."""
    parts = [np.asarray(a, dtype=float) for n in chart.lines for a in (n.y, n.low, n.high) if a is not None]
    parts += [np.asarray(p.y, dtype=float) for p in chart.points]
    parts.append(np.asarray([v for _, v in chart.levels], dtype=float))
    values = np.concatenate(parts)
    values = values[np.isfinite(values)]
    if values.size == 0:
        return 0.0, 1.0
    low, high = float(values.min()), float(values.max())
    low = min(low, 0.0) if chart.from_zero else low
    air = 0.06 * (high - low) or 1.0
    return (low if chart.from_zero and low == 0.0 else low - air), high + air


def _draw_panel(axes: Axes, chart: Chart, index: int, inches: tuple[float, float], lanes: dict[str, int]) -> None:
    panel = chart.panels[index]
    u = panel.unit_s
    axes.set_xlim(panel.start_s / u, panel.end_s / u)
    axes.locator_params(axis="x", nbins=max(3, int(inches[0] / 0.55)))
    axes.locator_params(axis="y", nbins=5)
    axes.grid(axis="y")
    axes.set_axisbelow(True)
    axes.tick_params(length=3)
    for n, window in enumerate(chart.windows):
        axes.axvspan(
            window.start_s / u,
            window.end_s / u,
            facecolor="none",
            edgecolor=SOFT,
            hatch="////",
            linewidth=0.8,
            label=window.label if n == 0 else None,
            zorder=1,
        )
    for n, line in enumerate(chart.lines):
        if line.low is not None and line.high is not None:
            band: dict[str, Any] = {"color": SERIES[n % 3], "zorder": 2.0}
            name = f"{line.label}, 95 % band" if len(chart.lines) > 1 else "95 % band"
            name = name if chart.name_bands else "_"
            axes.fill_between(line.x_s / u, line.low, line.high, alpha=0.2, linewidth=0, label=name, **band)
            for edge in (line.low, line.high):
                axes.plot(line.x_s / u, edge, linewidth=0.6, **band)
        axes.plot(line.x_s / u, line.y, color=SERIES[n % 3], linestyle=DASHES[n % 3], label=line.label, zorder=3)
    for label, value in chart.levels:
        axes.axhline(value, color=SOFT, linewidth=1.2, linestyle=(0, (2, 2)), label=label, zorder=2.5)
    for n, series in enumerate(chart.points):
        marker = "sDo"[n % 3]
        axes.errorbar(
            [x / u for x in series.x_s],
            series.y,
            yerr=series.error,
            fmt=marker,
            color=INK,
            markerfacecolor=PAPER,
            markersize=5.5,
            markeredgewidth=1.4,
            capsize=2.5,
            label=series.label,
            zorder=5,
        )
    _draw_stages(axes, chart, panel, inches)
    _draw_events(axes, _panel_events(chart, index), panel, inches, lanes, STRIP_IN if chart.stages else 0.0)


def _draw_stages(axes: Axes, chart: Chart, panel: TimePanel, inches: tuple[float, float]) -> None:
    """The strip over the plot: each stage's number, and its name where there is room."""
    from matplotlib.patches import Rectangle

    width, height = inches
    per_s = width / (panel.end_s - panel.start_s)
    across = axes.get_xaxis_transform()
    for n, stage in enumerate(chart.stages):
        start, end = max(stage.start_s, panel.start_s), min(stage.end_s, panel.end_s)
        if end <= start:
            continue
        room = (end - start) * per_s
        x, w = start / panel.unit_s, (end - start) / panel.unit_s
        box = Rectangle((x, 1.0), w, STRIP_IN / height, transform=across, clip_on=False)
        box.set(facecolor=STRIP if n % 2 else PAPER, edgecolor=SOFT, linewidth=0.7)
        axes.add_patch(box)
        if n and start > panel.start_s:
            axes.axvline(x, color=SOFT, linewidth=0.9, zorder=1.5)
        text = f"{n + 1} {stage.label}"
        text = text if len(text) * CHAR_IN < room else (str(n + 1) if room > 0.14 else "")
        axes.text(x + w / 2, 1 + 0.46 * STRIP_IN / height, text, transform=across, ha="center", va="center")


def _draw_events(
    axes: Axes,
    events: list[Event],
    panel: TimePanel,
    inches: tuple[float, float],
    lanes: dict[str, int],
    strip_in: float,
) -> None:
    """Lettered lines, each with its band as a bar beside the letter."""
    across = axes.get_xaxis_transform()
    for event in events:
        x = event.time_s / panel.unit_s
        y = 1 + (strip_in + LANE_IN * (lanes[event.mark] + 0.6)) / inches[1]
        axes.plot([x, x], [0, y], transform=across, color=INK, linewidth=0.9, linestyle=(0, (1, 2)), clip_on=False)
        low = max(panel.start_s, event.time_s if event.low_s is None else event.low_s) / panel.unit_s
        high = min(panel.end_s, event.time_s if event.high_s is None else event.high_s) / panel.unit_s
        axes.plot([low, high], [y, y], transform=across, color=INK, linewidth=2.2, clip_on=False, solid_capstyle="butt")
        disc = {"boxstyle": "circle,pad=0.12", "facecolor": PAPER, "edgecolor": INK, "linewidth": 1.1}
        axes.text(x, y, event.mark, transform=across, ha="center", va="center", fontsize=9, weight="bold", bbox=disc)
