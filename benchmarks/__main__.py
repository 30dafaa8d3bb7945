"""Run the benchmarks and print them, or write them as JSON."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

from benchmarks import ensembles, fits, stage, starts
from benchmarks.measure import Figure, yardstick_ms

CASES: dict[str, Callable[[], Iterator[Figure]]] = {
    "stage": stage.figures,
    "ensembles": ensembles.figures,
    "fit": fits.figures,
    "starts": starts.figures,
}


def _row(figure: Figure) -> dict[str, object]:
    return {
        "name": figure.name,
        "value": figure.value,
        "unit": figure.unit,
        "goal": figure.goal,
        "stretch": figure.stretch,
        "met": figure.met,
    }


def _line(figure: Figure) -> str:
    sign = "≥" if figure.at_least else "≤"
    goal = "" if figure.goal is None else f"  goal {sign} {figure.goal:g}"
    stretch = "" if figure.stretch is None else f", stretch {sign} {figure.stretch:g}"
    verdict = {True: "  met", False: "  NOT MET", None: ""}[figure.met]
    return f"{figure.name:62s} {figure.value:10.4g} {figure.unit:5s}{goal}{stretch}{verdict}"


def main() -> int:
    """The command."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks", description=__doc__)
    parser.add_argument("names", nargs="*", choices=[[], *CASES], help="which ones (default: all)")
    parser.add_argument("--json", action="store_true", help="print a list of figures as JSON")
    parser.add_argument("--plot", metavar="FOLDER", help="draw cost against nodes, stages and members there")
    args = parser.parse_args()
    found = [
        Figure("yardstick: fixed arithmetic on this machine", yardstick_ms(), "ms"),
        Figure("processors", float(os.cpu_count() or 1), "1"),
    ]
    for name in args.names or CASES:
        for figure in CASES[name]():
            found.append(figure)
            print(_line(figure), file=sys.stderr if args.json else sys.stdout, flush=True)
    found.append(Figure("yardstick again, at the end", yardstick_ms(), "ms"))
    if args.json:
        print(json.dumps([_row(f) for f in found], indent=1))
    else:
        print(_line(found[0]))
        print(_line(found[-1]))
    if args.plot:
        from benchmarks.plots import draw

        draw(Path(args.plot))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
