"""Exact diffusion solutions against tables computed apart, published roots and one published value."""

from __future__ import annotations

from bibula.checks.rows import CheckRow
from bibula.formulas import analytic

_FIXED = {0.01: 0.887162, 0.05: 0.747687, 0.1: 0.643177, 0.2: 0.495912, 0.5: 0.236050, 1.0: 0.068740}
_FOURIER = (0.1, 0.2, 0.5, 1.0, 2.0)
# Bi -> first three roots of beta tan(beta) = Bi, then the share remaining at _FOURIER
_BIOT = {
    0.1: (0.3111, 3.1731, 6.2991, 0.99023, 0.98065, 0.95257, 0.90759, 0.82389),
    0.5: (0.6533, 3.2923, 6.3616, 0.95538, 0.91462, 0.80433, 0.64976, 0.42405),
    1.0: (0.8603, 3.4256, 6.4373, 0.91960, 0.85160, 0.68110, 0.47040, 0.22439),
    5.0: (1.3138, 4.0336, 6.9096, 0.78142, 0.64902, 0.38517, 0.16248, 0.02892),
    10.0: (1.4289, 4.3058, 7.2281, 0.72612, 0.58326, 0.31502, 0.11350, 0.01473),
    100.0: (1.5552, 4.6658, 7.7764, 0.65300, 0.50573, 0.24422, 0.07287, 0.00649),
}
_DEPTHS_MM = (2.5, 5.0, 10.0, 20.0, 30.0, 50.0, 75.0, 100.0, 125.0, 150.0, 170.0, 180.0, 190.0, 195.0)
# hours -> water in kg/m3 at those depths, then the mean
_LAYER = {
    100: (
        25.781,
        31.937,
        43.644,
        62.855,
        75.055,
        83.716,
        84.749,
        84.769,
        84.752,
        83.893,
        76.688,
        66.541,
        50.560,
        40.822,
        74.8603,
    ),
    300: (
        23.147,
        26.741,
        33.810,
        47.030,
        58.372,
        74.012,
        82.313,
        84.115,
        82.715,
        75.821,
        62.811,
        53.377,
        42.380,
        36.500,
        67.6068,
    ),
    1000: (
        21.483,
        23.426,
        27.291,
        34.842,
        41.992,
        54.409,
        65.108,
        69.456,
        67.266,
        59.066,
        49.000,
        43.131,
        36.908,
        33.718,
        53.4870,
    ),
}
HAMSTAD_2 = analytic.Layer(thickness_m=0.2, diffusivity_m2_s=6e-10, start=84.7687, left=19.5356, right=30.5059)
_SURFACE = {0.1: 0.103543, 0.5: 0.384310, 1.0: 0.572416, 2.0: 0.744604}
_DIGITS = "digits typed"


def rows() -> list[CheckRow]:
    """Typed values."""
    return [*_slab_rows(), *_biot_rows(), *_layer_rows(), *_other_rows()]


def _slab_rows() -> list[CheckRow]:
    source = "Crank1975, series computed independently"
    out = [
        CheckRow(
            f"Slab, fixed faces, Fo {fo:g}: share remaining",
            source,
            "computed",
            analytic.slab_remaining(fo),
            e,
            1e-6,
            _DIGITS,
        )
        for fo, e in _FIXED.items()
    ]
    uptake = 1.0 - analytic.slab_remaining(1e-10 * 100.0 / 0.2e-3**2)
    published = "Worked example citing Crank1975, p. 48"
    return [
        *out,
        CheckRow(
            "Slab of 0.4 mm, D 1e-10, 100 s: uptake",
            published,
            "published",
            uptake,
            0.562233541762138,
            1e-12,
            "rounding",
        ),
        CheckRow(
            "Slab, short-time form at Fo 0.1",
            "Crank1975",
            "computed",
            analytic.slab_remaining(0.1),
            0.643175,
            3e-6,
            "the short-time form leaves out later terms",
        ),
    ]


def _biot_rows() -> list[CheckRow]:
    out = []
    for bi, values in _BIOT.items():
        for k, (ours, theirs) in enumerate(zip(analytic.biot_roots(bi, 3), values[:3], strict=True), start=1):
            name = f"Slab with resistance, Bi {bi:g}: root {k}"
            out.append(CheckRow(name, "Crank1975 table, from memory", "memory", float(ours), theirs, 6e-5, _DIGITS))
        for fo, theirs in zip(_FOURIER, values[3:], strict=True):
            name = f"Slab with resistance, Bi {bi:g}, Fo {fo:g}: share remaining"
            ours = analytic.slab_remaining_with_resistance(fo, bi)
            out.append(
                CheckRow(name, "Crank1975, series computed independently", "computed", ours, theirs, 6e-6, _DIGITS)
            )
    return out


def _layer_rows() -> list[CheckRow]:
    source = "Hagentoft2004, case 2 (inputs from memory), series computed independently"
    out = []
    for hours, values in _LAYER.items():
        for x, theirs in zip(_DEPTHS_MM, values[:-1], strict=True):
            ours = analytic.layer_profile(x / 1000.0, 3600.0 * hours, HAMSTAD_2)
            name = f"Drying layer, exact: {x:g} mm after {hours} h [kg/m3]"
            out.append(CheckRow(name, source, "computed", ours, theirs, 1e-3, _DIGITS))
        mean = analytic.layer_mean(3600.0 * hours, HAMSTAD_2)
        name = f"Drying layer, exact: mean after {hours} h [kg/m3]"
        out.append(CheckRow(name, source, "computed", mean, values[-1], 1e-4, _DIGITS))
    return out


def _other_rows() -> list[CheckRow]:
    source = "Crank1975, computed independently"
    out = [
        CheckRow(
            f"Half-space with resistance, h sqrt(Dt) {h:g}: surface",
            source,
            "computed",
            analytic.semi_infinite_surface(h),
            theirs,
            1e-6,
            _DIGITS,
        )
        for h, theirs in _SURFACE.items()
    ]
    # by hand: resistances 1e9, 2e9 and 1e9 m2 s Pa/kg under 400 Pa
    steady = analytic.steady_layers([0.001, 0.002, 0.001], [1e-12, 1e-12, 1e-12], 1000.0, 600.0)
    out.append(
        CheckRow(
            "Three layers in series: flux [1e-9 kg/(m2 s)]",
            "by hand: 400 Pa over 4e9",
            "computed",
            1e9 * steady.flux_kg_m2s,
            100.0,
            1e-9,
            "arithmetic",
        )
    )
    out.append(
        CheckRow(
            "Three layers in series: second joint [Pa]",
            "by hand: three quarters of the way",
            "computed",
            float(steady.pressure_pa[2]),
            700.0,
            1e-9,
            "arithmetic",
        )
    )
    return out
