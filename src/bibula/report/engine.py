"""A forecast becomes an archival PDF (asks for PDF/A-3a and PDF/UA-1). The only importer of typst."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from textwrap import shorten
from typing import Any

from bibula.forecast.result import Forecast
from bibula.quantities.errors import InputError, Place
from bibula.report.charts import Chart, Size, draw, font_folder
from bibula.report.contents import contents
from bibula.report.curves import charts
from bibula.report.formatting import check_units
from bibula.report.numbers import forecast_json
from bibula.report.page import asset
from bibula.report.section import describe, draw_section

STANDARDS: Any = ["a-3a", "ua-1"]
PAPER = {"metric": "a4", "inch": "us-letter"}
PRINT_PX = 684.0
PAGES = 2  # as many as a usual sheet has; one that would run over is tried with lower charts
LOOSE: tuple[Size, ...] = ("print", "half", "half")
TIGHT: tuple[Size, ...] = ("print-low", "half-low", "half-low")


def render_pdf(forecast: Forecast, units: str = "metric") -> bytes:
    """The bench sheet as PDF: A4 for metric, US Letter for inch; the forecast's numbers attached as JSON.

    Two pages for a usual sheet. The same forecast gives the same bytes.

    Raises:
        InputError: `units` is neither "metric" nor "inch", or a text holds a sign the fonts do not have.
    """
    chosen = check_units(units)
    data: dict[str, Any] = _unbroken(contents(forecast, chosen).as_data())
    drawn = charts(forecast, chosen)
    section = draw_section(forecast, PRINT_PX, chosen, for_page=False)
    data["section"] = {"svg": section, "alt": describe(forecast, chosen)} if section else None
    data["short_name"] = shorten(forecast.object_name, 72, placeholder=" …")
    data["paper"] = PAPER[chosen]
    data["numbers"] = forecast_json(forecast)
    when = made_at(forecast.made)
    roomy, pages = compile_pdf(asset("sheet.typ"), _with_charts(data, drawn, LOOSE), when)
    if pages <= PAGES:
        return roomy
    low, pages = compile_pdf(asset("sheet.typ"), _with_charts(data, drawn, TIGHT), when)
    return low if pages <= PAGES else roomy


def _with_charts(data: dict[str, Any], drawn: Sequence[Chart], sizes: Sequence[Size]) -> dict[str, Any]:
    figures = [{"svg": draw(chart, size), "alt": chart.alt} for chart, size in zip(drawn, sizes, strict=True)]
    return {**data, "figures": figures, "tight": sizes is TIGHT}


def _unbroken(data: Any) -> Any:
    """The same data with numbers and their units on one line: a no-break space between them."""
    if isinstance(data, str):
        return re.sub(r"(?<=[0-9]) (?=(%|g/m²|min|h|s|days|mm|in|kPa|°C|°F)(?![A-Za-z]))", "\u00a0", data)
    if isinstance(data, dict):
        return {key: _unbroken(value) for key, value in data.items()}
    return [_unbroken(value) for value in data] if isinstance(data, list | tuple) else data


def made_at(made: str) -> datetime:
    """The date a document carries: the forecast's own, or 1 January 2000 where it has none, so that bytes repeat."""
    try:
        found = datetime.fromisoformat(made)
    except ValueError:
        return datetime(2000, 1, 1, tzinfo=UTC)
    return found if found.tzinfo else found.replace(tzinfo=UTC)


def compile_pdf(source: str, data: dict[str, Any], when: datetime) -> tuple[bytes, int]:
    """Typeset `data` with a template that reads it as JSON from `sys.inputs.data`: the PDF and its number of pages.

    Only the fonts that come with our libraries are used, so that every machine gives the same pages. The template
    labels its number of pages `<pages>`.
    """
    import typst

    folders: Any = [font_folder()]
    try:
        compiler = typst.Compiler(
            source.encode(),
            sys_inputs={"data": json.dumps(data, ensure_ascii=False)},
            font_paths=folders,
            ignore_system_fonts=True,
        )
        pages = json.loads(compiler.query("<pages>", field="value", one=True))
        at = int(when.timestamp())
        pdf: Any = compiler.compile(source.encode(), format="pdf", pdf_standards=STANDARDS, timestamp=at)
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
    return bytes(pdf), int(pages)


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
            if key not in ("figures", "section", "numbers"):
                yield from _texts(value, f"{path}.{key}" if path else str(key))
    elif isinstance(data, list | tuple):
        for i, value in enumerate(data):
            yield from _texts(value, f"{path}[{i + 1}]")
