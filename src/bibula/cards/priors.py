"""What is believed of a class of materials before anything of it is measured.

Every number here is assumed: common practice and handbook ranges from memory, no source, unless
a comment names one. A fit keeps these where its weighings do not determine a property.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bibula.cards.model import PROPERTIES, Card, Kind
from bibula.quantities.values import Value

SURFACE_TENSION_N_M = 0.0728
"""Of water at 20 °C, from memory of the tables; turns a pore radius into a suction."""

_KINDS: tuple[Kind, ...] = ("slab", "blotter", "felt", "interleaf", "paper", "board", "film", "absorbent")


@dataclass(frozen=True)
class Prior:
    """The prior of one property.

    Attributes:
        median: in the property's SI unit.
        spread: standard deviation of the logarithm; for a `normal` property, or where the median is
            zero, the standard deviation in the unit itself.
    """

    median: float
    spread: float


def suction_of_radius(radius_m: float) -> float:
    """Suction in Pa that empties a fully wetted round pore of this radius in m (Young and Laplace)."""
    return 2.0 * SURFACE_TENSION_N_M / radius_m


_R = suction_of_radius
# Columns as _KINDS. Papers span sized and unsized; films are water-tight; absorbent is anything else that drinks.
_TABLE: dict[str, tuple[tuple[float, float], ...]] = {
    "thickness_m": (
        (11e-3, 0.25),
        (0.85e-3, 0.4),
        (5e-3, 0.4),
        (0.12e-3, 0.4),
        (0.15e-3, 0.6),
        (1.5e-3, 0.5),
        (3e-3, 0.8),
        (3e-3, 1.0),
    ),
    "density_kg_m3": (
        (1180, 0.25),
        (435, 0.2),
        (250, 0.3),
        (283, 0.2),
        (600, 0.3),
        (700, 0.25),
        (1300, 0.4),
        (500, 0.7),
    ),
    "capacity_kg_m3": (
        (480, 0.15),
        (914, 0.1),
        (700, 0.2),
        (600, 0.25),
        (680, 0.25),
        (630, 0.25),
        (0, 0.1),
        (600, 0.4),
    ),
    "absorption_kg_m2s05": (
        (1.0, 0.8),
        (0.6, 0.7),
        (0.07, 1.0),
        (1.0, 1.1),
        (0.08, 1.3),
        (0.05, 1.1),
        (0, 1e-6),
        (0.5, 1.3),
    ),
    "median_suction_pa": (
        (_R(0.5e-6), 0.8),
        (_R(5e-6), 0.7),
        (2200, 1.0),
        (_R(32e-6), 0.7),
        (_R(1.2e-6), 0.9),
        (_R(1e-6), 0.9),
        (1e5, 1.0),
        (_R(3e-6), 1.5),
    ),
    "suction_spread": (
        (1.0, 0.3),
        (1.0, 0.3),
        (1.0, 0.4),
        (0.6, 0.3),
        (1.0, 0.3),
        (1.0, 0.3),
        (1.0, 0.3),
        (1.0, 0.4),
    ),
    "gab_monolayer_kg_kg": (
        (0.012, 0.6),
        (0.0387, 0.15),
        (0.0984, 0.15),
        (0.0021, 0.6),
        (0.0387, 0.2),
        (0.0387, 0.15),
        (0, 1e-6),
        (0.03, 0.8),
    ),
    "gab_c": (
        (20, 0.7),
        (10.1, 0.4),
        (6.88, 0.4),
        (10, 0.7),
        (10.1, 0.4),
        (10.1, 0.4),
        (10, 0.7),
        (10, 0.7),
    ),
    "gab_k": (
        (0.8, 0.06),
        (0.858, 0.03),
        (0.698, 0.05),
        (0.8, 0.06),
        (0.858, 0.03),
        (0.858, 0.03),
        (0.8, 0.06),
        (0.8, 0.08),
    ),
    "vapour_resistance": (
        (10, 0.5),
        (4, 0.5),
        (2, 0.35),
        (2, 0.35),
        (10, 0.6),
        (15, 0.6),
        (1e5, 1.5),
        (6, 0.7),
    ),
    "conductivity_w_mk": (
        (0.3, 0.5),
        (0.1, 0.5),
        (0.045, 0.3),
        (0.06, 0.4),
        (0.12, 0.5),
        (0.13, 0.4),
        (0.3, 0.8),
        (0.15, 0.7),
    ),
    "heat_capacity_j_kgk": (
        (850, 0.1),
        (1340, 0.1),
        (1360, 0.1),
        (1250, 0.1),
        (1340, 0.1),
        (1340, 0.1),
        (1200, 0.3),
        (1100, 0.25),
    ),
    "contact_kg_m2spa": (
        (1e-6, 1.1),
        (1e-6, 1.1),
        (3e-7, 1.1),
        (1e-6, 1.1),
        (3e-6, 1.1),
        (1e-6, 1.1),
        (0, 1e-12),
        (1e-6, 1.1),
    ),
    # Heat through the contact of bone-dry paper with metal goes with pressure to the power 0.084 to 0.167
    # (computed independently from the numbers of SeyedYagoobi1992); taken over for water, which is an assumption.
    "contact_exponent": ((0.15, 0.05),) * 8,
    "bridge_suction_pa": ((15e3, 0.7),) * 8,
    "drying_suction_ratio": (
        (1.8, 0.3),
        (1.8, 0.3),
        (3.0, 0.5),
        (1.8, 0.3),
        (1.8, 0.3),
        (1.8, 0.3),
        (1.0, 0.05),
        (1.8, 0.4),
    ),
    "drying_sorption_ratio": (
        (1.05, 0.04),
        (1.2, 0.06),
        (1.15, 0.06),
        (1.1, 0.06),
        (1.2, 0.06),
        (1.2, 0.06),
        (1.0, 0.02),
        (1.1, 0.08),
    ),
}


def class_priors(kind: Kind) -> dict[str, Prior]:
    """The priors of a kind, one for every key of PROPERTIES, in that order."""
    column = _KINDS.index(kind)
    return {key: Prior(*_TABLE[key][column]) for key in PROPERTIES}


def prior_value(kind: Kind, key: str) -> Value:
    """The class prior of one property as an assumed value; u is median times log spread (see `spread_of`)."""
    prior = class_priors(kind)[key]
    absolute = PROPERTIES[key].spread == "normal" or prior.median == 0.0
    return Value(
        value=float(prior.median),
        unit=PROPERTIES[key].unit,
        u=prior.spread if absolute else prior.median * prior.spread,
        origin="assumed",
        note=f"class prior for kind '{kind}'",
    )


def spread_of(key: str, value: Value) -> float:
    """How far a value may lie off, in the scale in which its property spreads.

    A card's u is first order: for a `lognormal` property the standard deviation of the logarithm
    is u / value (0 where the value is 0: nothing to multiply); for a `normal` one it is u itself.
    """
    if PROPERTIES[key].spread == "normal":
        return value.u
    return value.u / value.value if value.value > 0.0 else 0.0


def complete(card: Card) -> Card:
    """The card with every property: what it lacks comes from the class prior, marked assumed.

    Values the card has are not touched. Where anything was filled, the notes say what.
    """
    missing = [key for key in PROPERTIES if key not in card.values]
    if not missing:
        return card
    filled: Mapping[str, Value] = {key: prior_value(card.kind, key) for key in missing}
    ordered = {key: filled.get(key) or card.values[key] for key in PROPERTIES}
    note = f"From the class prior for kind '{card.kind}', assumed: " + ", ".join(missing) + "."
    return Card(card.name, card.kind, ordered, card.lot, card.date, dict(card.correlations), (*card.notes, note))
