"""A plan becomes stages of laid pieces; laid pieces with one set of numbers become physics stacks.

Nothing is drawn or run here. What is assumed about contacts, air and tables stands here, named.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from bibula.cards.model import Card, Kind
from bibula.plan.model import Above, Below, Piece, Plan, Stage
from bibula.quantities.errors import InputError, Place, ValidityError

Array = NDArray[np.float64]

LOWEST_RH = 0.05

INTERVALS: dict[str, int] = {
    "slab": 22,
    "blotter": 10,
    "felt": 14,
    "interleaf": 4,
    "paper": 10,
    "board": 10,
    "film": 2,
    "absorbent": 16,
}


@dataclass(frozen=True)
class LaidPiece:
    """One layer as it lies in one stage.

    Attributes:
        key: unique in the plan; the same key in a later stage is the same piece with its water.
        name: what the user calls it.
        card: name of its card.
        kind: of the card.
        thickness_m: of all its pieces together.
        density_kg_m3: None = the card's.
        object_layer: index from verso to recto if it belongs to the object, else None.
        a_up: whether its face A (the recto, for the object) looks up.
        start_rh, start_water_kg_m2: what it carries when first laid (None = in balance with the room).
    """

    key: str
    name: str
    card: str
    kind: Kind
    thickness_m: float
    density_kg_m3: float | None = None
    object_layer: int | None = None
    a_up: bool = True
    start_rh: float | None = None
    start_water_kg_m2: float | None = None


@dataclass(frozen=True)
class LaidStage:
    """One stage, resolved. `weather`: None, or rows of time s, temperature C, relative humidity (share)."""

    name: str
    duration_s: float
    pieces: tuple[LaidPiece, ...]
    below: Below
    above: Above
    load_pa: float
    temperature_c: float
    relative_humidity: float
    air: Literal["still", "slow", "fan"]
    weather: Array | None = None

    @property
    def object_range(self) -> tuple[int, int]:
        """First index and one past the last of the object's layers in `pieces`."""
        inside = [i for i, p in enumerate(self.pieces) if p.object_layer is not None]
        return inside[0], inside[-1] + 1


@dataclass(frozen=True)
class LaidPlan:
    """All stages, and what the object weighs dry (kg/m2, per layer from verso to recto)."""

    plan: Plan
    stages: tuple[LaidStage, ...]
    cards: Mapping[str, Card]
    object_dry_kg_m2: tuple[float, ...]

    @property
    def dry_kg_m2(self) -> float:
        """Dry mass of the object per area."""
        return sum(self.object_dry_kg_m2)


def lay(plan: Plan, cards: Mapping[str, Card], logger: Array | None = None) -> LaidPlan:
    """Resolve a plan against the cards at hand.

    Args:
        plan: the plan.
        cards: complete cards by name.
        logger: rows of time s from the plan's start, temperature C, relative humidity (share), or None.

    Raises:
        InputError: a card the plan names is not at hand.
        ValidityError: a room or its log outside what the model holds for.
    """
    stages = []
    clock = 0.0
    for number, stage in enumerate(plan.stages):
        stages.append(_lay_stage(plan, stage, number, cards, _window(logger, clock, stage.duration_s)))
        clock += stage.duration_s
    room = plan.room
    dry = tuple(
        layer.grammage_kg_m2 / (1.0 + _air_dry(cards[layer.card], room.relative_humidity_percent / 100.0))
        for layer in plan.object.layers_or_sheet
    )
    return LaidPlan(plan, tuple(stages), cards, dry)


def _air_dry(card: Card, rh: float) -> float:
    from bibula.formulas.sorption import Gab, gab_water

    return float(gab_water(rh, Gab(card["gab_monolayer_kg_kg"], card["gab_c"], card["gab_k"])))


def _window(logger: Array | None, start: float, duration: float) -> Array | None:
    if logger is None:
        return None
    inside = (logger[:, 0] > start) & (logger[:, 0] < start + duration)
    ends = [start, start + duration]
    edge = np.column_stack([ends] + [np.interp(ends, logger[:, 0], logger[:, j]) for j in (1, 2)])
    rows = np.vstack([edge[:1], logger[inside], edge[1:]])
    rows[:, 0] -= start
    return rows


def _find(cards: Mapping[str, Card], name: str, number: int, index: int) -> Card:
    if name not in cards:
        raise InputError(
            f"the plan lays '{name}', and there is no such card",
            "name one of " + "; ".join(sorted(cards)),
            Place(field=f"stage[{number + 1}].stack[{index + 1}].card"),
        )
    return cards[name]


def _lay_stage(plan: Plan, stage: Stage, number: int, cards: Mapping[str, Card], weather: Array | None) -> LaidStage:
    pieces: list[LaidPiece] = []
    for index, entry in enumerate(stage.stack):
        if isinstance(entry, Piece):
            below_object = index < stage.object_index
            pieces.append(_lay_piece(entry, number, index, below_object, cards, plan.object.area_m2))
        else:
            pieces.extend(_lay_object(plan, entry.face_up == "recto", cards))
    room = plan.room_of(stage)
    air = stage.above.air or room.air
    weather = weather if stage.room is None else None
    _check_air(stage.name, room.temperature_c, room.relative_humidity_percent / 100.0)
    if weather is not None:
        for row in (int(weather[:, 2].argmin()), int(weather[:, 2].argmax())):
            _check_air(stage.name, float(weather[row, 1]), float(weather[row, 2]))
    return LaidStage(
        name=stage.name,
        duration_s=stage.duration_s,
        pieces=tuple(pieces),
        below=stage.below,
        above=stage.above,
        load_pa=stage.load_pa(plan.object.area_m2),
        temperature_c=room.temperature_c,
        relative_humidity=room.relative_humidity_percent / 100.0,
        air=air,
        weather=weather,
    )


def _check_air(stage: str, temperature_c: float, rh: float) -> None:
    """Told air is refused where members' draws around it are only kept within the range."""
    if not (0.0 <= temperature_c <= 60.0 and LOWEST_RH <= rh <= 1.0):
        raise ValidityError(
            f"the air of stage '{stage}' is told as {temperature_c:g} °C and {100 * rh:.3g} % RH",
            "the model holds from 0 to 60 °C and from 5 to 100 % RH",
        )


def _lay_piece(
    entry: Piece, number: int, index: int, below: bool, cards: Mapping[str, Card], area_m2: float
) -> LaidPiece:
    card = _find(cards, entry.card, number, index)
    one = entry.thickness_mm / 1000.0 if entry.thickness_mm else card["thickness_m"]
    water = None if entry.start_water_g is None else entry.start_water_g / 1000.0 / area_m2
    rh = None if entry.start_rh_percent is None else entry.start_rh_percent / 100.0
    label = entry.name or entry.card.replace(" (starting card)", "")
    return LaidPiece(
        key=entry.id or f"stage {number + 1} layer {index + 1}",
        name=f"{entry.pieces} x {label}" if entry.pieces > 1 else label,
        card=entry.card,
        kind=card.kind,
        thickness_m=one * entry.pieces,
        a_up=(entry.face == "A") == below,
        start_rh=rh,
        start_water_kg_m2=water,
    )


def _lay_object(plan: Plan, recto_up: bool, cards: Mapping[str, Card]) -> list[LaidPiece]:
    out = []
    for i, layer in enumerate(plan.object.layers_or_sheet):
        if layer.card not in cards:
            raise InputError(
                f"the object's {layer.role} uses '{layer.card}', and there is no such card",
                "name one of " + "; ".join(sorted(cards)),
                Place(field="object.card"),
            )
        card = cards[layer.card]
        rh = plan.room.relative_humidity_percent / 100.0
        dry = layer.grammage_kg_m2 / (1.0 + _air_dry(card, rh))
        out.append(
            LaidPiece(
                key=f"object {i}",
                name=layer.role if len(plan.object.layers_or_sheet) > 1 else "object",
                card=layer.card,
                kind=card.kind,
                thickness_m=layer.thickness_m,
                density_kg_m3=dry / layer.thickness_m,
                object_layer=i,
                a_up=recto_up,
            )
        )
    if not out:
        raise ValidityError("the object has no layer", "give its grammage and thickness")
    return out if recto_up else out[::-1]
