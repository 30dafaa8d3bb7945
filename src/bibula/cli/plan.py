"""`bibula plan`: templates, a new plan from one, and the check of a plan file."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from bibula.quantities.errors import InputError, Place

if TYPE_CHECKING:
    from bibula.plan.model import Stage

MARKS = {"stop": "STOP", "override": "NEEDS A TEST OR AN OVERRIDE", "caution": "Caution", "note": "Note"}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add this command's arguments."""
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    actions.add_parser("templates", help="list the templates")
    check = actions.add_parser("check", help="check a plan file: its stacks and its cautions")
    check.add_argument("file", help="the plan file")
    new = actions.add_parser("new", help="write a plan file from a template")
    new.add_argument("--template", required=True, metavar="KEY", help="see: bibula plan templates")
    new.add_argument("--out", required=True, metavar="FILE", help="the plan file to write")
    new.add_argument("--name", default="Untitled sheet", help="name of the object")
    new.add_argument("--size", default="420 x 297 mm", help='"420 x 297 mm" or "16 1/2 x 11 3/4 in"')
    new.add_argument("--grammage", type=float, default=100.0, metavar="G_PER_M2", help="grammage in g/m2")
    new.add_argument("--thickness", type=float, default=0.15, metavar="MM", help="thickness in mm")
    new.add_argument("--fibre", default="rag", help="rag, wood pulp, kozo ...")
    new.add_argument("--sizing", default="unknown", help="unsized, gelatin ...")
    new.add_argument("--start", default="", help="drained, blotted, rolled, damp, soaked or air-dry")
    new.add_argument(
        "--medium", action="append", default=[], metavar="WHAT", help="a medium on the recto; may be repeated"
    )
    new.add_argument(
        "--feature", action="append", default=[], metavar="WHAT", help="a feature, as plate mark; may be repeated"
    )
    new.add_argument("--temperature", type=float, default=20.0, metavar="C", help="room temperature in C")
    new.add_argument("--humidity", type=float, default=50.0, metavar="PERCENT", help="room relative humidity in %%")
    new.add_argument("--force", action="store_true", help="replace a file that is already there")


def run(args: argparse.Namespace) -> int:
    """Run this command. Returns 0, or 2 where a check finds a stop."""
    if args.action == "templates":
        return _templates()
    return _new(args) if args.action == "new" else _check(args.file)


def _templates() -> int:
    from bibula.plan.templates import list_templates

    for t in list_templates():
        print(f"{t.key:16} {t.name}")
        print(f"{'':16} for: {t.chosen_for}")
        print(f"{'':16} needs: {', '.join((*t.roles, *t.needs))}")
    return 0


def _new(args: argparse.Namespace) -> int:
    from bibula.plan.files import write_plan
    from bibula.plan.mistakes import from_options
    from bibula.plan.model import PlanObject, Room
    from bibula.plan.templates import apply_template, find_template

    out = Path(args.out)
    if out.exists() and not args.force:
        raise InputError("this file is already there", "choose another name, or say --force", Place(str(out)))
    template = find_template(args.template)
    thing = from_options(
        PlanObject,
        {
            "name": args.name,
            "size": args.size,
            "grammage_g_m2": args.grammage,
            "thickness_mm": args.thickness,
            "fibre": args.fibre,
            "sizing": args.sizing,
            "start": args.start or ("air-dry" if template.dry_start else "blotted"),
            "media": [{"what": w, "where": "recto"} for w in args.medium],
            "feature": [{"what": w, "where": "recto"} for w in args.feature],
        },
    )
    room = from_options(Room, {"temperature_c": args.temperature, "relative_humidity_percent": args.humidity})
    write_plan(apply_template(template.key, thing, room), out)
    print(f"Written: {out}")
    print("Times and loads are common practice; look through the file, then: bibula plan check", out)
    return 0


def _check(file: str) -> int:
    from bibula.cards.library import load_cards, starting_cards
    from bibula.plan.files import card_paths, read_plan
    from bibula.plan.rules import check_plan, stops, unused_overrides

    plan = read_plan(file)
    cards = {**starting_cards(), **load_cards(card_paths(plan, file))}
    print(plan.title + (" (invented example)" if plan.invented else ""))
    for number, stage in enumerate(plan.stages, start=1):
        print(f"\nStage {number}: {stage.name}, {_time(stage.duration_s)}")
        for line in _stack_lines(stage):
            print("  " + line)
    cautions = check_plan(plan, cards)
    print()
    for c in cautions:
        print(f"{MARKS[c.level]}: {c.text}")
        print(f"    {c.why}. Source: {c.source}. Rule: {c.rule}")
        if c.overridden_because:
            print(f"    A stop, set aside: {c.overridden_because}")
    for rule in unused_overrides(plan, cautions):
        print(f"Note: the override of '{rule}' sets nothing aside here; check its rule key.")
    barred = stops(cautions)
    if barred:
        print(f"\n{len(barred)} rule(s) forbid this plan as it stands.", file=sys.stderr)
        return InputError.exit_code
    return 0


def _time(seconds: float) -> str:
    from bibula.plan.fields import format_duration

    return format_duration(seconds)


def _stack_lines(stage: Stage) -> list[str]:
    """The stack as it lies, the top first."""
    from bibula.plan.model import ObjectInStack

    lines = [f"over it: {stage.above.kind}" + (f", {stage.weight_kg:g} kg" if stage.weight_kg else "")]
    for layer in reversed(stage.stack):
        if isinstance(layer, ObjectInStack):
            lines.append(f"OBJECT, {layer.face_up} up")
        else:
            times = f" x {layer.pieces}" if layer.pieces > 1 else ""
            again = ", the same as before" if layer.reuse else ""
            lines.append(f"{layer.name or layer.card}{times}{again}")
    return [*lines, f"under it: {stage.below.kind}"]
