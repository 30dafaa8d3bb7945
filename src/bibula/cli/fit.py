"""`bibula fit`: make a material card from weighings."""

from __future__ import annotations

import argparse
import math
import sys
import time
from collections.abc import Callable
from pathlib import Path

from bibula.cards.files import write_card
from bibula.cards.words import in_words
from bibula.evidence.cardfit import CardFit, fit_card
from bibula.evidence.material_file import read_material
from bibula.evidence.summaries import Summary
from bibula.report.cardsheet import CardReport, CardRow, CardTest, card_page, card_summary
from bibula.report.write import write_whole

PATIENCE_S = 2.0
"""How long a fit stays silent before it says how far it is."""
STEP_S = 0.3
"""How often it says so."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    parser.add_argument("material", metavar="MATERIAL.toml", help="the description of the material and its tests")
    parser.add_argument("--out", metavar="CARD.toml", help="write the card there")
    parser.add_argument("--html", metavar="REPORT.html", help="write the card with its residuals as a page")
    parser.add_argument("--profile", action="store_true", help="also intervals from the profile of chi2")


def run(args: argparse.Namespace) -> int:
    """Read, fit, print; write what was asked for.

    Returns:
        0.

    Raises:
        InputError: as the reader of the description, the weighing files and the fit.
    """
    material, tests = read_material(args.material)
    progress = _progress()
    found = fit_card(material, tests, progress, profile=args.profile)
    progress(0, 0)
    report = report_of(found)
    print(card_summary(report), end="")
    if args.html:
        write_whole({Path(args.html): card_page(report).encode("utf-8")})
        print(f"Written: {args.html}")
    if args.out:
        write_card(found.card, args.out)
        print(f"Written: {args.out}")
    return 0


def _progress() -> Callable[[int, int], None]:
    """A line on standard error once the fit takes longer than two seconds; (0, 0) ends it."""
    begun = last = time.monotonic()
    shown = False

    def say(done: int, expected: int) -> None:
        nonlocal shown, last
        now = time.monotonic()
        if not expected:
            if shown:
                print(file=sys.stderr)
        elif now - begun > PATIENCE_S and (now - last > STEP_S or not shown):
            shown, last = True, now
            print(f"\rfitting: run {done} of about {expected}", end="", file=sys.stderr, flush=True)

    return say


def report_of(found: CardFit) -> CardReport:
    """The fit as the card sheet takes it."""
    card = found.card
    rows = tuple(
        CardRow(in_words(key), v.value, v.u, v.unit, v.origin, v.source if v.origin != "assumed" else "")
        for key, v in card.values.items()
    )
    series = (t for t in found.tests if t.kind in {"uptake", "contact", "air drying"})
    tests = tuple(
        CardTest(
            t.name,
            [float(x) for x in t.x],
            [1e3 * float(m) for m in t.observed],
            [1e3 * float(m) for m in t.fitted],
            "g",
        )
        for t in series
    )
    return CardReport(
        name=card.name,
        rows=rows,
        correlations=tuple((in_words(a), in_words(b), r) for (a, b), r in card.correlations.items()),
        tests=tests,
        kind=card.kind,
        lot=card.lot,
        date=card.date,
        notes=(*card.notes, *_points(found), *map(_summary, found.summaries), *_profiles(found), *_files(found)),
        cautions=tuple(map(in_words, found.warnings)),
        citations=tuple(dict.fromkeys(key for s in found.summaries for key in s.sources)),
        version=f"Bibula {found.code_version}",
    )


def _points(found: CardFit) -> list[str]:
    """Readings of the tests that have no time axis, one sentence a test."""
    out = []
    for t in found.tests:
        if t.kind in {"sealed rest", "conditioning"}:
            worst = max(abs(float(r)) for r in t.residuals)
            out.append(f"{t.name}: {len(t.x)} readings, the largest difference is {worst:.1f} standard uncertainties.")
    return out


def _summary(s: Summary) -> str:
    band = f" (95 %: {s.low:.3g} to {s.high:.3g})" if math.isfinite(s.low + s.high) else ""
    return f"Without the model: {s.quantity} {s.value:.4g} {s.unit}{band}; {s.method}."


def _profiles(found: CardFit) -> list[str]:
    return [
        f"{in_words(p.name)}: 95 % from the profile of chi2: "
        f"{p.low:.4g} to {p.high:.4g} {found.card.values[p.name].unit}."
        for p in found.profiles.values()
    ]


def _files(found: CardFit) -> list[str]:
    return [f"Readings: {name}, SHA-256 {digest}." for name, digest in found.files if digest]
