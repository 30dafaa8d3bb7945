"""What forecast, sheet and update share: their options, what they read, where the members run."""

from __future__ import annotations

import argparse
import os
import signal
import sys
from collections.abc import Iterator, Mapping
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from bibula.quantities.errors import InputError, Place

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from bibula.cards.model import Card
    from bibula.plan.model import Plan

FEWEST = 20
THREADS_PAY_FROM, PROCESSES_PAY_FROM = 100, 1000
"""Members times stages from which more threads, or more processes, pay for themselves.

Measured with two workers: a member's stage takes about 5 ms (8 ms the official way), a thread starts at
once, a process has to import everything first and takes 2 to 3 s.
"""


@dataclass(frozen=True)
class Ready:
    """A plan that may be computed, with all it needs.

    Attributes:
        plan: read and not refused.
        cards: the starting cards, the plan's and those named on the command line, by name.
        logger: rows of time s from the plan's start, temperature C, humidity (share), or None.
        units: "metric" or "inch".
        made: date and time, ISO.
        remarks: what the user should know, one sentence each.
    """

    plan: Plan
    cards: Mapping[str, Card]
    logger: NDArray[np.float64] | None
    units: str
    made: str
    remarks: tuple[str, ...] = ()


def add_run_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of every command that runs a plan."""
    parser.add_argument("plan", help="the plan file")
    parser.add_argument(
        "--cards", action="append", default=[], metavar="PATH", help="more card files or folders; may be repeated"
    )
    parser.add_argument("--members", type=int, default=200, metavar="N", help="runs of the ensemble (default 200)")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="of the ensemble; the same gives the same")
    parser.add_argument("--units", choices=("metric", "inch"), help="as the plan says, if not given")
    parser.add_argument("--workers", type=int, metavar="N", help="runs at the same time (default: as pays)")
    parser.add_argument(
        "--begin",
        metavar="TIME",
        help='when the plan begins in the room log, as "2031-04-02 09:30" (default: at its first row)',
    )


def make_ready(args: argparse.Namespace) -> Ready:
    """Read plan, cards and room log; refuse what the plan's cautions forbid before anything is computed.

    Raises:
        InputError: a file that cannot be read or makes no sense, too few members, or a stop.
    """
    from bibula.cards.library import load_cards, starting_cards
    from bibula.plan.files import card_paths, read_plan
    from bibula.plan.rules import check_plan, refuse, unused_overrides

    if args.members < FEWEST:
        raise InputError(f"{args.members} members give no band", f"give {FEWEST} or more", Place(field="--members"))
    if args.workers is not None and args.workers < 1:
        raise InputError(f"{args.workers} workers do nothing", "give 1 or more", Place(field="--workers"))
    plan = read_plan(args.plan)
    cards = {**starting_cards(), **load_cards([*card_paths(plan, args.plan), *args.cards])}
    _check_cards(plan, cards, args.plan)
    refuse(plan, cards, str(args.plan))
    logger, remarks = read_logger(plan, args.plan, args.begin)
    unused = unused_overrides(plan, check_plan(plan, cards))
    more = tuple(f"The override of '{rule}' sets nothing aside here; check its rule key." for rule in unused)
    made = f"{datetime.now().astimezone():%Y-%m-%d %H:%M}"
    return Ready(plan, cards, logger, args.units or plan.units, made, (*remarks, *more))


def _check_cards(plan: Plan, cards: Mapping[str, Card], file: str) -> None:
    """Refuse a card nobody has, with the nearest name, at its place in the plan file."""
    from bibula.cards.library import find
    from bibula.plan.model import Piece
    from bibula.quantities.toml_places import place_of

    wanted: list[tuple[str, tuple[str, ...]]] = [(x.card, ("object",)) for x in plan.object.layers_or_sheet]
    for i, stage in enumerate(plan.stages):
        pieces = ((j, x) for j, x in enumerate(stage.stack) if isinstance(x, Piece))
        wanted += [(x.card, ("stage", str(i), "stack", str(j), "card")) for j, x in pieces]
    for name, path in wanted:
        try:
            find(cards, name)
        except InputError as bad:
            line, column = place_of(Path(file).read_text(encoding="utf-8-sig"), path)
            raise InputError(bad.what, bad.mend, Place(str(file), line, column)) from None


def read_logger(
    plan: Plan, file: str | os.PathLike[str], begin: str | None
) -> tuple[NDArray[np.float64] | None, tuple[str, ...]]:
    """The plan's room log from the plan's start, with remarks; (None, ()) where it has none.

    Raises:
        InputError: the log cannot be read, the begin is no time, or lies outside the log.
    """
    import numpy as np

    from bibula.intake import read_room_log
    from bibula.plan.files import logger_path

    path = logger_path(plan, file)
    if path is None:
        if begin is not None:
            raise InputError("the plan has no room log", "leave --begin out", Place(field="--begin"))
        return None, ()
    log = read_room_log(path)
    times = log.time_s - log.time_s[0] - (0.0 if begin is None else _seconds_into(begin, log.start))
    if times[-1] <= 0.0:
        raise InputError("the room log ends before the plan begins", "check the time", Place(field="--begin"))
    remarks = list(log.notes)
    if times[0] > 0.0:
        remarks.append(f"The room log begins {times[0] / 3600:.1f} h after the plan: its first row stands before it.")
    if times[-1] < plan.duration_s:
        remarks.append(
            f"The room log covers {times[-1] / 3600:.1f} h of the plan's {plan.duration_s / 3600:.1f} h: "
            "its last row stands for the rest."
        )
    return np.column_stack([times, log.temperature_c, log.humidity]), tuple(remarks)


def _seconds_into(begin: str, start: str | None) -> float:
    if start is None:
        raise InputError("the room log has no dates", "leave --begin out", Place(field="--begin"))
    try:
        asked = datetime.fromisoformat(begin)
    except ValueError:
        what = f"'{begin}' is not a date and time"
        raise InputError(what, 'write it as "2031-04-02 09:30"', Place(field="--begin")) from None
    return (asked.replace(tzinfo=None) - datetime.fromisoformat(start).replace(tzinfo=None)).total_seconds()


@contextmanager
def workers(plan: Plan, members: int, asked: int | None = None, passes: int = 1) -> Iterator[Executor | None]:
    """Where the members run: threads where the core never returns to Python, else processes, else here.

    Args:
        plan: the plan.
        members: of the ensemble.
        asked: how many at the same time; None = as many as there are processors, where that pays.
        passes: how often the ensemble is run.
    """
    from bibula.physics.integrate import direct_is_sound

    count = asked or _processors()
    threads = count > 1 and direct_is_sound()
    least = THREADS_PAY_FROM if threads else PROCESSES_PAY_FROM
    if count == 1 or (asked is None and members * len(plan.stages) * passes < least):
        yield None
        return
    executor: Executor = ThreadPoolExecutor(count) if threads else _processes(count)
    stdout = sys.stdout
    try:
        yield executor
    finally:
        executor.shutdown(wait=True, cancel_futures=True)
        sys.stdout = stdout  # the integrator's official way turns it aside, and two threads may turn it back crossed


def _processors() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _processes(count: int) -> Executor:
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    return ProcessPoolExecutor(count, multiprocessing.get_context("spawn"), initializer=_deaf_to_interrupts)


def _deaf_to_interrupts() -> None:
    """Ctrl-C is the parent's to answer; a worker ends when its pool does."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def tell(remarks: tuple[str, ...]) -> None:
    """Remarks on the error stream."""
    for remark in remarks:
        print(f"Note: {remark}", file=sys.stderr)
