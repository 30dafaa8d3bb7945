"""Exact solutions of diffusion in slabs and layers, against which computed runs are checked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import erfc, erfcx

from bibula.formulas.arrays import Array, Real, Result, plain, require
from bibula.quantities.errors import InputError

_INF = float("inf")
_TERMS = 400


def _ierfc(x: Array) -> Array:
    return np.asarray(np.exp(-(x**2)) / np.sqrt(np.pi) - x * erfc(x), dtype=np.float64)


def slab_remaining(fourier: Real) -> Result:
    """Share of the water that remains in a slab whose faces are held at their final value (Crank1975).

    Args:
        fourier: D t / a^2, 0 or more, with a the half-thickness (or the thickness, one face sealed).
    """
    require(fourier, 0.0, _INF, "Fourier number")
    fo = np.atleast_1d(np.asarray(fourier, dtype=np.float64))
    odd = 2.0 * np.arange(50) + 1.0
    late = np.sum(8.0 / (odd * np.pi) ** 2 * np.exp(-((odd * np.pi) ** 2) * fo[:, None] / 4.0), axis=1)
    n = np.arange(1, 8)
    root = np.sqrt(np.where(fo > 0.0, fo, 1.0))
    images = np.sum((-1.0) ** n * _ierfc(n / root[:, None]), axis=1)
    early = 1.0 - 2.0 * root * (1.0 / np.sqrt(np.pi) + 2.0 * images)
    value = np.where(fo > 0.2, late, np.where(fo > 0.0, early, 1.0))
    return plain(value.reshape(np.shape(fourier)))


def biot_roots(biot: float, count: int) -> Array:
    """First `count` positive roots of beta tan(beta) = Bi, shape (count,), Bi above 0 (Crank1975)."""
    require(biot, 1e-9, 1e9, "Biot number")
    require(float(count), 1.0, 1e5, "number of roots")

    def root(k: int) -> float:
        return float(brentq(lambda b: b * np.sin(b) - biot * np.cos(b), k * np.pi, (k + 0.5) * np.pi, xtol=1e-14))

    return np.array([root(k) for k in range(int(count))])


def slab_remaining_with_resistance(fourier: Real, biot: float) -> Result:
    """Share of the water that remains in a slab with a surface resistance (Crank1975).

    Args:
        fourier: D t / a^2, 0 or more.
        biot: a h_m / D, with h_m in the units of D over length.
    """
    require(fourier, 0.0, _INF, "Fourier number")
    beta = biot_roots(biot, _TERMS)
    fo = np.atleast_1d(np.asarray(fourier, dtype=np.float64))
    weight = 2.0 * biot**2 / (beta**2 * (beta**2 + biot**2 + biot))
    value = np.where(fo > 0.0, np.exp(-(beta**2) * fo[:, None]) @ weight, 1.0)
    return plain(value.reshape(np.shape(fourier)))


@dataclass(frozen=True)
class Layer:
    """A layer of constant diffusivity whose two faces are set, at time 0, to fixed values."""

    thickness_m: float
    diffusivity_m2_s: float
    start: float
    left: float
    right: float

    def __post_init__(self) -> None:
        require(self.thickness_m, 1e-9, 1e3, "thickness", "m")
        require(self.diffusivity_m2_s, 1e-20, 1.0, "diffusivity", "m2/s")


def layer_profile(x_m: Real, time_s: float, layer: Layer) -> Result:
    """Exact value at depth x (0 to the thickness) and time (above 0), by Fourier series (Crank1975)."""
    require(x_m, 0.0, layer.thickness_m, "depth", "m")
    n, decay, amplitude = _layer_series(time_s, layer)
    x = np.atleast_1d(np.asarray(x_m, dtype=np.float64))
    waves = np.sin(n * np.pi * x[:, None] / layer.thickness_m) @ (amplitude * decay)
    value = layer.left + (layer.right - layer.left) * x / layer.thickness_m + waves
    return plain(value.reshape(np.shape(x_m)))


def layer_mean(time_s: float, layer: Layer) -> float:
    """Mean over the layer of the same solution."""
    n, decay, amplitude = _layer_series(time_s, layer)
    waves = float(np.sum(amplitude * decay * (1.0 - (-1.0) ** n) / (n * np.pi)))
    return 0.5 * (layer.left + layer.right) + waves


def _layer_series(time_s: float, layer: Layer) -> tuple[Array, Array, Array]:
    rate = layer.diffusivity_m2_s * (np.pi / layer.thickness_m) ** 2
    require(time_s, 1e-5 / rate, _INF, "time", "s", "the series needs D t / L^2 of at least 1e-6")
    n = np.arange(1.0, 4001.0)
    amplitude = 2.0 / (n * np.pi) * ((layer.start - layer.left) - (-1.0) ** n * (layer.start - layer.right))
    return n, np.exp(-rate * n**2 * time_s), amplitude


def semi_infinite_surface(h_root_dt: Real) -> Result:
    """Response (0 to 1) of the surface of a semi-infinite body with surface resistance (Crank1975).

    Args:
        h_root_dt: h sqrt(D t), with h the transfer coefficient over D; 0 or more.
    """
    require(h_root_dt, 0.0, _INF, "h sqrt(Dt)")
    return plain(1.0 - erfcx(np.asarray(h_root_dt, dtype=np.float64)))


def semi_infinite_profile(depth: Real, h_root_dt: float) -> Result:
    """The same at a depth, given as x / (2 sqrt(D t)), 0 or more; written so that it cannot overflow."""
    require(depth, 0.0, _INF, "depth")
    require(h_root_dt, 0.0, _INF, "h sqrt(Dt)")
    z = np.asarray(depth, dtype=np.float64)
    return plain(erfc(z) - np.exp(-(z**2)) * erfcx(z + h_root_dt))


@dataclass(frozen=True)
class SteadyLayers:
    """Steady flow through layers: flux in kg/(m2 s) and pressure in Pa at both ends and every joint."""

    flux_kg_m2s: float
    pressure_pa: Array


def steady_layers(
    thickness_m: Sequence[float] | Array,
    permeability_s: Sequence[float] | Array,
    left_pa: float,
    right_pa: float,
    surface_s_m: tuple[float, float] | None = None,
) -> SteadyLayers:
    """Steady vapour flow through layers in series, positive from left to right.

    Args:
        thickness_m: shape (n,), above 0.
        permeability_s: vapour permeability of each in kg/(m s Pa), above 0.
        left_pa: vapour pressure on the left.
        right_pa: on the right.
        surface_s_m: transfer coefficients left and right; None sets the pressures at the faces themselves.

    Returns:
        Flux and pressures, shape (n + 1,) or (n + 3,) with surfaces, from left to right.
    """
    d, p = np.atleast_1d(np.asarray(thickness_m, float)), np.atleast_1d(np.asarray(permeability_s, float))
    if d.shape != p.shape or d.ndim != 1:
        raise InputError("thicknesses and permeabilities differ in number", "give one of each for every layer")
    require(d, 1e-12, 1e3, "thickness", "m")
    require(p, 1e-30, 1.0, "permeability", "kg/(m s Pa)")
    resistance = d / p
    if surface_s_m is not None:
        require(np.array(surface_s_m), 1e-15, 1e3, "surface transfer coefficient", "s/m")
        resistance = np.r_[1.0 / surface_s_m[0], resistance, 1.0 / surface_s_m[1]]
    require(left_pa, 0.0, 1e6, "vapour pressure", "Pa")
    require(right_pa, 0.0, 1e6, "vapour pressure", "Pa")
    flux = (left_pa - right_pa) / float(resistance.sum())
    return SteadyLayers(flux, left_pa - flux * np.r_[0.0, np.cumsum(resistance)])
