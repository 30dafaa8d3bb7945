"""Humidity over saturated salts against Greenspan's table, the CRC constants and an older standard."""

from __future__ import annotations

from bibula.checks.rows import CheckRow
from bibula.formulas.salts import coarse_salt_humidity, saturated_salt_humidity

# salt -> per cent at 20 and 25 C in the published table, from memory
_TABLE = {
    "LiCl": (11.31, 11.30),
    "KCH3COO": (23.11, 22.51),
    "MgCl2": (33.07, 32.78),
    "NaCl": (75.47, 75.29),
    "KCl": (85.11, 84.34),
}


def rows() -> list[CheckRow]:
    """Typed values, in per cent relative humidity."""
    out = []
    for salt, values in _TABLE.items():
        out += [
            CheckRow(
                f"Greenspan's table: {salt} at {t:g} C [%]",
                "Greenspan1977, table values from memory",
                "memory",
                100.0 * saturated_salt_humidity(salt, t),
                theirs,
                0.015,
                "rounding of polynomial and table",
            )
            for t, theirs in zip((20.0, 25.0), values, strict=True)
        ]
    for salt in ("MgCl2", "NaCl", "KCl", "LiCl", "KNO3", "K2SO4", "Mg(NO3)2"):
        out.append(
            CheckRow(
                f"Two-constant form: {salt} at 25 C [%]",
                "CRCHandbook",
                "published",
                100.0 * saturated_salt_humidity(salt, 25.0),
                100.0 * coarse_salt_humidity(salt, 25.0),
                0.02,
                "the source gives 2 % for this form",
                relative=True,
            )
        )
    lithium = 100.0 * saturated_salt_humidity("LiCl", 25.0)
    out.append(
        CheckRow("LiCl at 25 C as CRC rounds it [%]", "CRCHandbook", "published", lithium, 11.0, 0.5, "rounded to 1 %")
    )
    for t, theirs in ((0.0, 74.9), (30.0, 75.6)):
        out.append(
            CheckRow(
                f"NaCl at {t:g} C, the 1954 measurement [%]",
                "WexlerHasegawa1954",
                "published",
                100.0 * saturated_salt_humidity("NaCl", t),
                theirs,
                0.7,
                "revised by up to 0.6 % RH in 1977",
            )
        )
    return out
