"""Other units a card file may use, and what they are in the property's own SI unit."""

from __future__ import annotations

import math
from fractions import Fraction

from bibula.cards.model import PROPERTIES

OTHER_UNITS: dict[str, dict[str, Fraction]] = {
    "thickness_m": {"cm": Fraction(1, 100), "mm": Fraction(1, 1000), "um": Fraction(1, 10**6)},
    "density_kg_m3": {"g/cm3": Fraction(1000)},
    "capacity_kg_m3": {"g/cm3": Fraction(1000)},
    "absorption_kg_m2s05": {"g/(m2 s^0.5)": Fraction(1, 1000), "kg/(m2 h^0.5)": Fraction(1, 60)},
    "median_suction_pa": {"kPa": Fraction(1000), "MPa": Fraction(10**6)},
    "gab_monolayer_kg_kg": {"g/g": Fraction(1), "%": Fraction(1, 100)},
    "conductivity_w_mk": {"mW/(m K)": Fraction(1, 1000)},
    "heat_capacity_j_kgk": {"kJ/(kg K)": Fraction(1000)},
    "contact_kg_m2spa": {"g/(m2 s kPa)": Fraction(1, 10**6)},
    "bridge_suction_pa": {"kPa": Fraction(1000)},
}
"""By property: other unit -> factor to the SI unit. kg/(m2 h^0.5): the square root of an hour is 60 s^0.5."""


def accepted_units(key: str) -> tuple[str, ...]:
    """The units in which a property may be given, its SI unit first."""
    return (PROPERTIES[key].unit, *OTHER_UNITS.get(key, {}))


def to_si(key: str, number: float, unit: str) -> float:
    """A number in one of the accepted units of a property, in its SI unit.

    The factor is exact, so 11 mm is 0.011 m and not 0.011000000000000001 m.

    Args:
        key: a key of PROPERTIES.
        number: the number as written.
        unit: one of `accepted_units(key)`.

    Raises:
        KeyError: the unit is not an accepted one.
    """
    if unit == PROPERTIES[key].unit or not math.isfinite(number):
        return float(number)
    return float(Fraction(repr(number)) * OTHER_UNITS[key][unit])


def property_table() -> str:
    """The properties a card may hold as a Markdown table: key, unit, other units, range, meaning."""
    lines = ["| key | unit | also read | range | meaning |", "| --- | --- | --- | --- | --- |"]
    for key, prop in PROPERTIES.items():
        others = "; ".join(f"{unit} (× {_plain(factor)})" for unit, factor in OTHER_UNITS.get(key, {}).items())
        lines.append(f"| `{key}` | {prop.unit} | {others} | {prop.low:g} to {prop.high:g} | {prop.meaning} |")
    return "\n".join(lines) + "\n"


def _plain(factor: Fraction) -> str:
    decimal = f"{float(factor):g}"
    return decimal if Fraction(decimal) == factor else str(factor)
