"""Sorption isotherms against tables computed apart from the published constants, and against a handbook."""

from __future__ import annotations

from bibula.checks.rows import CheckRow
from bibula.formulas import sorption

_ACTIVITY = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95)
_GAB = (0.0352, 0.0515, 0.0646, 0.0781, 0.0940, 0.1145, 0.1436, 0.1891, 0.2724, 0.3472)
_HENDERSON = (0.0337, 0.0520, 0.0682, 0.0840, 0.1002, 0.1178, 0.1379, 0.1631, 0.2006, 0.2335)
_CONSTANTS = {25.0: (12.906, 0.88002), 80.0: (7.591, 0.62826)}
# per cent of dry mass at 20 C
_WOOD = {0.10: 2.49, 0.30: 6.19, 0.50: 9.27, 0.65: 12.0, 0.80: 16.04, 0.90: 20.53, 0.95: 23.94}
# solids in per cent -> water per dry mass: cockling begins, wetting ends, vapour humidification ends
_SOLIDS = {63: 0.587, 60: 0.667, 66: 0.515, 43: 1.326, 34: 1.94, 52: 0.92, 81: 0.235, 76: 0.316, 86: 0.163}
_OWN = "Leuk2016 constants, computed independently"
_DIGITS = "digits typed"


def rows() -> list[CheckRow]:
    """Typed values; water in kg per kg dry unless the name says otherwise."""
    pulp = sorption.gab_bleached_pulp(25.0)
    out = []
    for a, gab, henderson in zip(_ACTIVITY, _GAB, _HENDERSON, strict=True):
        at = f"at 25 C, {100 * a:g} %"
        ours = sorption.gab_water(a, pulp)
        out.append(CheckRow(f"Bleached pulp, GAB {at} [kg/kg]", _OWN, "computed", ours, gab, 6e-5, _DIGITS))
        ours = sorption.henderson_water(a, 25.0)
        out.append(CheckRow(f"Bleached pulp, Henderson {at} [kg/kg]", _OWN, "computed", ours, henderson, 6e-5, _DIGITS))
        back = sorption.gab_humidity(gab, pulp)
        out.append(CheckRow(f"Bleached pulp, inverse GAB {at}", _OWN, "computed", back, a, 1e-3, _DIGITS))
    for t, (c, k) in _CONSTANTS.items():
        ours_t = sorption.gab_bleached_pulp(t)
        out.append(CheckRow(f"Bleached pulp, GAB C at {t:g} C", _OWN, "computed", ours_t.c, c, 6e-4, _DIGITS))
        out.append(CheckRow(f"Bleached pulp, GAB K at {t:g} C", _OWN, "computed", ours_t.k, k, 6e-6, _DIGITS))
    for rh, theirs in _WOOD.items():
        ours = 100.0 * sorption.wood_water(rh, 20.0)
        name = f"Wood at 20 C, {100 * rh:g} % [% of dry mass]"
        reason = "digits typed; 2e-3 above for constants given to three digits"
        source = "WoodHandbook2010, form from memory, computed independently"
        out.append(CheckRow(name, source, "computed", ours, theirs, 4e-3, reason, relative=True))
    for solids, theirs in _SOLIDS.items():
        ours = sorption.water_ratio_from_solids(solids / 100.0)
        name = f"Water per dry mass at {solids} % solids [kg/kg]"
        source = "Sugarman1992 solids, converted independently"
        out.append(CheckRow(name, source, "computed", ours, theirs, 6e-3 if theirs > 0.9 else 6e-4, _DIGITS))
    return out
