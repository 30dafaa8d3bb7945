"""Drying through the transient solver: slabs with an exact answer, the evaporation limit, the cost in heat."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from bibula.checks.rows import CheckRow
from bibula.checks.solver_cases import (
    TIGHT,
    air,
    at_humidity,
    at_suction,
    column,
    joined,
    linear_vapour_diffusivity,
    linear_vapour_material,
    one_layer,
    prior_material,
    sealed,
)
from bibula.formulas import analytic
from bibula.formulas.moist_air import latent_heat_j_kg, wet_bulb_c
from bibula.formulas.transfer import evaporation_rate, vapour_transfer_s_m
from bibula.physics.integrate import Tolerance
from bibula.physics.materials import pore_material
from bibula.physics.run import StageResult, run_stage
from bibula.physics.stack import Boundary, steady_weather

Array = NDArray[np.float64]

WATER_KG_M3, PERMEABILITY_S, HALF_M = 100.0, 2e-11, 0.01
"""The linear material and the thickness of the slab, its lower face sealed."""
FOURIER = (0.01, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0)
BIOT = (0.1, 0.5, 1.0, 5.0, 10.0, 100.0)
BIOT_FOURIER = (0.1, 0.2, 0.5, 1.0, 2.0)
START_RH, ROOM_RH = 0.8, 0.4
LINEAR = Tolerance(1e-7, 1e-9, 1e-5)


def slab_remaining(fourier: tuple[float, ...], biot: float, intervals: int = 60, grading: float = 0.9) -> Array:
    """Share of the water still to leave at each Fourier number, by the solver, shape of `fourier`."""
    diffusivity = linear_vapour_diffusivity(WATER_KG_M3, PERMEABILITY_S)
    vapour = biot * PERMEABILITY_S / HALF_M
    tables = linear_vapour_material(WATER_KG_M3, PERMEABILITY_S)
    stack = one_layer(tables, HALF_M, intervals, sealed(), air(20.0, ROOM_RH, 1e6, vapour), grading=grading)
    times = np.array([0.0, *(f * HALF_M**2 / diffusivity for f in fourier)])
    water = run_stage(stack, at_humidity(stack, START_RH), times, LINEAR).water.sum(axis=1)
    end = WATER_KG_M3 * HALF_M * ROOM_RH
    return np.asarray((water[1:] - end) / (water[0] - end))


def _crank() -> list[CheckRow]:
    why = "2e-4: half a unit of the third figure a balance gives; error of 60 intervals"
    name = "Drying slab by the solver: water left at Dt/a2 = {:g}, {} [share]"
    ours = slab_remaining(FOURIER, 1e8)
    theirs = np.asarray(analytic.slab_remaining(np.array(FOURIER)))
    out = [
        CheckRow(name.format(f, "faces held"), "Crank1975, series", "computed", float(a), float(b), 2e-4, why)
        for f, a, b in zip(FOURIER, ours, theirs, strict=True)
    ]
    for biot in BIOT:
        ours = slab_remaining(BIOT_FOURIER, biot)
        theirs = np.asarray(analytic.slab_remaining_with_resistance(np.array(BIOT_FOURIER), biot))
        out += [
            CheckRow(name.format(f, f"Bi = {biot:g}"), "Crank1975, series", "computed", float(a), float(b), 2e-4, why)
            for f, a, b in zip(BIOT_FOURIER, ours, theirs, strict=True)
        ]
    return out


SURFACE_H = (0.1, 0.5, 1.0, 2.0)


def semi_infinite_response() -> Array:
    """Response of the surface of a deep body at H = SURFACE_H, by the solver."""
    diffusivity = linear_vapour_diffusivity(WATER_KG_M3, PERMEABILITY_S)
    length = 0.01  # D over the transfer coefficient
    tables = linear_vapour_material(WATER_KG_M3, PERMEABILITY_S)
    parts = [(0.2, 60, 0.0), (0.04, 80, 0.0), (0.004, 80, 0.0)]
    room = air(20.0, ROOM_RH, 1e6, PERMEABILITY_S / length)
    stack = joined(column("body", tables, parts), sealed(), room)
    times = np.array([0.0, *((h * length) ** 2 / diffusivity for h in SURFACE_H)])
    result = run_stage(stack, at_humidity(stack, START_RH), times, LINEAR)
    humidity = result.relative_humidity[1:, -1]
    return np.asarray((START_RH - humidity) / (START_RH - ROOM_RH))


def _semi_infinite() -> list[CheckRow]:
    why = "5e-4: the grid's error at the surface node"
    theirs = np.asarray(analytic.semi_infinite_surface(np.array(SURFACE_H)))
    return [
        CheckRow(
            f"Deep body by the solver: surface response at h sqrt(Dt) = {h:g} [share]",
            "Crank1975",
            "computed",
            float(a),
            float(b),
            5e-4,
            why,
        )
        for h, a, b in zip(SURFACE_H, semi_infinite_response(), theirs, strict=True)
    ]


# --- the evaporation limit ----------------------------------------------------------------------------------

ROOMS = ((20.0, 0.4), (20.0, 0.5), (20.0, 0.6), (23.0, 0.5))
COEFFICIENTS = (2.0, 3.0, 5.0, 8.0, 15.0)
RADIATION = 5.0
RATES_G_M2H = {
    (20.0, 0.4, 0.0): (23.1, 34.6, 57.7, 92.4, 173.2),
    (20.0, 0.4, RADIATION): (42.3, 57.2, 84.0, 121.3, 204.7),
    (20.0, 0.5, 0.0): (18.8, 28.1, 46.9, 75.0, 140.7),
    (20.0, 0.5, RADIATION): (35.0, 47.2, 69.0, 99.4, 167.2),
    (20.0, 0.6, 0.0): (14.6, 22.0, 36.6, 58.6, 109.8),
    (20.0, 0.6, RADIATION): (27.8, 37.4, 54.5, 78.3, 131.2),
    (23.0, 0.5, 0.0): (20.3, 30.4, 50.7, 81.1, 152.1),
    (23.0, 0.5, RADIATION): (39.3, 52.6, 76.3, 109.1, 182.4),
}
"""g/(m2 h) at COEFFICIENTS; (room C, relative humidity, radiative coefficient) -> row."""


@cache
def wet_sheet(room_c: float, humidity: float, h_c: float, h_r: float = 0.0, lewis: float = 0.86) -> tuple[float, float]:
    """Rate in kg/(m2 s) and surface temperature in C of a wet sheet 2 mm thick that has settled, by the solver."""
    tables = pore_material(prior_material("blotter", median_suction_pa=2000.0))
    vapour = float(vapour_transfer_s_m(h_c, room_c, lewis))
    stack = one_layer(tables, 2e-3, 8, sealed(), air(room_c, humidity, h_c + h_r, vapour))
    settled = 12.0 * 2e-3 * 4.3e6 / (h_c + h_r)
    times = np.array([0.0, settled, 1.02 * settled])
    result = run_stage(stack, at_suction(stack, 100.0, room_c), times, TIGHT)
    rate = float(result.out_above[2] - result.out_above[1]) / (times[2] - times[1])
    return rate, float(result.temperature[2, -1])


def _limit() -> list[CheckRow]:
    rounding = "half a unit of the table's last figure, and 0.05 % for the suction of the sheet as it empties"
    out: list[CheckRow] = []
    for (room, humidity, h_r), rates in RATES_G_M2H.items():
        for h_c, theirs in zip(COEFFICIENTS, rates, strict=True):
            rate, surface = wet_sheet(room, humidity, h_c, h_r)
            where = f"{room:g} C, {100 * humidity:g} %, h_c {h_c:g}, h_r {h_r:g}"
            out.append(
                CheckRow(
                    f"Wet sheet by the solver: rate at {where} [g/(m2 h)]",
                    "heat balance, ChiltonColburn1934",
                    "computed",
                    rate * 3.6e6,
                    theirs,
                    0.05 + 5e-4 * theirs,
                    rounding,
                )
            )
            balance = evaporation_rate(room, humidity, h_c, h_r).surface_c
            out.append(
                CheckRow(
                    f"Wet sheet by the solver: surface temperature at {where} [C]",
                    "heat balance, ChiltonColburn1934",
                    "computed",
                    surface,
                    balance,
                    0.02,
                    "0.02 K: a tenth of what the Lewis factor changes",
                )
            )
    return out


def _wet_bulb() -> list[CheckRow]:
    source, why = "heat balance, computed independently", "half a unit of the last figure, and 0.01 K for the suction"
    out: list[CheckRow] = []
    for lewis, h_c, h_r, theirs, tolerance in (
        (1.0, 15.0, 0.0, 13.81, 0.015),
        (0.86, 15.0, 0.0, 13.57, 0.015),
        (0.86, 2.0, 5.0, 16.6, 0.06),
        (0.86, 5.0, 5.0, 15.3, 0.06),
        (0.86, 15.0, 5.0, 14.3, 0.06),
    ):
        surface = wet_sheet(20.0, 0.5, h_c, h_r, lewis)[1]
        name = f"Wet sheet at 20 C, 50 % by the solver: surface, Lewis {lewis:g}, h_c {h_c:g}, h_r {h_r:g} [C]"
        out.append(CheckRow(name, source, "computed", surface, theirs, tolerance, why))
    name = "Wet sheet at 20 C, 50 % by the solver: surface at Lewis 1 against the psychrometric wet bulb [C]"
    wet_bulb = float(wet_bulb_c(20.0, 0.5))
    surface = wet_sheet(20.0, 0.5, 15.0, 0.0, 1.0)[1]
    why = "0.05 K: the wet bulb is defined by air that carries its own water, the sheet by constant coefficients"
    out.append(CheckRow(name, "ASHRAE2017", "computed", surface, wet_bulb, 0.05, why))
    return out


# --- what evaporation costs ---------------------------------------------------------------------------------

ZEROS_C = (-100.0, 0.0, 20.0, 60.0)


@cache
def held_warm(zero_c: float) -> StageResult:
    """A wet sheet on a warm plate of 20 C; all heat comes from the plate, all water leaves to the air."""
    tables = pore_material(prior_material("blotter", conductivity_w_mk=100.0))
    plate = Boundary(steady_weather(20.0, 0.5), 1e5, 0.0)
    stack = one_layer(tables, 1e-3, 10, plate, air(20.0, 0.5, 0.0, 3e-8), zero_c=zero_c)
    return run_stage(stack, at_suction(stack, 100.0), np.linspace(0.0, 4 * 3600.0, 9), Tolerance(1e-9, 1e-11, 1e-7))


def _latent() -> list[CheckRow]:
    theirs = float(latent_heat_j_kg(20.0)) / 1e6
    out: list[CheckRow] = []
    for zero in ZEROS_C:
        states = held_warm(zero).states
        heat, water = -float(states[-1, 1]), float(states[-1, -2])
        out.append(
            CheckRow(
                f"Heat to evaporate 1 kg at 20 C by the solver, scale from {zero:g} C [MJ]",
                "latent heat, 2.501 - 0.002361 t",
                "computed",
                heat / water / 1e6,
                theirs,
                1e-3,
                "0.1 %: the share by which published heats differ",
                True,
            )
        )
    return out


def rows() -> list[CheckRow]:
    """Slabs with an exact answer, the evaporation limit, the heat of evaporation."""
    return _crank() + _semi_infinite() + _limit() + _wet_bulb() + _latent()
