"""A forecast becomes one self-contained HTML page: no script, no outside file, light and dark, printable."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from jinja2 import Environment, FunctionLoader, StrictUndefined, Template
from markupsafe import Markup

from bibula.forecast.result import Forecast
from bibula.report.charts import Chart, draw
from bibula.report.contents import contents
from bibula.report.curves import charts
from bibula.report.formatting import check_units, duration, length, unbroken
from bibula.report.section import draw_section, pictures_of, share

WIDE_PX, NARROW_PX = 840.0, 352.0


@dataclass(frozen=True)
class Figure:
    """A drawing in two widths, with its words and its table (head first)."""

    title: str
    summary: str
    wide: Markup
    narrow: Markup
    table: tuple[tuple[str, ...], ...]


def render_page(forecast: Forecast, units: str = "metric") -> str:
    """The bench sheet as HTML text.

    Args:
        forecast: what to print.
        units: "metric" or "inch".

    Raises:
        InputError: `units` is neither.
    """
    chosen = check_units(units)
    section = None
    if forecast.pictures:
        wide, narrow = (
            _ours(draw_section(forecast, width, chosen, key=key))
            for width, key in ((WIDE_PX, "section-wide"), (NARROW_PX, "section-narrow"))
        )
        summary = (
            "Hatching and numbers give the share of each layer's capacity that is filled. Thickness is not to scale."
        )
        rows = tuple(
            (duration(p.time_s), p.stage, x.name, length(x.top_m - x.bottom_m, chosen), f"{share(x)} %")
            for p in pictures_of(forecast)
            for x in p.layers
        )
        head = ("after", "stage", "layer, from the table up", "thickness", "full to")
        section = Figure("Water in the stack", summary, wide, narrow, (head, *rows))
    return template("sheet.html.j2").render(
        c=unbroken(contents(forecast, chosen).as_data()),
        css=style(),
        figures=[page_figure(chart) for chart in charts(forecast, chosen)],
        section=section,
    )


def page_figure(chart: Chart) -> Figure:
    """A chart drawn for wide and for narrow screens."""
    return Figure(chart.title, chart.summary, _ours(draw(chart, "wide")), _ours(draw(chart, "narrow")), chart.table)


def style() -> Markup:
    """The style sheet, to stand inside a page."""
    return _ours(asset("sheet.css"))


def _ours(made_here: str) -> Markup:
    """Text made by this package, in which every word of a user has been escaped already."""
    return Markup(made_here)  # noqa: S704 - only drawings and the style sheet come here


@cache
def asset(name: str) -> str:
    """The text of a file in the report's template folder."""
    return (files("bibula.report") / "templates" / name).read_text(encoding="utf-8")


def template(name: str) -> Template:
    """A page template with escaping on; a name it does not know is an error, not a blank."""
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, loader=FunctionLoader(asset)
    )
    return environment.get_template(name)
