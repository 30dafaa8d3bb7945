"""The stack in cross-section as SVG: layers from the table up, hatched by their water, at chosen times.

Drawn by hand, without a library. Thin layers are shown thicker than they are, and the drawing says so. Water shows
as six steps of hatching and as a number, so the drawing holds in black and white.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from bibula.forecast.result import Array, Forecast, LayerPicture, SectionPicture
from bibula.report.formatting import Units, brief, duration, length

FONT = 12.0
HEAD_H = 34.0
GROUP_GAP = 8.0
SIDE_PX = 42.0  # the words recto and verso
LETTERS = (  # classes of letters of DejaVu Sans, width in em
    (" iljf.,:;|!'-", 0.36),
    ("rt()[]", 0.42),
    ("ckvxyzsJ", 0.6),
    ("w", 0.83),
    ("mMW@%…—", 1.0),
)
STEPS = (0.02, 0.15, 0.35, 0.60, 0.85)  # share of capacity at which the hatching gets denser
SPACING = (0.0, 14.0, 9.0, 6.0, 4.0, 2.6)  # pixels between the hatch lines of each step
LIGHT = {"ink": "#16211f", "soft": "#5b6664", "paper": "#fffffe", "strip": "#e9ece6", "line-0": "#0a5f7d"}


@dataclass(frozen=True)
class _Measure:
    """Widths and heights in pixels: roomy on a page, close on paper (labels there take one line)."""

    label: float
    column: float
    gap: float
    least: float
    per_doubling: float
    object_least: float
    lines: int


ROOMY = _Measure(label=190.0, column=112.0, gap=14.0, least=32.0, per_doubling=13.0, object_least=62.0, lines=2)
CLOSE = _Measure(label=230.0, column=50.0, gap=5.0, least=16.0, per_doubling=3.0, object_least=37.0, lines=1)


@dataclass(frozen=True)
class _Group:
    """Pictures of one and the same stack, drawn side by side with one set of labels."""

    pictures: tuple[SectionPicture, ...]
    measure: _Measure
    key: str
    units: Units
    stages: tuple[str, ...]

    def stage_number(self, picture: SectionPicture) -> str:
        """The stage's number in the plan, or its name cut short where the plan does not know it."""
        if picture.stage in self.stages:
            return str(self.stages.index(picture.stage) + 1)
        return _short(picture.stage, self.measure.column)

    @property
    def layers(self) -> tuple[LayerPicture, ...]:
        return self.pictures[0].layers

    @property
    def heights(self) -> list[float]:
        """Drawn heights: they grow slowly with thickness, so that a tissue can be seen beside a slab."""
        m = self.measure
        thick = [1000.0 * max(0.0, x.top_m - x.bottom_m) for x in self.layers]
        grown = [m.least + m.per_doubling * math.log2(1.0 + mm) for mm in thick]
        return [max(g, m.object_least) if x.is_object else g for g, x in zip(grown, self.layers, strict=True)]

    def objects(self, bottom: float) -> list[tuple[float, float]]:
        """Top and bottom, in pixels, of each object: a run of object layers without anything between."""
        runs: list[tuple[float, float]] = []
        level, was_object = bottom, False
        for layer, h in zip(self.layers, self.heights, strict=True):
            if layer.is_object:
                runs = [*runs[:-1], (level - h, runs[-1][1])] if was_object else [*runs, (level - h, level)]
            level, was_object = level - h, layer.is_object
        return runs

    @property
    def width(self) -> float:
        return self.measure.label + len(self.pictures) * (self.measure.column + self.measure.gap) + GROUP_GAP


def draw_section(
    forecast: Forecast, width: float = 680.0, units: Units = "metric", for_page: bool = True, key: str = "section"
) -> str:
    """The forecast's pictures as one SVG, as wide as asked, as tall as needed.

    Args:
        forecast: its `pictures` are drawn; layers from the table up.
        width: in pixels (1 px = 1/96 in), at least 300.
        units: for the thickness beside each layer.
        for_page: colours as CSS variables for the page; fixed light colours for paper.
        key: put before every id, so that two drawings can share a page.

    Returns SVG text with a role and a description; "" if the forecast has no pictures.
    """
    if not forecast.pictures:
        return ""
    m = ROOMY if for_page else replace(CLOSE, label=_label_width(forecast, units))
    columns = max(1, int((width - m.label - 8.0) // (m.column + m.gap)))
    groups = [_Group(tuple(g), m, key, units, forecast.stage_names) for g in _alike(pictures_of(forecast), columns)]
    body: list[str] = []
    y = 0.0
    for row in _rows(groups, width):
        tallest = max(sum(group.heights) for group in row)
        x = 0.0
        for group in row:
            body += _draw_group(group, x, y + HEAD_H + tallest)
            x += group.width
        y += HEAD_H + tallest + (20.0 if m.lines == 2 else 8.0)
    key_parts, key_h = _key(y, width, key, for_page)
    total = y + key_h
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label={quoteattr(describe(forecast, units))} '
        f'viewBox="0 0 {width:g} {total:.0f}"'
    )
    head += ">" if for_page else f' width="{width:g}" height="{total:.0f}">'
    svg = "\n".join([head, _patterns(key), *body, *key_parts, "</svg>"])
    for name, colour in LIGHT.items():
        svg = svg.replace(f"@{name}@", f"var(--chart-{name}, {colour})" if for_page else colour)
    return svg


def describe(forecast: Forecast, units: Units = "metric") -> str:
    """The drawing in words: every picture, every layer, its thickness and how full it is."""
    said = []
    for picture in pictures_of(forecast):
        layers = "; ".join(
            f"{x.name}, {length(x.top_m - x.bottom_m, units)}, {share(x)} % full" for x in picture.layers
        )
        said.append(f"After {duration(picture.time_s)}, {picture.stage}, from the table up: {layers}.")
    return "The stack in cross-section. " + " ".join(said)


def share(layer: LayerPicture) -> int:
    """How full a layer with one row of `fill` is, in whole per cent: the mean over its thickness."""
    return round(100.0 * float(np.average(layer.fill[0], weights=_weights(layer))))


def pictures_of(forecast: Forecast) -> tuple[SectionPicture, ...]:
    """The forecast's pictures, each layer with the one row of `fill` that belongs to its picture."""
    made = []
    for i, picture in enumerate(forecast.pictures):
        layers = []
        for layer in picture.layers:
            rows = np.atleast_2d(layer.fill)
            layers.append(replace(layer, fill=rows[min(i, len(rows) - 1)][None, :]))
        made.append(replace(picture, layers=tuple(layers)))
    return tuple(made)


def _weights(layer: LayerPicture) -> Array:
    """The thickness each node stands for."""
    z = np.asarray(layer.z_m, dtype=float)
    edges = np.concatenate([[layer.bottom_m], 0.5 * (z[1:] + z[:-1]), [layer.top_m]])
    widths = np.diff(edges)
    return widths if bool(np.all(widths >= 0.0)) and widths.sum() > 0.0 else np.ones_like(z)


def _alike(pictures: tuple[SectionPicture, ...], columns: int) -> list[list[SectionPicture]]:
    """Neighbouring pictures of the same stack, same side up, together, at most so many side by side."""
    groups: list[list[SectionPicture]] = []
    for picture in pictures:
        names = _stack(picture)
        last = groups[-1] if groups else []
        if last and len(last) < columns and _stack(last[0]) == names:
            last.append(picture)
        else:
            groups.append([picture])
    return groups


def _stack(picture: SectionPicture) -> tuple[object, ...]:
    return (picture.recto_up, *(x.name for x in picture.layers))


def _rows(groups: list[_Group], width: float) -> list[list[_Group]]:
    """Groups side by side as long as they fit."""
    rows: list[list[_Group]] = []
    for group in groups:
        if rows and sum(g.width for g in rows[-1]) + group.width <= width + GROUP_GAP:
            rows[-1].append(group)
        else:
            rows.append([group])
    return rows


def _width(text: str, bold: bool = False) -> float:
    """About how wide a text runs, in pixels, by classes of letters; a little more than it is."""
    em = sum(
        next((w for letters, w in LETTERS if c in letters), 1.02 if ord(c) > 0x2E80 else 0.74 if c.isupper() else 0.65)
        for c in text
    )
    return FONT * em * (1.1 if bold else 1.0)


def _short(text: str, width: float, bold: bool = False) -> str:
    """The text, cut with an ellipsis where it is wider than `width` pixels."""
    if _width(text, bold) <= width:
        return text
    while text and _width(text + "…", bold) > width:
        text = text[:-1]
    return text.rstrip() + "…"


def _text(x: float, y: float, text: str, anchor: str = "start", weight: str = "", colour: str = "ink") -> str:
    bold = ' font-weight="700"' if weight else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-family="DejaVu Sans, sans-serif" '
        f'font-size="{FONT:g}"{bold} style="fill: @{colour}@">{escape(text)}</text>'
    )


def _draw_group(group: _Group, x: float, bottom: float) -> list[str]:
    """Labels on the left, one column for each picture, standing on the table at `bottom`."""
    m, heights = group.measure, group.heights
    parts: list[str] = []
    level = bottom
    for layer, h in zip(group.layers, heights, strict=True):
        level -= h
        parts.append(f"<g><title>{escape(layer.name)}</title>")
        bold = "bold" if layer.is_object else ""
        lines = _label(layer, m, group.units)
        first = level + h / 2 + (4.0 if len(lines) == 1 else -2.0)
        parts += [_text(x, first + 15 * n, line, weight="" if n else bold) for n, line in enumerate(lines)]
        parts.append("</g>")
    if m.lines == 2:
        parts.append(_text(x, bottom + 14, "table", colour="soft"))
    parts += _sides(group, x + m.label - 9.0, bottom)
    left, top = x + m.label, bottom - sum(heights)
    if m.lines == 1:
        parts += [
            _text(left - 9.0, top - up, word, "end", colour="soft") for word, up in (("after", 22.0), ("stage", 8.0))
        ]
    for picture in group.pictures:
        when, stage = f"after {brief(picture.time_s)}", _short(picture.stage, m.column + m.gap - 4.0)
        if m.lines == 1:
            when, stage = brief(picture.time_s), group.stage_number(picture)
        parts.append(_text(left, top - 22.0, when, weight="bold"))
        parts.append(_text(left, top - 8.0, stage))
        parts += _column(group, picture, left, bottom)
        left += m.column + m.gap
    return parts


def _sides(group: _Group, right: float, bottom: float) -> list[str]:
    """Recto and verso beside the object, where every picture of the group says which side is up."""
    up = {picture.recto_up for picture in group.pictures}
    if len(up) != 1 or None in up:
        return []
    upper, lower = ("recto", "verso") if True in up else ("verso", "recto")
    parts: list[str] = []
    for top, low in group.objects(bottom):
        parts.append(_text(right, top + 10.0, upper, "end", colour="soft"))
        parts.append(_text(right, low - 1.0, lower, "end", colour="soft"))
    return parts


def _label_width(forecast: Forecast, units: Units) -> float:
    """How wide the labels of a close drawing run, with room for the sides beside the object; at most `CLOSE.label`."""
    widest = 0.0
    for layer in (x for p in forecast.pictures for x in p.layers):
        text = f"{layer.name}, {length(layer.top_m - layer.bottom_m, units)}"
        widest = max(widest, _width(text, layer.is_object) + (SIDE_PX if layer.is_object else 0.0))
    return min(CLOSE.label, widest + 10.0)


def _label(layer: LayerPicture, m: _Measure, units: Units) -> tuple[str, ...]:
    """A layer's name and thickness on one or two lines; a name too long is cut, the table has it whole."""
    thick = length(layer.top_m - layer.bottom_m, units)
    room, bold = m.label - 10.0, layer.is_object
    rest = room - _width(f", {thick}", bold)
    if m.lines == 1:
        return (f"{_short(layer.name, rest, bold)}, {thick}",)
    if _width(layer.name, bold) <= room:
        return layer.name, thick
    words, first = layer.name.split(" "), ""
    while words and _width(f"{first} {words[0]}".strip(), bold) <= room:
        first = f"{first} {words.pop(0)}".strip()
    if not first:
        return _short(layer.name, room, bold), thick
    return first, f"{_short(' '.join(words), rest)}, {thick}"


def _column(group: _Group, picture: SectionPicture, left: float, bottom: float) -> list[str]:
    """One picture: layers from the bottom up, the object outlined, each with its number."""
    parts: list[str] = []
    level, wide = bottom, group.measure.column
    for layer, h in zip(picture.layers, group.heights, strict=True):
        level -= h
        parts += _layer(layer, (left, level, wide, h), group.key)
    line = f'x1="{left - 4:.1f}" x2="{left + wide + 4:.1f}" y1="{bottom:.1f}" y2="{bottom:.1f}"'
    parts.append(f'<line {line} style="stroke: @ink@; stroke-width: 3"/>')
    for top, low in group.objects(bottom):
        parts.append(_rect((left, top, wide, low - top), "fill: none; stroke: @ink@; stroke-width: 3"))
    return parts


def _rect(box: tuple[float, float, float, float], style: str, paint: str = "") -> str:
    """A rectangle (left, top, width, height) with a style or a pattern to fill it."""
    x, y, w, h = box
    look = f'fill="url(#{paint})"' if paint else f'style="{style}"'
    return f'<rect x="{x:.1f}" y="{y:.2f}" width="{w:.1f}" height="{h:.2f}" {look}/>'


def _layer(layer: LayerPicture, box: tuple[float, float, float, float], key: str) -> list[str]:
    """One layer: up to six slices hatched by their water, a frame, and the number."""
    left, top, wide, h = box
    fill, weights = layer.fill[0], _weights(layer)
    slices = min(len(fill), 6 if h > 60.0 else 2)
    parts = [_rect(box, "fill: @paper@")]
    for i, nodes in enumerate(np.array_split(np.arange(len(fill)), slices)):
        step = sum(float(np.average(fill[nodes], weights=weights[nodes])) >= s for s in STEPS)
        if step:
            parts.append(_rect((left, top + h - (i + 1) * h / slices, wide, h / slices), "", f"{key}-w{step}"))
    parts.append(_rect(box, "fill: none; stroke: @soft@; stroke-width: 1"))
    return parts + _pill(left + wide - 4.0, top + h / 2 + 4.0, f"{share(layer)} %", "end")


def _pill(x: float, baseline: float, text: str, anchor: str) -> list[str]:
    """Text on a plate of paper, so that hatching never runs through it."""
    w = _width(text) + 4.0
    left = x - w + 2.0 if anchor == "end" else x - 2.0
    plate = f'<rect x="{left:.1f}" y="{baseline - 11.5:.1f}" width="{w:.1f}" height="15" rx="2" style="fill: @paper@"/>'
    return [plate, _text(x, baseline, text, anchor)]


def _patterns(key: str) -> str:
    """Five densities of slanted lines."""
    made = []
    for step, gap in enumerate(SPACING):
        if step:
            made.append(
                f'<pattern id="{key}-w{step}" width="{gap:g}" height="{gap:g}" patternUnits="userSpaceOnUse" '
                f'patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" y2="{gap:g}" '
                f'style="stroke: @line-0@; stroke-width: {1.2 + 0.14 * step:.2f}"/></pattern>'
            )
    return "<defs>" + "".join(made) + "</defs>"


def _key(y: float, width: float, key: str, titled: bool) -> tuple[list[str], float]:
    """What the hatching means, and that thickness is not to scale."""
    bounds = [f"{100 * step:.0f}" for step in STEPS]
    words = [f"under {bounds[0]} %", *(f"{a}–{b} %" for a, b in pairwise(bounds))]
    words.append(f"{bounds[-1]} % and more")
    parts = [_text(0, y + 16, "share of capacity filled (hatching), thickness not to scale")] if titled else []
    x, row = 0.0, y + (26.0 if titled else 4.0)
    for step, word in enumerate(words):
        need = 32.0 + _width(word) + 10.0
        if x + need > width:
            x, row = 0.0, row + 22.0
        box = f'x="{x + 1:.1f}" y="{row:.1f}" width="24" height="16"'
        if step:
            parts.append(f'<rect {box} fill="url(#{key}-w{step})"/>')
        parts.append(f'<rect {box} style="fill: none; stroke: @soft@; stroke-width: 1"/>')
        parts.append(_text(x + 31.0, row + 12.5, word))
        x += need
    return parts, row + 20.0 - y
