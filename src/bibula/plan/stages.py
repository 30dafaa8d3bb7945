"""The stages of a plan: layers from the table up, what stands under and over them, the load, the room."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AliasChoices, Discriminator, Field, Tag, model_validator

from bibula.plan.fields import (
    Celsius,
    Duration,
    Percent,
    Side,
    Strict,
    Text,
    ThicknessMm,
    WaterG,
    Within,
    refusal,
)

GRAVITY_M_S2 = 9.80665


Air = Literal["still", "slow", "fan"]
BelowKind = Literal["table", "rack", "water", "suction table", "channelled air", "damp chamber"]
AboveKind = Literal["room", "board", "damp chamber", "channelled air", "cover"]


class ObjectInStack(Strict):
    """The object's place in a stack, and which of its faces looks up."""

    object: Literal[True]
    face_up: Side = "recto"


class Piece(Strict):
    """One layer of the stack that is not the object: `pieces` equal pieces of one card.

    `id` names a piece so that a later stage can take the same one up again with `reuse = true`;
    what it carries then comes from the earlier stage, never from `start_rh_percent`.
    """

    card: Text
    name: str = ""
    pieces: Annotated[int, Field(ge=1, le=50)] = 1
    thickness_mm: ThicknessMm | None = None
    id: str = ""
    reuse: bool = False
    face: Literal["A", "B"] = "A"
    start_rh_percent: Percent | None = None
    start_water_g: WaterG | None = None

    @model_validator(mode="after")
    def _carried(self) -> Piece:
        if self.reuse and not self.id:
            raise refusal("a reused piece has no id", "give the id it had in the earlier stage", "reuse")
        if self.start_rh_percent is not None and self.start_water_g is not None:
            raise refusal(
                "this piece's water is given twice", "keep start_rh_percent or start_water_g", "start_water_g"
            )
        if self.reuse and (self.start_rh_percent is not None or self.start_water_g is not None):
            raise refusal(
                "a reused piece keeps the water it took up",
                "leave out start_rh_percent and start_water_g",
                "start_rh_percent" if self.start_rh_percent is not None else "start_water_g",
            )
        return self


def _which(value: Any) -> str:
    if isinstance(value, dict):
        return "object" if "object" in value else "piece"
    return "object" if isinstance(value, ObjectInStack) else "piece"


StackLayer = Annotated[Annotated[ObjectInStack, Tag("object")] | Annotated[Piece, Tag("piece")], Discriminator(_which)]


class Boundary(Strict):
    """What stands under or over the stack. May be written as its kind alone, a word."""

    kind: str
    air: Air | None = None
    suction_kpa: (
        Annotated[float, Within(0.01, 60.0, "kPa", "", "give kPa; 20 kPa is already a strong table")] | None
    ) = None
    relative_humidity_percent: Percent | None = None
    air_speed_m_s: Annotated[float, Within(0.01, 30.0, "m/s")] | None = None

    @model_validator(mode="before")
    @classmethod
    def _word(cls, data: Any) -> Any:
        return {"kind": data} if isinstance(data, str) else data

    @model_validator(mode="after")
    def _fits(self) -> Boundary:
        for key, kinds in _BOUNDARY_NEEDS.items():
            given = getattr(self, key) is not None
            if given and self.kind not in kinds:
                raise refusal(f"'{self.kind}' takes no {key}", f"leave it out, or choose {' or '.join(kinds)}", key)
        if self.kind == "suction table" and self.suction_kpa is None:
            raise refusal("a suction table needs its suction", "give suction_kpa", "kind")
        if self.kind == "damp chamber" and self.relative_humidity_percent is None:
            raise refusal("a damp chamber needs its humidity", "give relative_humidity_percent", "kind")
        return self


_BOUNDARY_NEEDS: dict[str, tuple[str, ...]] = {
    "air": ("room", "rack"),
    "suction_kpa": ("suction table",),
    "relative_humidity_percent": ("damp chamber",),
    "air_speed_m_s": ("channelled air",),
}


class Below(Boundary):
    """What stands under the stack: table, rack, water, suction table, channelled air, damp chamber."""

    kind: BelowKind


class Above(Boundary):
    """What stands over the stack: room air, sealing board, damp chamber, channelled air, closed cover."""

    kind: AboveKind


class Room(Strict):
    """The room: its air, and how well it is known (standard uncertainties)."""

    temperature_c: Celsius
    relative_humidity_percent: Percent
    air: Air = "still"
    u_temperature_k: Annotated[float, Within(0.0, 10.0, "K")] = 1.0
    u_relative_humidity_percent: Annotated[float, Within(0.0, 30.0, "%")] = 3.0
    logger: str = ""


class Stage(Strict):
    """A stretch of the treatment in which the stack does not change. Layers go from the table up."""

    name: Text
    duration_s: Duration = Field(
        validation_alias=AliasChoices("duration", "duration_s"), serialization_alias="duration"
    )
    stack: Annotated[tuple[StackLayer, ...], Field(strict=False)]
    below: Below = Below(kind="table")
    above: Above = Above(kind="room")
    weight_kg: Annotated[float, Within(0.0, 2000.0, "kg")] | None = None
    weight_area_m2: Annotated[float, Within(1e-4, 50.0, "m2")] | None = None
    pressure_pa: Annotated[float, Within(0.0, 200000.0, "Pa")] | None = None
    room: Room | None = None

    @model_validator(mode="after")
    def _whole(self) -> Stage:
        objects = sum(isinstance(x, ObjectInStack) for x in self.stack)
        if objects != 1:
            many = "does not hold the object" if objects == 0 else f"holds the object {objects} times"
            raise refusal(f"stage '{self.name}' {many}", "put { object = true } into its stack once", "stack")
        if self.weight_kg is not None and self.pressure_pa is not None:
            raise refusal("the load is given twice", "keep weight_kg or pressure_pa", "pressure_pa")
        if self.weight_area_m2 is not None and self.weight_kg is None:
            raise refusal("weight_area_m2 stands without weight_kg", "give both", "weight_area_m2")
        return self

    @property
    def object_index(self) -> int:
        """Where in `stack` the object lies."""
        return next(i for i, x in enumerate(self.stack) if isinstance(x, ObjectInStack))

    @property
    def face_up(self) -> Side:
        """The face of the object that looks up."""
        return next(x.face_up for x in self.stack if isinstance(x, ObjectInStack))

    def load_pa(self, object_area_m2: float) -> float:
        """Mean pressure of the added weight on the object, Pa."""
        if self.pressure_pa is not None:
            return float(self.pressure_pa)
        return float(self.weight_kg or 0.0) * GRAVITY_M_S2 / float(self.weight_area_m2 or object_area_m2)
