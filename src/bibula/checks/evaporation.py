"""Evaporation of a wet surface in room air: heat balance, wet bulb, pools, Nusselt numbers."""

from __future__ import annotations

from typing import Literal

from bibula.checks.rows import CheckRow
from bibula.formulas import moist_air, transfer

# (room t, RH) -> h_c -> g/(m2 h) without and with radiation (h_r = 5); an independent balance with
# Hyland-Wexler saturation, L = 2501 - 2.361 t kJ/kg, Lewis number 0.86
_RATES = {
    (20.0, 0.40): {2: (23.1, 42.3), 3: (34.6, 57.2), 5: (57.7, 84.0), 8: (92.4, 121.3), 15: (173.2, 204.7)},
    (20.0, 0.50): {2: (18.8, 35.0), 3: (28.1, 47.2), 5: (46.9, 69.0), 8: (75.0, 99.4), 15: (140.7, 167.2)},
    (20.0, 0.60): {2: (14.6, 27.8), 3: (22.0, 37.4), 5: (36.6, 54.5), 8: (58.6, 78.3), 15: (109.8, 131.2)},
    (23.0, 0.50): {2: (20.3, 39.3), 3: (30.4, 52.6), 5: (50.7, 76.3), 8: (81.1, 109.1), 15: (152.1, 182.4)},
}
# (water t, air t, RH) -> kg/(m2 h), natural and forced branch of Shah's correlation
_POOLS = {
    (25.0, 25.0, 0.5): (0.1238, 0.0792),
    (20.0, 20.0, 0.5): (0.0841, 0.0585),
    (30.0, 25.0, 0.5): (0.2489, 0.1331),
}
# Reynolds number -> Nusselt number; (Rayleigh number, layering) -> Nusselt number
_FORCED = {1e3: 18.732, 1e4: 59.236, 1e5: 187.321}
_STILL: dict[tuple[float, Literal["unstable", "stable"]], float] = {
    (1e5, "unstable"): 9.603,
    (1e6, "unstable"): 17.076,
    (1e9, "unstable"): 150.0,
    (1e5, "stable"): 4.801,
    (1e8, "stable"): 27.0,
}
_OWN = "computed independently from the heat balance"


def rows() -> list[CheckRow]:
    """Typed values."""
    return [*_rate_rows(), *_surface_rows(), *_coefficient_rows(), *_pool_rows(), *_nusselt_rows()]


def _rate_rows() -> list[CheckRow]:
    out = []
    for (t, rh), by_h in _RATES.items():
        for h_c, values in by_h.items():
            for h_r, theirs in zip((0.0, 5.0), values, strict=True):
                ours = 3.6e6 * transfer.evaporation_rate(t, rh, float(h_c), h_r).rate_kg_m2s
                name = f"Evaporation at {t:g} C, {100 * rh:g} %, h_c {h_c}, h_r {h_r:g} [g/(m2 h)]"
                out.append(CheckRow(name, _OWN, "computed", ours, theirs, 0.06, "digits typed"))
    return out


def _surface_rows() -> list[CheckRow]:
    out = []
    for lewis, h_c, h_r, theirs in (
        (1.0, 5.0, 0.0, 13.81),
        (0.86, 5.0, 0.0, 13.57),
        (0.86, 2.0, 5.0, 16.6),
        (0.86, 5.0, 5.0, 15.3),
        (0.86, 15.0, 5.0, 14.3),
    ):
        ours = transfer.evaporation_rate(20.0, 0.5, h_c, h_r, lewis).surface_c
        name = f"Surface of a wet sheet at 20 C, 50 %, Le {lewis:g}, h_c {h_c:g}, h_r {h_r:g} [C]"
        tolerance = 0.006 if h_r == 0.0 else 0.06
        out.append(CheckRow(name, _OWN, "computed", ours, theirs, tolerance, "digits typed"))
    # the two limits that need no table: Le = 1 without radiation is the wet bulb
    for t, rh in ((20.0, 0.4), (20.0, 0.5), (20.0, 0.6), (23.0, 0.5), (25.0, 0.5)):
        ours = transfer.evaporation_rate(t, rh, 5.0, 0.0, 1.0).surface_c
        out.append(
            CheckRow(
                f"Wet surface with Le = 1 against the wet bulb at {t:g} C, {100 * rh:g} % [C]",
                "ASHRAE2017",
                "computed",
                ours,
                moist_air.wet_bulb_c(t, rh),
                0.1,
                "the balance takes a fixed 1.2 x 1006 J/(m3 K) for the air",
            )
        )
    return out


def _coefficient_rows() -> list[CheckRow]:
    beta = transfer.vapour_transfer_s_m(5.0, 20.0)
    out = [
        CheckRow(
            "Vapour transfer at h_c 5, 20 C [1e-9 s/m]",
            "Lewis relation, computed independently",
            "computed",
            1e9 * beta,
            33.85,
            0.005,
            "digits typed",
        ),
        CheckRow(
            "Vapour transfer over h_c [1e-9 s/m per W/(m2 K)], handbook rule",
            "rule of 7e-9, from memory",
            "memory",
            1e9 * beta / 5.0,
            7.0,
            0.05,
            "a rounded rule",
            relative=True,
        ),
    ]
    for h, theirs in ((25.0, 183.82), (8.0, 58.823)):
        out.append(
            CheckRow(
                f"Vapour transfer at h {h:g} as a published benchmark pairs them [1e-9 s/m]",
                "Hagentoft2004",
                "published",
                1e9 * transfer.vapour_transfer_s_m(h, 20.0),
                theirs,
                0.09,
                "it rounds the rule up, to 7.35e-9 h",
                relative=True,
            )
        )
    gap = transfer.still_air_resistance_m2spa_kg(1e-4)
    out.append(
        CheckRow(
            "Vapour resistance of 0.1 mm of still air [m2 s Pa/kg]",
            "computed independently",
            "computed",
            gap,
            5.1e5,
            5e3,
            "digits typed",
        )
    )
    return out


def _pool_rows() -> list[CheckRow]:
    out = []
    for state, values in _POOLS.items():
        functions = (transfer.pool_evaporation_natural_kg_m2s, transfer.pool_evaporation_forced_kg_m2s)
        for kind, function, theirs in zip(("natural", "forced"), functions, values, strict=True):
            water, air, rh = state
            name = f"Shah, {kind}: water {water:g} C, air {air:g} C, {100 * rh:g} % [kg/(m2 h)]"
            source = "Shah2014, form from memory, computed independently"
            out.append(CheckRow(name, source, "computed", 3600.0 * function(*state), theirs, 6e-5, "digits typed"))
    # an evaporatively cooled sheet is stably layered: the natural branch must give nothing
    cold = transfer.pool_evaporation_natural_kg_m2s(13.8, 20.0, 0.5)
    name = "Shah, natural: a sheet at its wet bulb, room 20 C, 50 % [kg/(m2 h)]"
    out.append(CheckRow(name, "Shah2014, by reasoning: stable layering", "computed", 3600.0 * cold, 0.0, 0.0, "exact"))
    return out


def _nusselt_rows() -> list[CheckRow]:
    source = "ht 1.2.0 (MIT), values typed"
    reason = "same correlation, written independently; digits typed"
    out = [
        CheckRow(
            f"Nusselt number, laminar plate, Re {re:g}, Pr 0.71",
            source,
            "library",
            transfer.nusselt_forced(re, 0.71),
            theirs,
            1e-3,
            reason,
        )
        for re, theirs in _FORCED.items()
    ]
    for (ra, layering), theirs in _STILL.items():
        ours = transfer.nusselt_natural(ra, layering)
        name = f"Nusselt number, still air, {layering}, Ra {ra:g}"
        out.append(CheckRow(name, source, "library", ours, theirs, 1e-3, reason))
    return out
