"""Moist air against the published ASHRAE values, IAPWS-IF97 and the Magnus and Tetens forms.

The typed library values come from psychrolib 2.5.0 and iapws 1.5.5; `library_rows` asks
psychrolib and CoolProp afresh where they are installed.
"""

from __future__ import annotations

from bibula.checks.rows import CheckRow
from bibula.formulas import en15026, transfer
from bibula.formulas import moist_air as air

_P = air.STANDARD_PRESSURE

# t in C -> saturation pressure in Pa: IAPWS-IF97, Magnus (611.2, 17.62, 243.12), Tetens (610.78, 17.27, 237.3)
_SATURATION = {
    5.0: (872.575, 871.743, 872.282),
    10.0: (1228.184, 1226.030, 1227.922),
    15.0: (1705.745, 1701.672, 1705.290),
    20.0: (2339.215, 2332.596, 2338.205),
    23.0: (2810.924, 2802.511, 2809.346),
    25.0: (3169.747, 3160.057, 3167.674),
    30.0: (4246.688, 4233.724, 4242.926),
    40.0: (7384.427, 7367.458, 7375.372),
}

# (t, RH) -> psychrolib: W, h in kJ/kg, v, dew point, wet bulb at 101 325 Pa
_STATES = {
    (20.0, 0.40): (0.005796, 34.831, 0.8382, 6.004, 12.355),
    (20.0, 0.50): (0.007262, 38.552, 0.8402, 9.272, 13.783),
    (20.0, 0.60): (0.008734, 42.290, 0.8421, 12.007, 15.144),
    (23.0, 0.50): (0.008747, 45.388, 0.8508, 12.028, 16.247),
    (25.0, 0.50): (0.009881, 50.322, 0.8580, 13.864, 17.889),
}
_STATE_TOLERANCE = {
    "humidity ratio [kg/kg]": 1.0e-6,
    "enthalpy [kJ/kg]": 2.0e-3,
    "specific volume [m3/kg]": 1.5e-4,
    "dew point [C]": 0.01,
    "wet bulb [C]": 0.01,
}


def _state(t: float, rh: float) -> tuple[float, float, float, float, float]:
    w = air.humidity_ratio(rh, t)
    return (
        w,
        air.enthalpy_j_kg(t, w) / 1000.0,
        air.specific_volume_m3_kg(t, w),
        air.dew_point_c(air.vapour_pressure_pa(rh, t)),
        air.wet_bulb_c(t, rh),
    )


def _saturation_rows() -> list[CheckRow]:
    rows = []
    for t, (iapws, magnus, tetens) in _SATURATION.items():
        ours = air.saturation_pressure_pa(t)
        rows.append(
            CheckRow(
                f"Saturation pressure at {t:g} C, IAPWS-IF97 [Pa]",
                "IAPWS2007",
                "library",
                ours,
                iapws,
                3e-4,
                "the two standard formulations differ by up to 0.02 %",
                relative=True,
            )
        )
        rows.append(
            CheckRow(
                f"Saturation pressure at {t:g} C, form of the EN 15026 benchmark [Pa]",
                "IAPWS2007",
                "library",
                en15026.saturation_pressure_pa(t),
                iapws,
                2e-3,
                "handbook formulas spread by 0.28 % at 20 C",
                relative=True,
            )
        )
        for name, theirs, key in (("Magnus", magnus, "WMO2018"), ("Tetens", tetens, "Tetens1930")):
            rows.append(
                CheckRow(
                    f"Saturation pressure at {t:g} C, {name} form [Pa]",
                    key,
                    "computed",
                    ours,
                    theirs,
                    3e-3,
                    "handbook formulas spread by 0.28 % at 20 C",
                    relative=True,
                )
            )
    return rows


def _ashrae_rows() -> list[CheckRow]:
    def row(name: str, ours: float, theirs: float, tolerance: float, reason: str, relative: bool = False) -> CheckRow:
        return CheckRow(f"ASHRAE: {name}", "ASHRAE2017", "published", ours, theirs, tolerance, reason, relative)

    ideal = "the table is for real air, ours for ideal gases (0.5 % apart in W)"
    rounded = "worked by hand in the source, to the digits shown"
    rows = [
        row(
            f"saturation pressure at {t:g} C [Pa]",
            air.saturation_pressure_pa(t),
            p,
            3e-4,
            "rounding of the table",
            True,
        )
        for t, p in ((5.0, 872.6), (25.0, 3169.7), (50.0, 12351.3))
    ]
    for t, w in ((5.0, 0.005425), (25.0, 0.020173), (50.0, 0.086863)):
        rows.append(
            row(f"saturated humidity ratio at {t:g} C [kg/kg]", air.humidity_ratio(1.0, t), w, 0.01, ideal, True)
        )
    for t, h in ((25.0, 76504.0), (50.0, 275353.0)):
        ours = air.enthalpy_j_kg(t, air.humidity_ratio(1.0, t))
        rows.append(row(f"saturated enthalpy at {t:g} C [J/kg]", ours, h, 0.01, ideal, True))
    w = air.humidity_ratio_from_wet_bulb(40.0, 20.0)
    p_v = w * _P / (air.MASS_RATIO + w)
    return [
        *rows,
        row("volume of dry air at 25 C [m3/kg]", air.specific_volume_m3_kg(25.0, 0.0), 0.8443, 5e-4, "ideal gas law"),
        row(
            "humidity ratio at 30 C, wet bulb 25 C, 95 461 Pa [kg/kg]",
            air.humidity_ratio_from_wet_bulb(30.0, 25.0, 95461.0),
            0.0192281,
            1e-5,
            "digits of the constants",
        ),
        row("wet bulb at 7 C, 61 %, 100 000 Pa [C]", air.wet_bulb_c(7.0, 0.61, 1e5), 3.92667, 1e-3, "root-finding"),
        row("dew point at 25 C, 80 % [C]", air.dew_point_c(air.vapour_pressure_pa(0.8, 25.0)), 21.3094, 1e-3, "fit"),
        row("example 1, humidity ratio at 40 C, wet bulb 20 C [kg/kg]", w, 0.0065, 1e-4, "read from a chart"),
        row("example 1, dew point [C]", air.dew_point_c(p_v), 7.0, 0.5, rounded),
        row("example 1, relative humidity", p_v / air.saturation_pressure_pa(40.0), 0.14, 0.005, rounded),
        row("example 1, enthalpy [kJ/kg]", air.enthalpy_j_kg(40.0, w) / 1e3, 56.7, 0.3, "read from a chart"),
        row("example 1, volume [m3/kg]", air.specific_volume_m3_kg(40.0, w), 0.896, 1e-3, rounded),
    ]


def rows() -> list[CheckRow]:
    """Typed values."""
    out = [*_saturation_rows(), *_ashrae_rows()]
    for (t, rh), theirs in _STATES.items():
        for (name, tolerance), ours, value in zip(_STATE_TOLERANCE.items(), _state(t, rh), theirs, strict=True):
            out.append(
                CheckRow(
                    f"Air at {t:g} C, {100 * rh:g} %: {name}",
                    "psychrolib 2.5.0 (MIT), values typed",
                    "library",
                    ours,
                    value,
                    tolerance,
                    "digits typed; gas constants differ in the fourth digit",
                )
            )
    return out


def library_rows() -> list[CheckRow]:
    """psychrolib (same equations, other code) and CoolProp (real gas), asked afresh."""
    return [*_psychrolib_rows(), *_coolprop_rows(), *_coolprop_air_rows(), *_coolprop_water_rows()]


def _psychrolib_rows() -> list[CheckRow]:
    try:
        import psychrolib
    except ImportError:
        return []
    psychrolib.SetUnitSystem(psychrolib.SI)
    reason = "same published formula, written independently"
    out = []
    for t in (0.01, *_SATURATION, 60.0, 80.0, 99.0):
        theirs = psychrolib.GetSatVapPres(t)
        name = f"psychrolib: saturation pressure at {t:g} C [Pa]"
        out.append(CheckRow(name, "psychrolib", "library", air.saturation_pressure_pa(t), theirs, 1e-6, reason, True))
    ice = psychrolib.GetSatVapPres(-10.0)
    ours = air.saturation_pressure_pa(-10.0, over_ice=True)
    out.append(CheckRow("psychrolib: over ice at -10 C [Pa]", "psychrolib", "library", ours, ice, 1e-6, reason, True))
    for t, rh in (*_STATES, (5.0, 0.9), (15.0, 0.3), (30.0, 0.7), (40.0, 0.2)):
        wet = psychrolib.GetTWetBulbFromRelHum(t, rh, _P)
        name = f"psychrolib: wet bulb at {t:g} C, {100 * rh:g} % [C]"
        out.append(
            CheckRow(name, "psychrolib", "library", air.wet_bulb_c(t, rh), wet, 2e-3, "its bisection stops at 1e-3")
        )
        w = psychrolib.GetHumRatioFromRelHum(t, rh, _P)
        name = f"psychrolib: humidity ratio at {t:g} C, {100 * rh:g} % [kg/kg]"
        out.append(CheckRow(name, "psychrolib", "library", air.humidity_ratio(rh, t), w, 1e-5, reason, True))
    return out


def _coolprop_rows() -> list[CheckRow]:
    try:
        from CoolProp.HumidAirProp import HAPropsSI
    except ImportError:
        return []
    out = []
    for t, rh in _STATES:
        args = ("T", t + air.KELVIN, "P", _P, "R", rh)
        w, wet = float(HAPropsSI("W", *args)), float(HAPropsSI("Twb", *args)) - air.KELVIN
        name = f"CoolProp: air at {t:g} C, {100 * rh:g} %: "
        real = "real gas: the enhancement factor is about 1.004"
        out.append(
            CheckRow(
                name + "humidity ratio [kg/kg]", "CoolProp", "library", air.humidity_ratio(rh, t), w, 5e-3, real, True
            )
        )
        out.append(CheckRow(name + "wet bulb [C]", "CoolProp", "library", air.wet_bulb_c(t, rh), wet, 0.05, real))
    return out


def _coolprop_air_rows() -> list[CheckRow]:
    """Density, viscosity and conductivity of air."""
    try:
        from CoolProp.CoolProp import PropsSI
        from CoolProp.HumidAirProp import HAPropsSI
    except ImportError:
        return []
    out = []
    for t in (5.0, 20.0, 40.0):
        k = t + air.KELVIN
        volume = float(HAPropsSI("Vha", "T", k, "P", _P, "R", 0.5))
        nu = float(PropsSI("V", "T", k, "P", _P, "Air") / PropsSI("D", "T", k, "P", _P, "Air"))
        conductivity = float(PropsSI("L", "T", k, "P", _P, "Air"))
        cases = (
            ("density at 50 % [kg/m3]", air.moist_air_density_kg_m3(0.5, t), 1.0 / volume, 1e-3, "ideal gases"),
            ("kinematic viscosity [m2/s]", transfer.air_viscosity_m2_s(t), nu, 0.01, "two-constant form"),
            ("conductivity [W/(m K)]", transfer.air_conductivity_w_mk(t), conductivity, 0.015, "two-constant form"),
        )
        for name, ours, theirs, tolerance, reason in cases:
            label = f"CoolProp: air at {t:g} C: {name}"
            out.append(CheckRow(label, "CoolProp", "library", ours, theirs, tolerance, reason, relative=True))
    return out


def _coolprop_water_rows() -> list[CheckRow]:
    try:
        from CoolProp.CoolProp import PropsSI
    except ImportError:
        return []
    out = []
    for t in (5.0, 20.0, 25.0, 40.0):
        k = t + air.KELVIN
        heat = float(PropsSI("H", "T", k, "Q", 1, "Water") - PropsSI("H", "T", k, "Q", 0, "Water"))
        cases = (
            (
                "surface tension [N/m]",
                air.water_surface_tension_n_m(t),
                float(PropsSI("I", "T", k, "Q", 0, "Water")),
                2e-3,
            ),
            ("viscosity [Pa s]", air.water_viscosity_pa_s(t), float(PropsSI("V", "T", k, "P", _P, "Water")), 5e-3),
            ("density [kg/m3]", air.water_density_kg_m3(t), float(PropsSI("D", "T", k, "P", _P, "Water")), 2e-5),
            ("latent heat [J/kg]", air.latent_heat_j_kg(t), heat, 2e-3),
        )
        reason = "the width of the correlation, well below what matters at the bench"
        for name, ours, theirs, tolerance in cases:
            label = f"CoolProp: water at {t:g} C: {name}"
            out.append(CheckRow(label, "CoolProp", "library", ours, theirs, tolerance, reason, relative=True))
    return out
