"""A fitted card to read: estimates, uncertainties, origins, correlations, residuals, and what stayed assumed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bibula.quantities.printed import with_u
from bibula.report.charts import Chart, Points
from bibula.report.contents import DEFER, INVENTED
from bibula.report.curves import panel
from bibula.report.formatting import duration, significant
from bibula.report.page import Figure, page_figure, style, template
from bibula.report.summary import wrapped

ASSUMED_NOTE = (
    "These were not determined by the tests. They keep the value of the material's class, and forecasts carry it."
)


@dataclass(frozen=True)
class CardRow:
    """One property of the card. `u` is the standard uncertainty, in `unit`; `origin` as on the card."""

    name: str
    value: float
    u: float
    unit: str
    origin: str
    source: str = ""


@dataclass(frozen=True)
class CardTest:
    """One test: when it was read (s), what was seen and what the fit says, both in `unit`, equally long."""

    name: str
    time_s: Sequence[float]
    observed: Sequence[float]
    fitted: Sequence[float]
    unit: str


@dataclass(frozen=True)
class CardReport:
    """What a sheet about a fitted card needs; nothing of it is fitted here."""

    name: str
    rows: tuple[CardRow, ...]
    correlations: tuple[tuple[str, str, float], ...] = ()
    tests: tuple[CardTest, ...] = ()
    kind: str = ""
    lot: str = ""
    date: str = ""
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    citations: tuple[str, ...] = ()
    version: str = ""
    invented: bool = False


@dataclass(frozen=True)
class CardLine:
    """One property as text."""

    name: str
    value: str
    origin: str


def card_lines(report: CardReport) -> tuple[CardLine, ...]:
    """Every property with its standard uncertainty and where it is from."""
    return tuple(CardLine(r.name, with_u(r.value, r.u, r.unit), _origin(r)) for r in report.rows)


def stayed_assumed(report: CardReport) -> tuple[str, ...]:
    """The properties that no test and no publication gives."""
    return tuple(r.name for r in report.rows if r.origin == "assumed")


def strong_correlations(report: CardReport) -> tuple[tuple[str, str, str, str], ...]:
    """The pairs, strongest first, with a word where two can hardly be told apart (above 0.95, from memory)."""
    ordered = sorted(report.correlations, key=lambda c: -abs(c[2]))
    return tuple((a, b, f"{r:+.2f}", "hardly told apart" if abs(r) > 0.95 else "") for a, b, r in ordered)


def residual_chart(test: CardTest, key: str) -> Chart:
    """Observed less fitted against time, with the zero line."""
    residual = tuple(float(o) - float(f) for o, f in zip(test.observed, test.fitted, strict=True))
    worst = max((abs(r) for r in residual), default=0.0)
    story = f"{len(residual)} readings; the largest difference is {significant(worst, 2)} {test.unit}."
    body = tuple(
        (duration(float(t)), significant(float(o)), significant(float(f)), significant(r, 2))
        for t, o, f, r in zip(test.time_s, test.observed, test.fitted, residual, strict=True)
    )
    return Chart(
        key=key,
        title=f"{test.name}: observed less fitted",
        y_label=f"difference, {test.unit}",
        panels=(panel(0.0, 1.05 * max((float(t) for t in test.time_s), default=1.0) or 1.0),),
        lines=(),
        points=(Points("observed less fitted", tuple(float(t) for t in test.time_s), residual),),
        levels=(("fits exactly", 0.0),),
        from_zero=False,
        alt=f"Residuals of the test {test.name} against time. {story}",
        summary=story,
        table=(("time", f"observed, {test.unit}", f"fitted, {test.unit}", f"difference, {test.unit}"), *body),
    )


def card_page(report: CardReport) -> str:
    """The card as one self-contained HTML page."""
    figures: list[Figure] = [page_figure(residual_chart(t, f"test{i + 1}")) for i, t in enumerate(report.tests)]
    return template("card.html.j2").render(
        card=report,
        css=style(),
        invented=INVENTED if report.invented else "",
        defer=DEFER,
        lines=card_lines(report),
        correlations=strong_correlations(report),
        assumed=stayed_assumed(report),
        assumed_note=ASSUMED_NOTE,
        figures=figures,
    )


def card_summary(report: CardReport, width: int = 92) -> str:
    """The card as plain text for a terminal."""
    about = ", ".join(
        x for x in (report.kind, f"lot {report.lot}" if report.lot else "", report.date, report.version) if x
    )
    lines = wrapped(f"*** {INVENTED} ***", width) if report.invented else []
    lines += [
        *wrapped(report.name, width),
        *(wrapped(about, width) if about else []),
        "",
        "ESTIMATES (± standard uncertainty)",
    ]
    for line in card_lines(report):
        lines += wrapped(f"{line.name}: {line.value} [{line.origin}]", width, "- ")
    if assumed := stayed_assumed(report):
        lines += ["", "STAYED ASSUMED", *wrapped(f"{', '.join(assumed)}. {ASSUMED_NOTE}", width)]
    if report.correlations:
        lines += ["", "CORRELATIONS"]
        for a, b, r, word in strong_correlations(report):
            lines += wrapped(f"{a} with {b}: {r}{', ' + word if word else ''}", width, "- ")
    if report.tests:
        lines += ["", "TESTS"]
        for i, test in enumerate(report.tests):
            lines += wrapped(f"{test.name}: {residual_chart(test, str(i)).summary}", width, "- ")
    for title, texts in (("CAUTIONS", report.cautions), ("NOTES", report.notes), ("SOURCES", report.citations)):
        if texts:
            lines += ["", title, *(x for text in texts for x in wrapped(text, width, "- "))]
    return "\n".join([*lines, "", *wrapped(DEFER, width)]) + "\n"


def _origin(row: CardRow) -> str:
    return f"{row.origin}: {row.source}" if row.source else row.origin
