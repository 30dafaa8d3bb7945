"""`bibula forecast`: how a planned treatment will go, with its band."""

from __future__ import annotations

import argparse
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

from bibula.cli.progress import Steps
from bibula.cli.running import Ready, add_run_arguments, make_ready, tell, workers

if TYPE_CHECKING:
    from bibula.forecast.result import Forecast

WIDEST = 100


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the command."""
    add_run_arguments(parser)
    parser.add_argument("--json", metavar="FILE", help="also write every number of the forecast, in SI units")
    parser.add_argument("--out", metavar="FOLDER", help="also write the bench sheet, HTML and PDF, into this folder")


def run(args: argparse.Namespace) -> int:
    """Forecast, print, and write what was asked for."""
    from bibula.report.numbers import forecast_json
    from bibula.report.summary import summary
    from bibula.report.write import write_sheet, write_whole

    ready = make_ready(args)
    tell(ready.remarks)
    forecast = compute(ready, args.members, args.seed, args.workers)
    written: list[Path] = []
    if args.json:
        written += write_whole({Path(args.json): forecast_json(forecast).encode("utf-8")})
    if args.out:
        written += write_sheet(forecast, args.out, ready.units)
    print(summary(forecast, ready.units, width()), end="")
    if written:
        print("\nWritten:\n" + "\n".join(f"  {path}" for path in written))
    return 0


def compute(ready: Ready, members: int, seed: int, asked: int | None = None, title: str = "Forecast") -> Forecast:
    """The forecast of what is ready, with progress on the error stream."""
    from bibula.forecast.forecast import make_forecast

    with Steps(title) as steps, workers(ready.plan, members, asked) as executor:
        return make_forecast(
            ready.plan,
            ready.cards,
            members=members,
            seed=seed,
            logger=ready.logger,
            executor=executor,
            progress=steps,
            made=ready.made,
        )


def width() -> int:
    """Columns to print in."""
    return min(max(shutil.get_terminal_size((92, 24)).columns, 60), WIDEST)
