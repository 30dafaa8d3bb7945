"""A forecast becomes an archival PDF (asks for PDF/A-3a and PDF/UA-1). The only importer of typst."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from textwrap import shorten
from typing import Any

from bibula.forecast.result import Forecast
from bibula.quantities.errors import InputError, Place
from bibula.report.charts import Chart, Size, draw, font_folder
from bibula.report.contents import contents
from bibula.report.curves import charts
from bibula.report.formatting import check_units, unbroken
from bibula.report.numbers import forecast_json
from bibula.report.page import asset
from bibula.report.section import describe, draw_section

STANDARDS: Any = ["a-3a", "ua-1"]
PAPER = {"metric": "a4", "inch": "us-letter"}
PRINT_PX = 684.0
PAGES = 2  # as many as a usual sheet has
LOOSE: tuple[Size, ...] = ("print", "half", "half")
TIGHT: tuple[Size, ...] = ("print-low", "half-low", "half-low")


@dataclass(frozen=True)
class Layout:
    """What lies on page 1 ("work") or after it ("check"), and how close it is set.

    `when` and `taken` are the tables of moments and of absorbents, `limits` is what the forecast cannot say. With the
    log on page 1 the rest has page 2; with the log after everything the text runs on.
    """

    when: str = "work"
    taken: str = "work"
    limits: str = "work"
    log: str = "work"
    tight: bool = False
    log_page: bool = False


PLACES = (
    Layout(taken="check"),
    Layout(limits="check"),
    Layout(taken="check", limits="check"),
    Layout(when="check", taken="check"),
)
LAYOUTS = (  # the first that keeps to `PAGES` is taken, else the one of the last two that takes fewer pages
    *PLACES,
    *(replace(x, tight=True) for x in PLACES),
    Layout(log="check"),
    Layout(log="check", tight=True),
)


def render_pdf(forecast: Forecast, units: str = "metric", log_page: bool = False) -> bytes:
    """The bench sheet as PDF: A4 for metric, US Letter for inch; the forecast's numbers attached as JSON.

    Two pages for a usual sheet, with a log of at least eight rows. The same forecast gives the same bytes.

    Args:
        forecast: what to print.
        units: "metric" or "inch".
        log_page: a whole page of log more.

    Raises:
        InputError: `units` is neither, or a text holds a sign the fonts do not have.
    """
    chosen = check_units(units)
    data: dict[str, Any] = unbroken(contents(forecast, chosen).as_data())
    drawn = charts(forecast, chosen)
    section = draw_section(forecast, PRINT_PX, chosen, for_page=False)
    data["section"] = {"svg": section, "alt": describe(forecast, chosen)} if section else None
    data["short_name"] = shorten(forecast.object_name, 72, placeholder=" …")
    data["paper"] = PAPER[chosen]
    data["numbers"] = forecast_json(forecast)
    source = asset("sheet.typ")
    figures = {tight: _figures(drawn, TIGHT if tight else LOOSE) for tight in (False, True)}

    def laid(layout: Layout) -> dict[str, Any]:
        return {**data, "figures": figures[layout.tight], "layout": asdict(layout)}

    layout = _best(lambda x: count_pages(source, laid(x)))
    return compile_pdf(source, laid(replace(layout, log_page=log_page)), made_at(forecast.made))


def _best(pages_of: Callable[[Layout], int]) -> Layout:
    pages = []
    for layout in LAYOUTS:
        pages.append(pages_of(layout))
        if pages[-1] <= PAGES:
            return layout
    return LAYOUTS[-1] if pages[-1] < pages[-2] else LAYOUTS[-2]


def _figures(drawn: Sequence[Chart], sizes: Sequence[Size]) -> list[dict[str, str]]:
    return [{"svg": draw(chart, size), "alt": chart.alt} for chart, size in zip(drawn, sizes, strict=True)]


def made_at(made: str) -> datetime:
    """The date a document carries: the forecast's own, or 1 January 2000 where it has none, so that bytes repeat."""
    try:
        found = datetime.fromisoformat(made)
    except ValueError:
        return datetime(2000, 1, 1, tzinfo=UTC)
    return found if found.tzinfo else found.replace(tzinfo=UTC)


def compile_pdf(source: str, data: dict[str, Any], when: datetime) -> bytes:
    """Typeset `data` with a template that reads it as JSON from `sys.inputs.data`.

    Only the fonts that come with our libraries are used, so that every machine gives the same pages.
    """
    with _typesetter(source, data) as compiler:
        at = int(when.timestamp())
        pdf: Any = compiler.compile(source.encode(), format="pdf", pdf_standards=STANDARDS, timestamp=at)
    return bytes(pdf)


def count_pages(source: str, data: dict[str, Any]) -> int:
    """How many pages it would take; the template labels that number `<pages>`."""
    with _typesetter(source, data) as compiler:
        return int(json.loads(compiler.query("<pages>", field="value", one=True)))


@contextmanager
def _typesetter(source: str, data: dict[str, Any]) -> Iterator[Any]:
    """A compiler for one template and its data; a sign the fonts lack becomes one clear sentence."""
    import typst

    folders: Any = [font_folder()]
    try:
        yield typst.Compiler(
            source.encode(),
            sys_inputs={"data": json.dumps(data, ensure_ascii=False)},
            font_paths=folders,
            ignore_system_fonts=True,
        )
    except typst.TypstError as error:
        missing = _missing_sign(error.message)
        if missing is None:
            raise
        field = next((name for name, text in _texts(data) if missing in text), None)
        raise InputError(
            f"the sign {missing!r} (U+{ord(missing[0]):04X}) is not in the fonts of the printed sheet",
            "write the text with other letters, or use the HTML page",
            Place(field=field),
        ) from None


def _missing_sign(message: str) -> str | None:
    """The sign typst says no font has, or None if the error is about something else."""
    found = re.search(r'the text `"(.+?)"` could not be displayed', message)
    if not found:
        return None
    text = re.sub(r"\\u\{([0-9a-fA-F]+)\}", lambda m: chr(int(m[1], 16)), found[1])
    return text.replace("\\t", "\t").replace("\\n", "\n")


def _texts(data: Any, path: str = "") -> Iterator[tuple[str, str]]:
    """Every text of the data with the name of its field: `object_name`, `inputs[3].name`."""
    if isinstance(data, str):
        yield path, data
    elif isinstance(data, dict):
        for key, value in data.items():
            if key not in ("figures", "section", "numbers", "layout"):
                yield from _texts(value, f"{path}.{key}" if path else str(key))
    elif isinstance(data, list | tuple):
        for i, value in enumerate(data):
            yield from _texts(value, f"{path}[{i + 1}]")
