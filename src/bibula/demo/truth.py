"""What the invented materials of the demo studio "really" are: the numbers its weighings are made from.

Nothing here was measured. The numbers are chosen within the usual ranges of such materials, so that
a reader can compare what the fits find with what was put in.
"""

from __future__ import annotations

from collections.abc import Mapping

from bibula.cards.library import starting_cards

SEED = 20310314
"""Of every invented error."""
ROOM_C, ROOM_RH = 20.0, 0.50
"""The studio on the days of the bench tests."""
BEGINNINGS = {"slab": "slab", "blotter": "blotter", "felt": "felt", "interleaf": "interleaf", "paper": "rag paper"}

TRUTH: Mapping[str, tuple[str, Mapping[str, float]]] = {
    "Reach slab, lot 1 (invented)": (
        "slab",
        {
            "thickness_m": 0.0104,
            "density_kg_m3": 1120.0,
            "capacity_kg_m3": 505.0,
            "absorption_kg_m2s05": 1.15,
            "median_suction_pa": 240e3,
            "suction_spread": 1.1,
            "gab_monolayer_kg_kg": 0.011,
            "contact_kg_m2spa": 1.6e-6,
        },
    ),
    "Reach slab, lot 2 (invented)": (
        "slab",
        {
            "thickness_m": 0.0107,
            "density_kg_m3": 1215.0,
            "capacity_kg_m3": 458.0,
            "absorption_kg_m2s05": 0.80,
            "median_suction_pa": 330e3,
            "suction_spread": 1.1,
            "gab_monolayer_kg_kg": 0.012,
            "contact_kg_m2spa": 1.3e-6,
        },
    ),
    "Osier blotter (invented)": (
        "blotter",
        {
            "thickness_m": 0.0009,
            "density_kg_m3": 450.0,
            "capacity_kg_m3": 890.0,
            "absorption_kg_m2s05": 0.75,
            "median_suction_pa": 25e3,
            "contact_kg_m2spa": 1.4e-6,
        },
    ),
    "Weir felt (invented)": (
        "felt",
        {
            "thickness_m": 0.0046,
            "density_kg_m3": 235.0,
            "capacity_kg_m3": 640.0,
            "absorption_kg_m2s05": 0.085,
            "median_suction_pa": 2000.0,
            "contact_kg_m2spa": 4e-7,
        },
    ),
    "Sallow interleaf (invented)": (
        "interleaf",
        {"thickness_m": 0.00011, "density_kg_m3": 300.0, "capacity_kg_m3": 560.0, "absorption_kg_m2s05": 0.9},
    ),
    "rag paper (starting card)": ("paper", {"capacity_kg_m3": 760.0, "absorption_kg_m2s05": 0.045}),
}
"""Name of the card -> kind, and what differs from the starting card of that kind (SI)."""


def true_values(name: str) -> dict[str, float]:
    """Every property of an invented material, SI."""
    kind, own = TRUTH[name]
    card = starting_cards()[f"{BEGINNINGS[kind]} (starting card)"]
    return {**{key: value.value for key, value in card.values.items()}, **own}
