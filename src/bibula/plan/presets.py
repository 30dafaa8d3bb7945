"""How wet an object of a class is after its bath: wide bands, from memory, to start from.

All bands are common practice, no source (origin `assumed`), unless a source stands beside them.
"""

from __future__ import annotations

from dataclasses import dataclass

from bibula.plan.model import ObjectClass, PlanObject
from bibula.quantities.values import Value

Range = tuple[float, float]


@dataclass(frozen=True)
class Preset:
    """A class of objects: its usual grammage (g/m2), thickness (mm) and wet pick-up (kg water per dry kg)."""

    label: str
    grammage_g_m2: Range
    thickness_mm: Range
    drained: Range
    blotted: Range


PRESETS: dict[ObjectClass, Preset] = {
    "tissue": Preset("Japanese tissue, lining paper", (5, 40), (0.02, 0.15), (2.0, 4.0), (1.0, 2.0)),
    "cheap pulp": Preset("newsprint, cheap wood-pulp paper", (45, 60), (0.07, 0.1), (1.5, 2.5), (1.0, 1.5)),
    "laid rag": Preset("laid rag, manuscript, book leaf", (70, 120), (0.1, 0.2), (1.2, 2.0), (0.8, 1.3)),
    "machine paper": Preset("map, poster, machine-made paper", (80, 160), (0.1, 0.2), (1.0, 1.8), (0.7, 1.2)),
    "etching": Preset("etching or watercolour paper", (180, 400), (0.25, 0.7), (1.2, 2.0), (0.9, 1.4)),
    "tracing": Preset("tracing or overbeaten paper", (40, 110), (0.04, 0.1), (0.6, 1.0), (0.4, 0.7)),
    "coated": Preset("coated paper", (90, 200), (0.08, 0.2), (0.4, 0.8), (0.3, 0.6)),
    "board": Preset("board, mounted work", (400, 1500), (0.6, 2.5), (0.8, 1.5), (0.7, 1.2)),
    # After wet pressing still more than 65 % water: handpapermaking.net newsletter, beginners' columns 54-56.
    "leaf-cast": Preset("leaf-cast sheet", (40, 200), (0.1, 0.5), (4.0, 8.0), (1.7, 2.2)),
}
# 81 +- 5 % solids at the end of humidifying (Sugarman & Vitale 1992).
DAMP_SOLIDS, U_DAMP_SOLIDS = 0.81, 0.05
AIR_DRY, U_AIR_DRY = 0.065, 0.015  # 4 to 8 % water at 20 to 70 % relative humidity
PRACTICE = "common practice, no source; from memory"


def class_of(thing: PlanObject) -> ObjectClass:
    """The class of an object: the one it names, else a guess from its fibre and grammage."""
    if thing.class_ is not None:
        return thing.class_
    fibre, grammage = thing.fibre.lower(), float(thing.grammage_g_m2)
    guesses: list[tuple[bool, ObjectClass]] = [
        (grammage >= 400, "board"),
        (any(x in fibre for x in ("tracing", "overbeaten", "parchmentised")), "tracing"),
        (any(x in fibre for x in ("kozo", "gampi", "mitsumata", "japan")) and grammage <= 40, "tissue"),
        (any(x in fibre for x in ("newsprint", "groundwood", "mechanical")), "cheap pulp"),
        (any(x in fibre for x in ("wood", "pulp", "sulphite", "kraft")), "machine paper"),
        (grammage >= 170, "etching"),
    ]
    return next((name for true, name in guesses if true), "laid rag")


def _band(low: float, high: float, note: str) -> Value:
    return Value((low + high) / 2.0, "kg/kg", (high - low) / 4.0, "assumed", "", note=note)


def _weighed(thing: PlanObject, air_dry: Value) -> Value:
    """Water per dry mass from a wet and an air-dry weight; the air-dry water is taken off first."""
    wet, u_wet = float(thing.start.mass_g or 0.0), float(thing.start.u_mass_g or 0.0)
    dry = float(thing.air_dry_mass_g or wet) / (1.0 + air_dry.value)
    ratio = wet / dry
    spread = ((u_wet / dry) ** 2 + (ratio * air_dry.u / (1.0 + air_dry.value)) ** 2) ** 0.5
    return Value(
        max(ratio - 1.0, 0.0), "kg/kg", spread, "measured", "wet and air-dry weight", note="from the plan file"
    )


def start_water(thing: PlanObject, air_dry: Value | None = None) -> Value:
    """Water per dry mass of the object when the plan begins, with its standard uncertainty.

    Args:
        thing: the object.
        air_dry: its equilibrium water (kg/kg) at the humidity of its air-dry weighing or, for an
            air-dry start, of the room; a wide value where None.

    Returns:
        kg/kg. A band of the class counts as 95 %: its middle, and a quarter of its width.
    """
    start, preset = thing.start, PRESETS[class_of(thing)]
    dry = air_dry or Value(AIR_DRY, "kg/kg", U_AIR_DRY, "assumed", "", note=PRACTICE)
    if start.water_content is not None:
        u = 0.1 * start.water_content if start.u_water_content is None else start.u_water_content
        if start.state == "measured":
            return Value(start.water_content, "kg/kg", u, "measured", "plan file", note="as given")
        return Value(start.water_content, "kg/kg", u, "assumed", note="as given in the plan file")
    if start.mass_g is not None and thing.air_dry_mass_g is not None:
        return _weighed(thing, dry)
    if start.state == "air-dry":
        return dry
    if start.state == "damp":
        x = 1.0 / DAMP_SOLIDS - 1.0
        return Value(x, "kg/kg", U_DAMP_SOLIDS / DAMP_SOLIDS**2, "published", "Sugarman1992", note="humidified")
    bands = {
        "drained": preset.drained,
        "blotted": preset.blotted,
        "rolled": tuple((a + b) / 2.0 for a, b in zip(preset.drained, preset.blotted, strict=True)),
        "soaked": (preset.drained[1], 1.5 * preset.drained[1]),
    }
    low, high = bands[start.state]
    return _band(low, high, f"{preset.label}, {start.state}; {PRACTICE}")
