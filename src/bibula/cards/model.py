"""The card: what is known of one material (or one lot), each value with unit, uncertainty, origin.

The properties below are the only ones the physics reads. Every key ends in its SI unit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from bibula.quantities.errors import InputError
from bibula.quantities.values import Value

Kind = Literal["slab", "blotter", "felt", "interleaf", "paper", "board", "film", "absorbent"]


@dataclass(frozen=True)
class Property:
    """One property a card may hold: its unit, the range in which a value makes sense, its meaning."""

    unit: str
    low: float
    high: float
    meaning: str
    spread: Literal["lognormal", "normal"] = "lognormal"


PROPERTIES: dict[str, Property] = {
    "thickness_m": Property("m", 1e-6, 0.2, "thickness of one piece"),
    "density_kg_m3": Property("kg/m3", 10.0, 3000.0, "dry bulk density"),
    "capacity_kg_m3": Property("kg/m3", 0.0, 1000.0, "water held per bulk volume when capillary saturated"),
    "absorption_kg_m2s05": Property("kg/(m2 s^0.5)", 0.0, 10.0, "capillary absorption coefficient A_w"),
    "median_suction_pa": Property("Pa", 10.0, 1e8, "median of the pore-size distribution, as suction (wetting)"),
    "suction_spread": Property("1", 0.1, 4.0, "spread of ln suction of the pore-size distribution"),
    "gab_monolayer_kg_kg": Property("kg/kg", 0.0, 0.3, "GAB monolayer water X_m (adsorption)"),
    "gab_c": Property("1", 0.1, 200.0, "GAB constant C"),
    "gab_k": Property("1", 0.1, 0.99, "GAB constant K"),
    "vapour_resistance": Property("1", 1.0, 1e7, "vapour resistance factor mu"),
    "conductivity_w_mk": Property("W/(m K)", 0.01, 10.0, "thermal conductivity, dry"),
    "heat_capacity_j_kgk": Property("J/(kg K)", 100.0, 5000.0, "specific heat capacity, dry"),
    "contact_kg_m2spa": Property("kg/(m2 s Pa)", 0.0, 1.0, "liquid conductance of one face in contact at 500 Pa"),
    "contact_exponent": Property("1", 0.0, 1.0, "exponent of that conductance in the contact pressure", "normal"),
    "bridge_suction_pa": Property(
        "Pa", 100.0, 1e7, "suction at which the water bridges of a contact have faded by half"
    ),
    "drying_suction_ratio": Property("1", 1.0, 20.0, "suction on the drying branch over that on the wetting branch"),
    "drying_sorption_ratio": Property(
        "1", 1.0, 2.0, "sorbed water on the drying branch over that on the wetting branch"
    ),
}


@dataclass(frozen=True)
class Card:
    """What is known of one material or one lot.

    Attributes:
        name: what the user calls it, unique in a studio ("Marl slab, lot 2").
        kind: what sort of thing it is; gives the class priors.
        values: property key -> Value; keys from PROPERTIES.
        lot: lot or batch, "" where none.
        date: ISO date of the card.
        correlations: pairs of keys -> correlation of their (log) estimates.
        notes: what a reader must know, one sentence each.
    """

    name: str
    kind: Kind
    values: Mapping[str, Value]
    lot: str = ""
    date: str = ""
    correlations: Mapping[tuple[str, str], float] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for key, v in self.values.items():
            prop = PROPERTIES.get(key)
            if prop is None:
                raise InputError(
                    f"card '{self.name}' has an unknown property '{key}'", "use one of " + ", ".join(PROPERTIES)
                )
            if v.unit != prop.unit:
                raise InputError(f"card '{self.name}': {key} is in '{v.unit}'", f"give it in {prop.unit}")
            if not prop.low <= v.value <= prop.high:
                raise InputError(
                    f"card '{self.name}': {key} = {v.value:g} {v.unit} is outside {prop.low:g} to {prop.high:g}",
                    "check the number and its unit",
                )
            if not v.u >= 0.0:
                raise InputError(f"card '{self.name}': the uncertainty of {key} is negative", "give it as zero or more")

    def __getitem__(self, key: str) -> float:
        """The value of a property in its SI unit."""
        try:
            return self.values[key].value
        except KeyError:
            raise InputError(
                f"card '{self.name}' does not give {key}", "add it, or start from a starting card"
            ) from None

    def with_values(self, **new: Value) -> Card:
        """A copy with some values replaced or added."""
        return replace(self, values={**self.values, **new})
