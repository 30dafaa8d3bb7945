"""`bibula propose`: rank the stacks that make sense for a plan's object, with reasons for and against."""

from __future__ import annotations

import argparse
import math
import sys
import textwrap
import time


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the command."""
    parser.add_argument("plan", help="a plan file; its object, room and target are used, its stages are not")
    parser.add_argument("--cards", action="append", default=[], metavar="PATH", help="more card files or folders")
    parser.add_argument("--purpose", choices=("dry", "humidify", "line", "mend"), help="what it is for")
    parser.add_argument(
        "--kit", action="append", default=[], metavar="ROLE=CARD", help="use this card for a role, e.g. slab='Our slab'"
    )
    parser.add_argument("--members", type=int, default=20, help="ensemble members for each stack (default 20)")


def run(args: argparse.Namespace) -> int:
    """Print the ranking."""
    from bibula.cards.library import load_cards, starting_cards
    from bibula.forecast.propose import propose
    from bibula.plan.files import card_paths, read_plan
    from bibula.plan.templates import DEFAULT_KIT, EQUIPMENT
    from bibula.quantities.errors import InputError

    plan = read_plan(args.plan)
    cards = {**starting_cards(), **load_cards([*card_paths(plan, args.plan), *args.cards])}
    kit = dict(DEFAULT_KIT) | {name: name for name in EQUIPMENT}
    for pair in args.kit:
        role, _, name = pair.partition("=")
        if role not in kit or name not in cards:
            raise InputError(f"--kit {pair} names no role or no card", f"roles are {', '.join(kit)}")
        kit[role] = name
    begun = time.monotonic()

    def progress(done: int, total: int) -> None:
        if time.monotonic() - begun > 2.0:
            if sys.stderr.isatty():
                print(f"\r{done} of {total} stacks", end="\n" if done == total else "", file=sys.stderr, flush=True)
            elif done == total:
                print(f"{total} stacks tried", file=sys.stderr)

    proposal = propose(
        plan.object, plan.room, cards, kit=kit, target=plan.target, purpose=args.purpose,
        overrides=plan.overrides, members=args.members, progress=progress,
    )  # fmt: skip
    print("\n".join(_lines(proposal, plan.invented)))
    return 0


def _wrap(mark: str, text: str) -> list[str]:
    return textwrap.wrap(text, 92, initial_indent=f"     {mark} ", subsequent_indent="       ")


def _lines(proposal, invented: bool) -> list[str]:  # type: ignore[no-untyped-def]
    out = [f"Stacks for {proposal.object_name}" + (" (invented)" if invented else ""), ""]
    for i, r in enumerate(proposal.ranked, 1):
        when = "not within its stages"
        if r.target_h:
            late = f"{r.target_h.high:.1f}" if math.isfinite(r.target_h.high) else "beyond its stages"
            when = f"about {r.target_h.median:.1f} h ({r.target_h.low:.1f} to {late})"
        out.append(f"{i:2d}. {r.candidate.template.name}   [{r.candidate.template.key}]   target: {when}")
        for reason in r.candidate.reasons_for:
            out += _wrap("+", f"{reason.text} ({reason.source})")
        for reason in r.physics:
            out += _wrap("+" if reason.points > 0 else "-", f"{reason.text} (model)")
        for reason in r.candidate.reasons_against:
            out += _wrap("-", f"{reason.text} ({reason.source})")
        if r.failed:
            out += _wrap("!", r.failed)
        out.append("")
    if proposal.refused:
        out.append("Refused:")
        for name, caution in proposal.refused:
            out += _wrap("x", f"{name}: {caution.text} {caution.why}. Source: {caution.source}")
        out.append("")
    out.append("What this cannot know:")
    for line in proposal.unknowable:
        out += _wrap("·", line)
    return out
