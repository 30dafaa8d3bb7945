"""`bibula sheet`: the bench sheet of a plan, to print and to keep."""

from __future__ import annotations

import argparse

from bibula.cli.forecast import compute
from bibula.cli.running import add_run_arguments, make_ready, tell


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the command."""
    add_run_arguments(parser)
    parser.add_argument("--out", default=".", metavar="FOLDER", help="where to write (default: here)")
    parser.add_argument("--log-page", action="store_true", help="a whole page of bench log more in the PDF")


def run(args: argparse.Namespace) -> int:
    """Forecast and write the sheet."""
    from bibula.report.write import write_sheet

    ready = make_ready(args)
    tell(ready.remarks)
    forecast = compute(ready, args.members, args.seed, args.workers, "Bench sheet")
    for path in write_sheet(forecast, args.out, ready.units, args.log_page):
        print(f"Written: {path}")
    return 0
