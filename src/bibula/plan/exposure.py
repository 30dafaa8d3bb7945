"""What a plan does to the object: wet, damp, alkali, contact, pressure, heat, read off its stacks.

One exposure is one agent in one stage on one face (or on the whole). Rules hang on the agents:

| agent | meaning |
| --- | --- |
| wet, damp | the sheet carries liquid water; it is humidified |
| touch | anything lies on the face |
| bare | slab, blotter, felt or board lies on the wet or damp face without non-woven |
| absorbent | slab, blotter or felt draws from the face while it is wet or damp, through non-woven or not |
| alkali | a slab lies so (its face is taken as alkaline unless its card says "neutral surface") |
| hard | a hard face presses on it with no felt between |
| pressure | load, or anything heavier than non-woven on it |
| local water | a pasted lining, hinge or mend brings water |
| damp chamber, water tray, suction, blown air, mains, heavy, small weight, high pressure, slab | what the words say |
| damp 24 h, damp 48 h | hours in which water is supplied or cannot leave |
| warm, heat | the room is above 20 C, above 30 C |
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from bibula.cards.model import Card, Kind
from bibula.plan.model import Piece, Plan, PlanObject, Side, Stage

Wetness = Literal["dry", "damp", "wet"]

WET_X = 0.5  # kg/kg; above it paper of most kinds holds liquid water (common practice, no source)
DAMP_X = 0.15  # kg/kg
DAMP_RH = 70.0  # %
HEAVY_KG = 10.0
HIGH_PRESSURE_PA = 5000.0
SMALL_SHARE = 0.5  # of the object's area
ABSORBENTS: frozenset[str] = frozenset({"slab", "blotter", "felt", "absorbent"})
AGENTS: tuple[str, ...] = (
    *("always", "wet", "damp", "touch", "bare", "absorbent", "alkali", "hard", "pressure"),
    *("damp chamber", "water tray", "local water", "suction", "blown air", "mains", "slab"),
    *("heavy", "small weight", "high pressure", "damp 24 h", "damp 48 h", "warm", "heat"),
)
HARD: frozenset[str] = frozenset({"slab", "board", "film"})
_WORDS: tuple[tuple[str, Kind], ...] = (
    ("interleaf", "interleaf"),
    ("non-woven", "interleaf"),
    ("slab", "slab"),
    ("blotter", "blotter"),
    ("felt", "felt"),
    ("paper", "paper"),
    ("acrylic", "board"),
    ("glass", "board"),
    ("board", "board"),
    ("film", "film"),
)


@dataclass(frozen=True)
class Exposure:
    """One agent in one stage. `face` is None where it holds for the whole object."""

    agent: str
    stage: str
    face: Side | None = None
    detail: str = ""


@dataclass(frozen=True)
class Contact:
    """What lies towards one face, from the face outward, up to the first air gap."""

    face: Side
    pieces: tuple[tuple[Piece, str], ...]  # (piece, kind)
    open_gap: bool  # an air gap ends it
    end: str  # the boundary's kind, "" after an air gap


def kind_of(piece: Piece, cards: Mapping[str, Card]) -> str:
    """The kind of a piece: its card's, else guessed from the card's name; "air" for an air gap."""
    if "air gap" in piece.card.lower():
        return "air"
    card = cards.get(piece.card)
    if card is not None:
        return card.kind
    return next((kind for word, kind in _WORDS if word in piece.card.lower()), "absorbent")


def is_alkaline(piece: Piece, cards: Mapping[str, Card]) -> bool:
    """Whether a piece's face is taken as alkaline: any slab, unless its card notes a neutral surface."""
    card = cards.get(piece.card)
    notes = " ".join(card.notes).lower() if card else ""
    if "alkaline surface" in notes:
        return True
    return kind_of(piece, cards) == "slab" and "neutral surface" not in notes


def contacts(stage: Stage, cards: Mapping[str, Card]) -> tuple[Contact, Contact]:
    """What lies under and over the object in a stage: (below, above)."""
    at = stage.object_index
    up = stage.face_up
    down: Side = "verso" if up == "recto" else "recto"

    def one(face: Side, layers: tuple[object, ...], end: str) -> Contact:
        chain: list[tuple[Piece, str]] = []
        for layer in layers:
            if not isinstance(layer, Piece):
                continue
            kind = kind_of(layer, cards)
            if kind == "air":
                return Contact(face, tuple(chain), open_gap=True, end="")
            chain.append((layer, kind))
        return Contact(face, tuple(chain), open_gap=False, end=end)

    below = one(down, tuple(reversed(stage.stack[:at])), stage.below.kind)
    return below, one(up, stage.stack[at + 1 :], stage.above.kind)


def start_wetness(thing: PlanObject) -> Wetness:
    """How wet the object is when the plan begins."""
    start = thing.start
    content = start.water_content
    if content is None and start.mass_g is not None and thing.air_dry_mass_g is not None:
        content = start.mass_g / thing.air_dry_mass_g * 1.07 - 1.0
    inside = max((x.water_content or 0.0 for x in thing.layers), default=0.0)
    if content is None:
        by_state = {"air-dry": 0.0, "damp": 0.2, "measured": 1.0}
        content = by_state.get(start.state, 1.0)
    content = max(content, inside)
    return "wet" if content > WET_X else "damp" if content > DAMP_X else "dry"


def _is_wet_piece(piece: Piece) -> bool:
    return bool(piece.start_water_g) or (piece.start_rh_percent or 0.0) >= 99.0


def _wets(contact: Contact) -> bool:
    """Whether liquid reaches the object along this contact."""
    for piece, kind in contact.pieces:
        if kind in {"film", "board"}:
            return False
        if _is_wet_piece(piece):
            return True
    return contact.end == "water"


def _damps(stage: Stage) -> bool:
    """Whether water is supplied as vapour in this stage."""
    for side in (stage.below, stage.above):
        if side.kind == "damp chamber" and (side.relative_humidity_percent or 0.0) >= DAMP_RH:
            return True
    if stage.above.kind != "cover":
        return False
    carried = any(isinstance(x, Piece) and _is_wet_piece(x) for x in stage.stack)
    return stage.below.kind == "water" or carried


def _touches(contact: Contact) -> bool:
    ends = {"table", "rack", "water", "suction table", "channelled air", "board"}
    return bool(contact.pieces) or contact.end in ends


def _hard(contact: Contact) -> bool:
    for _, kind in contact.pieces:
        if kind == "felt":
            return False
        if kind in HARD:
            return True
    return contact.end in {"table", "board", "suction table", "channelled air"}


def _presses(stage: Stage, above: Contact, area_m2: float) -> bool:
    heavy = any(kind != "interleaf" for _, kind in above.pieces)
    return stage.load_pa(area_m2) > 0.0 or heavy or above.end in {"board", "channelled air"}


def _on_face(contact: Contact, stage: Stage, wetness: Wetness, cards: Mapping[str, Card]) -> Iterator[Exposure]:
    name, face = stage.name, contact.face
    if not _touches(contact):
        return
    first = contact.pieces[0] if contact.pieces else None
    what = (first[0].name or first[0].card) if first else contact.end
    yield Exposure("touch", name, face, what)
    if _hard(contact):
        yield Exposure("hard", name, face, what)
    if wetness == "dry":
        return
    if (first is None and contact.end != "rack") or (first is not None and first[1] in ABSORBENTS | {"board"}):
        yield Exposure("bare", name, face, what)
    for piece, kind in contact.pieces:
        if kind in {"film", "board"}:
            break
        if kind in ABSORBENTS:
            yield Exposure("absorbent", name, face, piece.name or piece.card)
        if is_alkaline(piece, cards):
            yield Exposure("alkali", name, face, piece.name or piece.card)


def _on_whole(stage: Stage, plan: Plan, cards: Mapping[str, Card]) -> Iterator[Exposure]:
    name, room = stage.name, plan.room_of(stage)
    kinds = {stage.below.kind, stage.above.kind}
    air = {stage.below.air or room.air, stage.above.air or room.air}
    if "damp chamber" in kinds or (_damps(stage) and stage.above.kind == "cover"):
        yield Exposure("damp chamber", name)
    if "water" in kinds:
        yield Exposure("water tray", name)
    for layer in stage.stack:
        if isinstance(layer, Piece) and layer.start_water_g and kind_of(layer, cards) == "paper":
            yield Exposure("local water", name, None, layer.name or layer.card)
    if "suction table" in kinds:
        yield Exposure("suction", name)
    if "channelled air" in kinds:
        yield Exposure("blown air", name)
    if kinds & {"suction table", "channelled air"} or "fan" in air:
        yield Exposure("mains", name)
    if (stage.weight_kg or 0.0) > HEAVY_KG:
        yield Exposure("heavy", name, None, f"{stage.weight_kg:g} kg")
    area = plan.object.area_m2
    if stage.weight_area_m2 is not None and stage.weight_area_m2 < SMALL_SHARE * area:
        yield Exposure("small weight", name, None, f"{stage.weight_area_m2 / area:.0%} of the object")
    if stage.load_pa(area) > HIGH_PRESSURE_PA:
        yield Exposure("high pressure", name, None, f"{stage.load_pa(area) / 1000.0:.1f} kPa")
    if room.temperature_c > 30.0:
        yield Exposure("heat", name, None, f"{room.temperature_c:g} C")
    if room.temperature_c > 20.0:
        yield Exposure("warm", name, None, f"{room.temperature_c:g} C")


def _shut_in(stage: Stage, below: Contact, above: Contact) -> bool:
    """No absorbent, no air: the water stays where it is."""
    drinks = any(kind in ABSORBENTS for c in (below, above) for _, kind in c.pieces)
    return stage.below.kind == "table" and stage.above.kind in {"board", "cover"} and not drinks


def exposures(plan: Plan, cards: Mapping[str, Card]) -> tuple[Exposure, ...]:
    """Everything a plan does to its object, stage by stage.

    Args:
        plan: the plan.
        cards: cards by name; a piece whose card is missing is judged by its name.
    """
    found: list[Exposure] = [Exposure("always", "")]
    wetness = start_wetness(plan.object)
    damp_s = 0.0
    for stage in plan.stages:
        below, above = contacts(stage, cards)
        if _wets(below) or _wets(above):
            wetness = "wet"
        supplied = _damps(stage)
        if supplied and wetness == "dry":
            wetness = "damp"
        if supplied or stage.below.kind == "water" or (wetness != "dry" and _shut_in(stage, below, above)):
            damp_s += stage.duration_s
        if wetness == "wet":
            found.append(Exposure("wet", stage.name))
        if wetness == "damp" or supplied:
            found.append(Exposure("damp", stage.name))
        for contact in (below, above):
            found.extend(_on_face(contact, stage, wetness, cards))
            if _presses(stage, above, plan.object.area_m2) and _touches(contact):
                found.append(Exposure("pressure", stage.name, contact.face))
        found.extend(_on_whole(stage, plan, cards))
        if any(isinstance(x, Piece) and kind_of(x, cards) == "slab" for x in stage.stack):
            found.append(Exposure("slab", stage.name))
    found.extend(Exposure(f"damp {h} h", "", None, f"{damp_s / 3600.0:.0f} h") for h in (24, 48) if damp_s > h * 3600.0)
    return tuple(found)
