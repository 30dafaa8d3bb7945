"""`bibula verify`: recompute the published check values on this machine and show the differences."""

from __future__ import annotations

import argparse
import json
import math
import shutil
import sys
import textwrap
import time
from collections.abc import Callable, Sequence

from bibula.checks import collect
from bibula.checks.rows import CheckRow
from bibula.quantities.errors import InputError

PATIENCE_S = 2.0
"""How long a run stays silent before it says where it is."""
WIDE = 132
"""From this many columns on, a check takes one line."""

ORIGINS = {
    "published": "read in a publication",
    "library": "from an independent library",
    "computed": "computed independently, by a second road",
    "memory": "a known value, from memory",
    "practice": "common practice, no source",
}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the command."""
    parser.add_argument("topics", nargs="*", metavar="TOPIC", help="only these topics; all if none is named")
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="print a list for programs")
    form.add_argument("--markdown", action="store_true", help="print a page for the documentation")


def run(args: argparse.Namespace) -> int:
    """Compute the rows, print them in the form asked for; 0 if all are within tolerance, else 1."""
    found = _compute(_chosen(args.topics), _progress())
    if args.json:
        text = json.dumps([as_record(r) for rows in found.values() for r in rows], indent=2, ensure_ascii=False)
    elif args.markdown:
        text = as_markdown(found)
    else:
        text = as_table(found, shutil.get_terminal_size((100, 24)).columns)
    sys.stdout.write(text + "\n")
    return 0 if all(r.ok for rows in found.values() for r in rows) else 1


def _chosen(wanted: Sequence[str]) -> list[str]:
    known = collect.topics()
    for name in wanted:
        if name not in known:
            raise InputError(f"there is no topic '{name}'", "use one of " + ", ".join(known))
    return list(wanted) or known


def _compute(topics: Sequence[str], progress: Callable[[str, int, int], None]) -> dict[str, list[CheckRow]]:
    found = {}
    for number, topic in enumerate(topics, start=1):
        progress(topic, number, len(topics))
        found[topic] = collect.topic_rows(topic)
    progress("", 0, 0)
    return found


def _progress() -> Callable[[str, int, int], None]:
    """One line on a terminal's error stream once the run takes long; silent elsewhere."""
    start = time.monotonic()
    shown = False

    def tell(topic: str, number: int, count: int) -> None:
        nonlocal shown
        if not sys.stderr.isatty():
            return
        if topic and time.monotonic() - start > PATIENCE_S:
            sys.stderr.write(f"\r\x1b[Kchecking {number} of {count}: {topic}")
            shown = True
        elif not topic and shown:
            sys.stderr.write("\r\x1b[K")
        sys.stderr.flush()

    return tell


def absolute_tolerance(row: CheckRow) -> float:
    """The tolerance in the unit of the row, also where it is given as a share."""
    return row.tolerance * abs(row.theirs) if row.relative else row.tolerance


def as_record(row: CheckRow) -> dict[str, str | float | bool | None]:
    """A row for programs; the tolerance is absolute, a value that is not a number is null."""
    return {
        "name": row.name,
        "source": row.source,
        "origin": row.origin,
        "ours": row.ours if math.isfinite(row.ours) else None,
        "theirs": row.theirs,
        "tolerance": absolute_tolerance(row),
        "ok": bool(row.ok),
    }


def _number(value: float) -> str:
    return f"{value:.6g}"


def _tolerance(row: CheckRow) -> str:
    return f"{100.0 * row.tolerance:.3g} %" if row.relative else f"{row.tolerance:.3g}"


def _word(row: CheckRow) -> str:
    return "ok" if row.ok else "FAILS"


def _summary(found: dict[str, list[CheckRow]]) -> str:
    rows = [r for part in found.values() for r in part]
    bad = sum(not r.ok for r in rows)
    return f"{len(rows)} checks, all within tolerance." if not bad else f"{bad} of {len(rows)} checks FAIL."


def as_table(found: dict[str, list[CheckRow]], width: int) -> str:
    """The rows as a table no wider than a terminal, topic by topic, the summary last."""
    lines: list[str] = []
    for topic, rows in found.items():
        lines += [f"{topic.replace('_', ' ').upper()} ({len(rows)})"]
        for row in rows:
            lines += _one_line(row, width) if width >= WIDE else _two_lines(row, width)
        lines.append("")
    kinds = {r.origin for rows in found.values() for r in rows}
    lines += [f"{origin:>9}: {meaning}" for origin, meaning in ORIGINS.items() if origin in kinds]
    return "\n".join([*lines, "", _summary(found)])


def _one_line(row: CheckRow, width: int) -> list[str]:
    numbers = f"{_number(row.ours):>12} {_number(row.theirs):>12} {'+/- ' + _tolerance(row):>14}  {row.origin:<9}"
    rest = width - len(numbers) - 10
    name_width = rest * 3 // 5
    names = textwrap.wrap(row.name, name_width) or [""]
    sources = textwrap.wrap(row.source, rest - name_width) or [""]
    lines = []
    for i in range(max(len(names), len(sources))):
        name = names[i] if i < len(names) else ""
        source = sources[i] if i < len(sources) else ""
        middle, word = (numbers, _word(row)) if i == 0 else (" " * len(numbers), "")
        lines.append(f"{word:<6}{name:<{name_width}} {middle} {source}".rstrip())
    return lines


def _two_lines(row: CheckRow, width: int) -> list[str]:
    facts = f"{_number(row.ours)}, theirs {_number(row.theirs)} +/- {_tolerance(row)}, {row.origin}: {row.source}"
    narrow = max(width, 40)
    head = textwrap.wrap(row.name, narrow, initial_indent=f"{_word(row):<6}", subsequent_indent=" " * 6)
    return head + textwrap.wrap("ours " + facts, narrow, initial_indent=" " * 8, subsequent_indent=" " * 8)


def as_markdown(found: dict[str, list[CheckRow]]) -> str:
    """The rows as a page for the documentation, with the reason for each tolerance."""
    lines = [
        "# Check values",
        "",
        "Written by `bibula verify --markdown`. Each row compares a value of this package with one from outside.",
        "",
        *(f"- **{origin}**: {meaning}" for origin, meaning in ORIGINS.items()),
        "",
        _summary(found),
    ]
    for topic, rows in found.items():
        lines += [
            "",
            f"## {topic.replace('_', ' ').capitalize()}",
            "",
            "| check | ours | theirs | tolerance | why that tolerance | origin | source | |",
            "| --- | --- | --- | --- | --- | --- | --- | --- |",
        ]
        for r in rows:
            cells = (r.name, _number(r.ours), _number(r.theirs), _tolerance(r), r.reason, r.origin, r.source, _word(r))
            lines.append("| " + " | ".join(c.replace("|", "\\|") for c in cells) + " |")
    return "\n".join(lines)
