"""What hands do at the start of each stage: which pieces come off, go on or are turned, and what lies on top."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping

from bibula.forecast.laying import LaidPiece, LaidPlan, LaidStage
from bibula.plan.model import Stage


def moves(laid: LaidPlan) -> tuple[tuple[str, ...], ...]:
    """Sentences for every stage of a plan: for the first what stands under and over it, then each change.

    Pieces are told apart by their keys: one that takes the place of a piece of the same name is called fresh.
    """
    seen: dict[str, str] = {}
    out: list[tuple[str, ...]] = []
    for n, stage in enumerate(laid.stages):
        around = _around(stage, laid.plan.stages[n])
        if n == 0:
            out.append((_sentence(around),))
        else:
            said = [_sentence(_changes(laid.stages[n - 1], stage, seen))]
            if around != _around(laid.stages[n - 1], laid.plan.stages[n - 1]):
                said.append(_sentence(around))
            out.append(tuple(x for x in said if x) or ("Leave everything as it lies.",))
        seen |= {p.key: p.name for p in stage.pieces}
    return tuple(out)


def _sentence(parts: Iterable[str]) -> str:
    text = "; ".join(x for x in parts if x)
    return f"{text[0].upper()}{text[1:]}." if text else ""


def _changes(before: LaidStage, now: LaidStage, seen: Mapping[str, str]) -> list[str]:
    """What is taken out, put in and turned; the new order where pieces that stay change places."""
    old, new = ({p.key: p for p in s.pieces} for s in (before, now))
    off = [p for key, p in old.items() if key not in new]
    other = [p for key, p in new.items() if key not in seen and p.name not in seen.values()]
    fresh = [p for key, p in new.items() if key not in seen and p.name in seen.values()]
    again = [p for key, p in new.items() if key not in old and key in seen]
    turned = [p for key, p in new.items() if key in old and old[key].a_up != p.a_up]
    said = [
        f"take out {_names(off, before)}" if off else "",
        f"put in {_names(other, now)}" if other else "",
        f"put in fresh {_names(fresh, now)}" if fresh else "",
        f"put in again {_names(again, now)}" if again else "",
        f"turn over {_names(turned, now)}" if turned else "",
    ]
    stay = [key for key in old if key in new and old[key].object_layer is None]
    if [key for key in new if key in stay] != stay or _side_of(before, stay) != _side_of(now, stay):
        said.append(f"from the table up: {', '.join(p.name for p in now.pieces)}")
    return said


def _side_of(stage: LaidStage, keys: list[str]) -> list[bool]:
    """Whether each piece lies below the object."""
    order = [p.key for p in stage.pieces]
    return [order.index(key) < stage.object_range[0] for key in keys]


def _names(pieces: list[LaidPiece], stage: LaidStage) -> str:
    """Names, with the sides where one name lies on both; the layers of the object are one thing."""
    below = [p.key for p in stage.pieces[: stage.object_range[0]]]
    sides: dict[str, list[str]] = {}
    for p in pieces:
        where = "the object" if p.object_layer is not None else ("below" if p.key in below else "above")
        sides.setdefault(p.name if p.object_layer is None else "the object", []).append(where)
    return ", ".join(
        name if len(places) == 1 or name == "the object" else f"{name} ({_places(places)})"
        for name, places in sides.items()
    )


def _places(places: list[str]) -> str:
    """`below and above`, `two below`, `one below, two above`."""
    count = Counter(places)
    if set(count.values()) == {1}:
        return " and ".join(count)
    words = {1: "one", 2: "two", 3: "three"}
    return ", ".join(f"{words.get(n, n)} {place}" for place, n in count.items())


def _around(laid: LaidStage, stage: Stage) -> list[str]:
    """What the stack stands on, what lies over it, and the weight."""
    over = "nothing on top, open to the room" if laid.above.kind == "room" else f"on top: {laid.above.kind}"
    if stage.weight_kg:
        weight = f"weight {stage.weight_kg:g} kg"
    elif laid.load_pa > 0.0:
        weight = f"pressed at {laid.load_pa / 1000.0:.2g} kPa"
    else:
        weight = "no weight"
    return [f"under it: {laid.below.kind}", over, weight]
