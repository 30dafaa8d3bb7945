"""The object of a plan: its sheet or layers, media, features, tests and how wet it starts."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AliasChoices, Field, model_validator

from bibula.plan.caution_table import What
from bibula.plan.fields import (
    Grammage,
    IsoDate,
    MassG,
    Metres,
    Percent,
    Share,
    Strict,
    Text,
    ThicknessMm,
    WaterContent,
    Within,
    many,
    parse_size,
    refusal,
)

Where = Literal["recto", "verso", "both"]
State = Literal["drained", "blotted", "rolled", "damp", "soaked", "air-dry", "measured"]
ObjectClass = Literal[
    "tissue", "cheap pulp", "laid rag", "machine paper", "etching", "tracing", "coated", "board", "leaf-cast"
]


class ObjectLayer(Strict):
    """One layer of the object itself, in order from verso to recto."""

    role: Literal["sheet", "lining", "board", "coating", "paste"] = "sheet"
    card: str = ""
    grammage_g_m2: Grammage
    thickness_mm: ThicknessMm
    water_content: WaterContent | None = None

    @property
    def thickness_m(self) -> float:
        """Thickness in m."""
        return float(self.thickness_mm) / 1000.0

    @property
    def grammage_kg_m2(self) -> float:
        """Grammage in kg/m2."""
        return float(self.grammage_g_m2) / 1000.0


class Start(Strict):
    """How wet the object is when the first stage begins."""

    state: State
    mass_g: MassG | None = None
    u_mass_g: Annotated[float, Within(0.0, 1e5, "g")] | None = None
    water_content: WaterContent | None = None
    u_water_content: Annotated[float, Within(0.0, 10.0, "kg/kg")] | None = None

    @model_validator(mode="before")
    @classmethod
    def _word(cls, data: Any) -> Any:
        return {"state": data} if isinstance(data, str) else data

    @model_validator(mode="after")
    def _weighed(self) -> Start:
        if self.state == "measured" and (self.mass_g is None or self.u_mass_g is None) and self.water_content is None:
            raise refusal("a measured start needs its weight", "give mass_g and u_mass_g, or water_content", "state")
        if self.u_water_content is not None and self.water_content is None:
            raise refusal("u_water_content stands without water_content", "give both", "u_water_content")
        return self


class Medium(Strict):
    """One medium on the object. `what` is a key of the caution table."""

    what: What
    where: Where
    area_share: Share = 1.0
    name: str = ""


class Feature(Strict):
    """One feature of the object: a plate mark, tape, a seal. `what` is a key of the caution table."""

    what: What
    where: Where


class SpotTest(Strict):
    """One test made on the object itself."""

    medium: Text
    agent: Literal["water", "alkali", "alcohol", "heat"]
    place: str = ""
    result: Literal["stable", "bleeds", "unclear"]
    date: IsoDate = ""


class PlanObject(Strict):
    """The object. Its layers go from verso to recto; none given means one sheet."""

    name: Text
    length_m: Metres
    width_m: Metres
    grammage_g_m2: Grammage
    thickness_mm: ThicknessMm
    fibre: Text
    sizing: str = "unknown"
    card: str = ""
    class_: ObjectClass | None = Field(
        default=None, validation_alias=AliasChoices("class", "class_"), serialization_alias="class"
    )
    air_dry_mass_g: MassG | None = None
    air_dry_rh_percent: Percent | None = None
    start: Start
    layers: tuple[ObjectLayer, ...] = many("layer", "layers")
    media: tuple[Medium, ...] = many()
    features: tuple[Feature, ...] = many("feature", "features")
    tests: tuple[SpotTest, ...] = many("test", "tests")

    @model_validator(mode="before")
    @classmethod
    def _size(cls, data: Any) -> Any:
        if not isinstance(data, dict) or "size" not in data:
            return data
        rest = {k: v for k, v in data.items() if k != "size"}
        if "length_m" in rest or "width_m" in rest:
            raise refusal("the size is given twice", "keep size, or length_m and width_m", "size")
        try:
            length, width = parse_size(data["size"])
        except (ValueError, AttributeError):
            raise refusal(
                f"'{data['size']}' is not a size", 'write it as "420 x 297 mm" or "16 1/2 x 11 3/4 in"', "size"
            ) from None
        return {**rest, "length_m": length, "width_m": width}

    @model_validator(mode="after")
    def _weighing(self) -> PlanObject:
        if (self.air_dry_mass_g is None) != (self.air_dry_rh_percent is None):
            raise refusal(
                "an air-dry mass needs the humidity it was weighed at, and the other way round",
                "give air_dry_mass_g and air_dry_rh_percent",
                "air_dry_mass_g" if self.air_dry_mass_g is not None else "air_dry_rh_percent",
            )
        if self.start.mass_g is not None and self.air_dry_mass_g is None:
            raise refusal(
                "the wet weight says nothing without the air-dry mass",
                "give air_dry_mass_g and air_dry_rh_percent",
                "start",
            )
        return self

    @property
    def area_m2(self) -> float:
        """Area of one side, m2."""
        return float(self.length_m * self.width_m)

    @property
    def grammage_kg_m2(self) -> float:
        """Grammage of the whole object, kg/m2."""
        return float(self.grammage_g_m2) / 1000.0

    @property
    def thickness_m(self) -> float:
        """Thickness of the whole object, m."""
        return float(self.thickness_mm) / 1000.0

    @property
    def card_name(self) -> str:
        """The card of the sheet: the one named, else the starting card of its fibre."""
        return self.card or starting_card(self.fibre)

    @property
    def layers_or_sheet(self) -> tuple[ObjectLayer, ...]:
        """The layers from verso to recto, each with a card; one sheet where none are given."""
        given = self.layers or (ObjectLayer(grammage_g_m2=self.grammage_g_m2, thickness_mm=self.thickness_mm),)
        return tuple(x if x.card else x.model_copy(update={"card": self.card_name}) for x in given)


def starting_card(fibre: str) -> str:
    """The starting card for a fibre: rag, wood pulp or Japanese paper (rag where the word is unknown)."""
    word = fibre.lower()
    if any(x in word for x in ("kozo", "gampi", "mitsumata", "japan", "bast")):
        return "Japanese paper (starting card)"
    if any(x in word for x in ("wood", "pulp", "newsprint", "kraft", "sulphite")):
        return "wood-pulp paper (starting card)"
    return "rag paper (starting card)"
