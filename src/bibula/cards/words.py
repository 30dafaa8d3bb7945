"""What a property is called where a person reads it; the keys stay in the files."""

from __future__ import annotations

import re

LABELS: dict[str, str] = {
    "thickness_m": "thickness",
    "density_kg_m3": "dry density",
    "capacity_kg_m3": "capacity",
    "absorption_kg_m2s05": "absorption A_w",
    "median_suction_pa": "median suction of its pores",
    "suction_spread": "spread of its pores",
    "gab_monolayer_kg_kg": "sorbed monolayer",
    "gab_c": "sorption constant C",
    "gab_k": "sorption constant K",
    "vapour_resistance": "vapour resistance factor",
    "conductivity_w_mk": "dry heat conductivity",
    "heat_capacity_j_kgk": "dry heat capacity",
    "contact_kg_m2spa": "liquid contact at 500 Pa",
    "contact_exponent": "pressure exponent of the contact",
    "bridge_suction_pa": "suction its contact bridges hold",
    "drying_suction_ratio": "drying over wetting suction",
    "drying_sorption_ratio": "drying over wetting sorption",
    "film_kg_m2": "film lifted from the water",
}
"""Property key -> its words, in the order of cards.model.PROPERTIES; the film belongs to a test, not to a card."""

_KEYS = re.compile(r"\b(" + "|".join(sorted(LABELS, key=len, reverse=True)) + r")\b")


def in_words(text: str) -> str:
    """A sentence with property keys put into words."""
    return _KEYS.sub(lambda match: LABELS[match[1]], text)
