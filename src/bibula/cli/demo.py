"""`bibula demo`: the whole way on an invented example, from weighings to bench sheets."""

from __future__ import annotations

import argparse
import os
import sys
import webbrowser
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from bibula.cli.forecast import compute, width
from bibula.cli.progress import Steps
from bibula.cli.running import FEWEST, Ready, make_ready, workers
from bibula.quantities.errors import InputError, Place

if TYPE_CHECKING:
    from bibula.demo.studio import Fitted
    from bibula.forecast.result import Forecast
    from bibula.forecast.update import Update

FOLDER = "bibula-demo"
INVENTED = "INVENTED EXAMPLE: the studio, its objects, materials and readings are made up."
SHOWN = (
    ("capacity_kg_m3", 1.0, "kg/m3", "holds when full"),
    ("absorption_kg_m2s05", 1.0, "kg/(m2 s^0.5)", "drinks, A_w"),
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the command."""
    parser.add_argument("--data", metavar="FOLDER", help=f"where to put the example (default: {FOLDER}, here)")
    parser.add_argument("--members", type=int, default=200, metavar="N", help="runs of the main ensemble (default 200)")
    parser.add_argument("--no-open", action="store_true", help="do not open the bench sheet in a browser at the end")


def run(args: argparse.Namespace) -> int:
    """Copy, fit, forecast, correct, write; say at every step what was done."""
    from bibula.demo import studio
    from bibula.report.write import write_sheet

    if args.members < FEWEST:
        raise InputError(f"{args.members} members give no band", f"give {FEWEST} or more", Place(field="--members"))
    folder = Path(args.data) if args.data else default_folder()
    kept = studio.copy_studio(folder)
    say(INVENTED, "", f"The example lies in {folder.resolve()}")
    say(*(f"  kept as you have it: {name}" for name in kept))

    heading("1. From weighings to cards")
    say(*fitted_lines(_fit(folder, studio.MATERIALS)))

    heading("2. What a plan may not do")
    say(_refusal(folder / "plans" / studio.REFUSED_PLAN))

    heading("3. Forecasts")
    few = max(FEWEST, args.members // 5)
    main = _ready(folder / "plans" / studio.MAIN_PLAN, args.members)
    forecasts = [compute(main, args.members, 1, title=f"Forecast of {main.plan.object.name}")]
    for name in studio.OTHER_PLANS:
        ready = _ready(folder / "plans" / name, few)
        forecasts.append(compute(ready, few, 1, title=f"Forecast of {ready.plan.object.name}"))
    say(*forecast_lines(forecasts[0], whole=True))
    for forecast in forecasts[1:]:
        say("", *forecast_lines(forecast, whole=False))

    heading("4. What was seen at the bench corrects the forecast")
    update = _update(main, folder / "plans" / studio.OBSERVATIONS, max(FEWEST, args.members // 2))
    say(*corrected_lines(update))

    sheets = []
    with Steps("Drawing the bench sheets") as steps:
        for done, forecast in enumerate(forecasts):
            steps(done, len(forecasts) + 1)
            sheets.append(write_sheet(forecast, folder / "sheets", main.units))
        steps(len(forecasts), len(forecasts) + 1)
        write_sheet(update.forecast, folder / "sheets" / "corrected", main.units)
    heading("What to look at next")
    say(*next_lines(folder.resolve(), sheets[0][0].resolve()))
    if not args.no_open and sys.stdout.isatty():
        webbrowser.open(sheets[0][0].resolve().as_uri())
    return 0


def default_folder() -> Path:
    """`bibula-demo` below the folder one stands in, or below the documents where that cannot be written."""
    here = Path(FOLDER)
    if here.exists() or os.access(Path.cwd(), os.W_OK):
        return here
    import platformdirs

    return Path(platformdirs.user_documents_dir()) / FOLDER


def say(*lines: str) -> None:
    """Print lines no wider than the terminal; leading blanks are indents."""
    from bibula.report.summary import wrapped

    for line in lines:
        indent = line[: len(line) - len(line.lstrip())]
        print("\n".join(wrapped(line.strip(), width(), indent, indent + "  ")) if line.strip() else "")
    sys.stdout.flush()


def heading(text: str) -> None:
    """A title with a rule below it."""
    say("", text, "-" * len(text))


def _fit(folder: Path, names: Iterable[str]) -> list[Fitted]:
    from bibula.demo.studio import fit_material

    found = []
    with Steps("Fitting cards") as steps:
        for name in names:
            steps.rename(f"Fitting {name}")
            found.append(fit_material(folder, name, steps))
    return found


def _ready(plan: Path, members: int) -> Ready:
    return make_ready(
        argparse.Namespace(plan=plan, cards=[], members=members, units=None, workers=None, begin=None, seed=1)
    )


def _refusal(plan: Path) -> str:
    """The sentence with which a plan is refused."""
    try:
        _ready(plan, FEWEST)
    except InputError as refused:
        return f"  Refused, as it must be: {refused.sentence()}"
    return f"  {plan} is no longer refused: you have changed it."


def _update(main: Ready, file: Path, members: int) -> Update:
    from bibula.forecast.bench import bench_observations
    from bibula.forecast.update import update_forecast
    from bibula.plan.observed import read_observed

    bench, _ = read_observed(file)
    observed, _ = bench_observations(main.plan, main.cards, bench)
    with Steps("Correcting the forecast", passes=3) as steps, workers(main.plan, members, passes=3) as pool:
        return update_forecast(
            main.plan, main.cards, observed, members=members, executor=pool, progress=steps, made=main.made
        )


def fitted_lines(fitted: Iterable[Fitted]) -> Iterable[str]:
    """What each fit found, beside what was put in when the weighings were invented."""
    from bibula.quantities.printed import with_u

    for one in fitted:
        card = one.fit.card
        yield f"{card.name}: {one.readings} readings"
        for key, scale, unit, words in SHOWN:
            value = card.values[key]
            truth = f"; put in: {scale * one.truth[key]:.3g}" if key in one.truth else ""
            yield f"    {words}: {with_u(scale * value.value, scale * value.u)} {unit} ({value.origin}{truth})"
        yield f"    measured: {len(one.fit.measured)} of {len(card.values)} values; the rest stays assumed"


def forecast_lines(forecast: Forecast, whole: bool) -> Iterable[str]:
    """The answers of a forecast; for the main one also what to do and when."""
    from bibula.report.contents import contents

    c = contents(forecast)
    yield f"{c.object_name}: {c.title} ({forecast.members} runs)"
    for row in c.headline:
        yield f"    {row.name}: {row.value}" + (f" ({row.origin})" if row.origin else "")
    yield f"    overnight: {c.overnight}"
    for caution in c.cautions:
        if caution.level in {"stop", "override"} or (whole and caution.level == "caution"):
            yield f"    {caution.word}: {caution.text} ({caution.why})"
    if whole:
        for step in c.steps:
            yield f"    [ ] {step.when}  {step.text}"
        for use in c.absorbents:
            yield f"    {use.layer} ({use.stage}): {use.advice}"


def corrected_lines(update: Update) -> Iterable[str]:
    """What the observations say, and the milestones before and after."""
    from bibula.report.formatting import about

    fits = "fits the model" if update.fits else "does NOT fit the model"
    yield f"{update.degrees} observations: the run {fits} ({100 * update.p_value:.0f} % of sound runs lie as far off)."
    former = {m.key: m for m in update.former}
    for m in update.forecast.milestones:
        if m.key in {"window_closes", "handleable", "release"}:
            before = former[m.key]
            yield f"    {m.label}: {about(m.time_s, m.low_s, m.high_s)}"
            yield f"        before: {about(before.time_s, before.low_s, before.high_s)}"


def next_lines(folder: Path, sheet: Path) -> Iterable[str]:
    """Where everything lies, and how to do the same with one's own files."""
    me = "python3 start.py" if Path(sys.argv[0]).name == "__main__.py" else "bibula"
    yield f"  {sheet} (and the PDF beside it): the bench sheet to print"
    yield f"  {folder / 'sheets' / 'corrected'}: the same after the correction"
    yield f"  {folder / 'cards'}: the cards, readable text"
    yield f"  {folder / 'materials'}, {folder / 'plans'}: copy one and put your own in its place"
    yield ""
    yield "The same with your own files:"
    yield f"  {me} fit my-slab/material.toml --out cards/my-slab.toml"
    yield f"  {me} plan new --template slab-felt --out my-plan.toml"
    yield f"  {me} plan check my-plan.toml"
    yield f"  {me} forecast my-plan.toml --cards cards --out sheets"
    yield f"  {me} update my-plan.toml my-observations.toml --cards cards"
    yield ""
    yield (
        "A forecast is a help for the responsible conservator's decision, never the decision itself: test media and "
        "sizing on the object first, and follow local rules."
    )
