"""Moisture content from a wet and a dry weighing, on either basis, with its uncertainty."""

from __future__ import annotations

import math
from typing import Literal

from bibula.evidence.summaries import Summary
from bibula.formulas.arrays import require
from bibula.quantities.errors import InputError


def moisture_content(
    wet_kg: float, dry_kg: float, weighing_u_kg: float = 0.0, basis: Literal["dry", "wet"] = "dry"
) -> Summary:
    """Water over dry mass (`dry`) or over wet mass (`wet`), kg/kg; the two differ, so the name says which.

    Args:
        wet_kg: mass with its water.
        dry_kg: mass without, above 0 and not above `wet_kg`.
        weighing_u_kg: standard uncertainty of each weighing, taken as independent.
        basis: what the water is divided by.

    Raises:
        InputError: masses out of order or not numbers, an unknown basis.
    """
    require(dry_kg, 1e-12, 1e6, "dry mass", "kg")
    require(wet_kg, dry_kg, 1e6, "wet mass", "kg", "the wet mass must not be below the dry mass")
    require(weighing_u_kg, 0.0, 1e6, "uncertainty of a weighing", "kg")
    if basis not in {"dry", "wet"}:
        raise InputError(f"'{basis}' is no basis of moisture content", "say dry or wet")
    below = dry_kg if basis == "dry" else wet_kg
    value = (wet_kg - dry_kg) / below
    u = weighing_u_kg * math.hypot(wet_kg, dry_kg) / below**2
    return Summary(
        f"moisture content, {basis} basis",
        value,
        "kg/kg",
        u,
        value - 1.96 * u,
        value + 1.96 * u,
        f"loss of mass over {basis} mass",
        2,
    )
