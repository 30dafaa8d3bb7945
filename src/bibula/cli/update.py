"""`bibula update`: correct a forecast with what was seen and weighed at the bench."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from functools import partial
from typing import TYPE_CHECKING

from bibula.cli.forecast import width
from bibula.cli.progress import Steps
from bibula.cli.running import add_run_arguments, make_ready, tell, workers

if TYPE_CHECKING:
    from bibula.forecast.result import Milestone
    from bibula.forecast.update import Update

PASSES = 3
"""How often the ensemble is run: before the correction and twice for it."""
RESIDUAL_UNITS = {
    "object weight": (1000.0, "g/m2 of water"),
    "absorbent weight": (1000.0, "g/m2 gained"),
    "witness weight": (1.0, "of dry mass"),
    "surface temperature": (1.0, "K"),
    "seen": (1.0, "of dry mass"),
}
SHOWN = 8
"""At most so many informed numbers are printed."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the command."""
    add_run_arguments(parser)
    parser.add_argument("observations", help="what was seen and weighed, see docs/observations.md")
    parser.add_argument("--out", metavar="FOLDER", help="also write the corrected bench sheet into this folder")


def run(args: argparse.Namespace) -> int:
    """Correct and print; 0 also where the run no longer fits: that is an answer."""
    from bibula.forecast.bench import bench_observations
    from bibula.forecast.update import update_forecast
    from bibula.plan.observed import place_of_observation, read_observed
    from bibula.report.summary import wrapped
    from bibula.report.write import write_sheet

    ready = make_ready(args)
    bench, text = read_observed(args.observations)
    locate = partial(place_of_observation, text, str(args.observations))
    observed, remarks = bench_observations(ready.plan, ready.cards, bench, locate)
    tell((*ready.remarks, *remarks))
    with (
        Steps("Correcting the forecast", passes=PASSES) as steps,
        workers(ready.plan, args.members, args.workers, PASSES) as pool,
    ):
        update = update_forecast(
            ready.plan,
            ready.cards,
            observed,
            members=args.members,
            seed=args.seed,
            logger=ready.logger,
            executor=pool,
            progress=steps,
            made=ready.made,
        )
    written = write_sheet(update.forecast, args.out, ready.units) if args.out else ()
    columns = width()
    invented = ready.plan.invented or bench.invented
    for line in update_lines(update, invented):
        indent = line[: len(line) - len(line.lstrip())]
        print("\n".join(wrapped(line.strip(), columns, indent, indent + "    ")) if line else "")
    for path in written:
        print(f"Written: {path}")
    return 0


def update_lines(update: Update, invented: bool) -> Iterator[str]:
    """What a corrected forecast has to say, in lines; leading blanks are indents."""
    from bibula.forecast.doubt import doubt_sentence
    from bibula.report.formatting import about

    f = update.forecast
    yield from (["*** INVENTED EXAMPLE: no real object, material or reading stands behind this. ***"] * invented)
    yield f"{f.object_name}: {f.title}"
    yield ""
    if update.fits:
        yield (
            f"This run fits the model: {100 * update.p_value:.0f} % of sound runs would lie at least as far off. "
            "The forecast below is corrected by what was seen."
        )
    else:
        yield "CAUTION: " + doubt_sentence(update.p_value)
    yield ""
    yield "What was seen, beside what the model had expected:"
    for what, seen, expected, u in update.residuals:
        yield "  - " + _residual(what, seen, expected, u)
    yield ""
    yield "What was learned (median, 95 % band):" if update.informed else "What was learned: nothing new."
    for i in update.informed[:SHOWN]:
        unit = "" if i.after.unit == "1" else f" {i.after.unit}"
        yield (
            f"  - {i.name}: {i.before.median:.3g} ({i.before.low:.3g} to {i.before.high:.3g}) before, "
            f"now {i.after.median:.3g} ({i.after.low:.3g} to {i.after.high:.3g}){unit}"
        )
    if len(update.informed) > SHOWN:
        yield f"  - and {len(update.informed) - SHOWN} more"
    yield ""
    yield "When, corrected, and what was forecast before:"
    former: dict[str, Milestone] = {m.key: m for m in update.former}
    for m in f.milestones:
        before = former[m.key]
        yield f"  - {m.label}: {about(m.time_s, m.low_s, m.high_s)}"
        yield f"      before: {about(before.time_s, before.low_s, before.high_s)}"
    yield ""
    yield f"Overnight: {f.overnight}"
    for caution in f.cautions:
        if caution.level == "stop":
            yield f"STOP: {caution.text} {caution.why} [{caution.source}]"
    yield "A forecast is a help: the responsible conservator decides, and what is seen at the bench comes first."


def _residual(what: str, seen: float, expected: float, u: float) -> str:
    kind = what.split(" at ", maxsplit=1)[0]
    scale, unit = RESIDUAL_UNITS.get(kind, (1.0, ""))
    away = abs(seen - expected) / u if u > 0.0 else 0.0
    far = f", {away:.1f} times the standard uncertainty off" if away > 1.0 else ", as expected"
    digits = 0 if scale > 1.0 else 2
    return f"{what}: {scale * seen:.{digits}f}, expected {scale * expected:.{digits}f} {unit}{far}"
