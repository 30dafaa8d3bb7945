"""Writers of weighing files as studios really have them: separators, clocks, units, encodings.

Used once by `make_studio`; what reads such files is `bibula.intake`.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from xml.sax.saxutils import escape

INVENTED = "INVENTED example: no real material was weighed"
START = datetime(2031, 3, 14, 22, 20)  # noqa: DTZ001  a studio's clock has no zone

Writer = Callable[[Sequence[int], Sequence[float]], bytes]
"""Times in whole s and masses in g, to the bytes of a file."""


def comma(value: float, digits: int = 2) -> str:
    """A number with a decimal comma."""
    return f"{value:.{digits}f}".replace(".", ",")


def semicolons(times: Sequence[int], grams: Sequence[float]) -> bytes:
    """Semicolons, decimal commas, keys before the table."""
    rows = [f"Note;{INVENTED}", "Balance;two decimals", "", "time [s];mass [g]"]
    return _lines(rows + [f"{t};{comma(m)}" for t, m in zip(times, grams, strict=True)])


def tabs_stopwatch(times: Sequence[int], grams: Sequence[float]) -> bytes:
    """Tabs, a stopwatch in minutes and seconds."""
    rows = [f"# {INVENTED}", "time [mm:ss]\tsheet mass [g]"]
    return _lines(rows + [f"{t // 60:02d}:{t % 60:02d}\t{m:.2f}" for t, m in zip(times, grams, strict=True)])


def units_in_cells(times: Sequence[int], grams: Sequence[float]) -> bytes:
    """Units in the cells, and a mark for steady readings; the third is unsteady, too heavy, and not to be used."""
    rows = [f"# {INVENTED}", "time,mass,status"]
    for i, (t, m) in enumerate(zip(times, grams, strict=True)):
        if i == 2:
            rows.append(f"{t - 2} s,{m + 1.87:.2f} g,unstable")
        rows.append(f"{t} s,{m:.2f} g,stable")
    return _lines(rows)


def wide_letters(times: Sequence[int], grams: Sequence[float]) -> bytes:
    """Saved by a spreadsheet as "Unicode text": UTF-16 with tabs."""
    rows = [f"Note:\t{INVENTED}", "time [min]\tmass [g]"]
    rows += [f"{t / 60:.2f}\t{m:.2f}" for t, m in zip(times, grams, strict=True)]
    return b"\xff\xfe" + ("\r\n".join(rows) + "\r\n").encode("utf-16-le")


def blanks(times: Sequence[int], grams: Sequence[float]) -> bytes:
    """Columns set with blanks, as typed by hand."""
    rows = [f"# {INVENTED}", "t / min    m / g"]
    return _lines(rows + [f"{t / 60:<10.2f} {m:.2f}" for t, m in zip(times, grams, strict=True)])


def past_midnight(times: Sequence[int], grams: Sequence[float]) -> bytes:
    """Times of day without dates, over midnight; German names."""
    rows = [f"# {INVENTED}", "Uhrzeit;Masse [g]"]
    stamps = [START + timedelta(seconds=t) for t in times]
    return _lines(rows + [f"{s:%H:%M};{comma(m)}" for s, m in zip(stamps, grams, strict=True)])


def french(times: Sequence[int], grams: Sequence[float]) -> bytes:
    """French names with accents, minutes with decimal commas."""
    rows = [f"# {INVENTED}", "Durée (min);Poids (g)"]
    return _lines(rows + [f"{comma(t / 60)};{comma(m)}" for t, m in zip(times, grams, strict=True)])


def dates(times: Sequence[int], grams: Sequence[float]) -> bytes:
    """Date and time of day in two columns."""
    rows = [f"# {INVENTED}", "Datum;Uhrzeit;Gewicht in g"]
    stamps = [START + timedelta(seconds=t) for t in times]
    return _lines(rows + [f"{s:%d.%m.%Y};{s:%H:%M:%S};{comma(m)}" for s, m in zip(stamps, grams, strict=True)])


def milligrams(times: Sequence[int], grams: Sequence[float]) -> bytes:
    """Milligrams, commas, one reading forgotten."""
    rows = [f"# {INVENTED}", "time [s],mass [mg]"]
    rows += [f"{t},{1000 * m:.0f}" for t, m in zip(times, grams, strict=True)]
    rows.insert(5, f"{times[2] + 30},")
    return _lines(rows)


def workbook(times: Sequence[int], grams: Sequence[float]) -> bytes:
    """A workbook of one sheet (Office Open XML), hours and kilograms; the same bytes every time."""
    table: list[list[str | float]] = [[INVENTED], ["elapsed [h]", "mass [kg]"]]
    table += [[round(t / 3600, 4), round(m / 1000, 5)] for t, m in zip(times, grams, strict=True)]
    rows = "".join(
        f'<row r="{i}">' + "".join(_cell(f"{'AB'[j]}{i}", value) for j, value in enumerate(row)) + "</row>"
        for i, row in enumerate(table, start=1)
    )
    head = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
    base = "http://schemas.openxmlformats.org"
    main, package = f"{base}/spreadsheetml/2006/main", f"{base}/package/2006"
    links = f"{base}/officeDocument/2006/relationships"
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml"
    parts = {
        "[Content_Types].xml": f'<Types xmlns="{package}/content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        f'<Override PartName="/xl/workbook.xml" ContentType="{kind}.sheet.main+xml"/>'
        f'<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{kind}.worksheet+xml"/></Types>',
        "_rels/.rels": f'<Relationships xmlns="{package}/relationships">'
        f'<Relationship Id="r1" Type="{links}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook xmlns="{main}" xmlns:r="{links}">'
        '<sheets><sheet name="weighings" sheetId="1" r:id="r1"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{package}/relationships">'
        f'<Relationship Id="r1" Type="{links}/worksheet" Target="worksheets/sheet1.xml"/></Relationships>',
        "xl/worksheets/sheet1.xml": f'<worksheet xmlns="{main}"><sheetData>{rows}</sheetData></worksheet>',
    }
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, text in parts.items():
            archive.writestr(zipfile.ZipInfo(name, (2031, 3, 14, 12, 0, 0)), head + text)
    return out.getvalue()


def _cell(address: str, value: str | float) -> str:
    if isinstance(value, str):
        return f'<c r="{address}" t="inlineStr"><is><t>{escape(value)}</t></is></c>'
    return f'<c r="{address}"><v>{value}</v></c>'


def _lines(rows: Sequence[str]) -> bytes:
    return ("\n".join(rows) + "\n").encode("utf-8")
