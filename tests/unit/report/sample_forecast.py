"""An invented forecast for the tests of the report: every number is made up and belongs to no object."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from bibula.forecast.result import (
    AbsorbentUse,
    Band,
    Forecast,
    LayerPicture,
    LineItem,
    Milestone,
    SectionPicture,
)
from bibula.quantities.caution import Caution
from bibula.quantities.values import Estimate

MIN, HOUR = 60.0, 3600.0
DRY_MASS = 120.0
ODD_NAME = "#x *y* $z$ <b>"
STACK = (
    ("acrylic board", "board", 6.0),
    ("Marl slab, lot 2", "slab", 9.0),
    ("non-woven polyester 34 g", "interleaf", 0.12),
    ("wove paper, lightly sized", "paper", 0.21),
    ("non-woven polyester 34 g", "interleaf", 0.12),
    ("cotton blotter", "blotter", 0.9),
    ("acrylic board", "board", 6.0),
)
STAGES = (("blotter above", 0.0), ("fresh blotter", 20 * MIN), ("felt, overnight", 2 * HOUR))


def _band(median: np.ndarray, share: float, unit: str) -> Band:
    return Band(median, median * (1 - share), median * (1 + share), unit)


def _layers(names: tuple[tuple[str, str, float], ...], fill: dict[str, float]) -> tuple[LayerPicture, ...]:
    layers, bottom = [], 0.0
    for name, kind, mm in names:
        top = bottom + mm / 1000.0
        z = np.linspace(bottom, top, 9)
        level = fill.get(kind, 0.0)
        slope = 0.25 if kind == "slab" else 0.0
        filled = np.clip(level + slope * np.linspace(-1, 1, 9) * level, 0.0, 1.0)[None, :]
        layers.append(LayerPicture(name, kind, bottom, top, z, filled, 800.0 * filled, kind == "paper"))
        bottom = top
    return tuple(layers)


def picture(time_s: float, stage: str, names: tuple[tuple[str, str, float], ...], **fill: float) -> SectionPicture:
    """One picture of the stack at one time, filled by kind of layer."""
    return SectionPicture(time_s, stage, _layers(names, fill), recto_up=True)


def _milestones() -> tuple[Milestone, ...]:
    def m(key: str, label: str, t: tuple[float | None, float | None, float | None], rule: str, by: str) -> Milestone:
        return Milestone(key, label, *t, 1.0 if t[2] is not None else 0.9, rule, by)

    return (
        m(
            "sheen_gone",
            "sheen gone",
            (4 * MIN, 2.5 * MIN, 7 * MIN),
            "the film on the upper surface is empty",
            "assumed",
        ),
        m(
            "window_closes",
            "window closes",
            (38 * MIN, 25 * MIN, 55 * MIN),
            "moisture at or below 59 % of dry mass (63 % solids)",
            "Sugarman1992",
        ),
        m(
            "handleable",
            "handleable",
            (75 * MIN, 50 * MIN, 2 * HOUR),
            "moisture at or below 35 % all through",
            "assumed",
        ),
        m(
            "balance_stack",
            "in balance with its stack",
            (3.5 * HOUR, 2 * HOUR, 6 * HOUR),
            "changes by less than 0.2 % of dry mass in an hour",
            "assumed",
        ),
        m(
            "balance_room",
            "in balance with the room",
            (19 * HOUR, 14 * HOUR, None),
            "within 1 % of dry mass of the room's equilibrium",
            "assumed",
        ),
        m(
            "release",
            "release",
            (None, 22 * HOUR, None),
            "in balance with the room, and 24 h under weight have passed",
            "assumed",
        ),
    )


def _absorbents() -> tuple[AbsorbentUse, ...]:
    e = Estimate
    return (
        AbsorbentUse(
            "blotter above",
            "Marl slab, lot 2",
            "slab",
            e(110, 85, 140, "g/m2"),
            e(0.04, 0.03, 0.05),
            None,
            "no change needed: fills to 4 %",
            e(12 * MIN, 8 * MIN, 20 * MIN, "s"),
            e(5 * HOUR, 3 * HOUR, 9 * HOUR, "s"),
        ),
        AbsorbentUse(
            "blotter above",
            "cotton blotter",
            "blotter",
            e(96, 70, 118, "g/m2"),
            e(0.24, 0.17, 0.30),
            18 * MIN,
            "change at 0:20",
        ),
        AbsorbentUse(
            "fresh blotter",
            "cotton blotter",
            "blotter",
            e(22, 12, 35, "g/m2"),
            e(0.06, 0.03, 0.09),
            None,
            "no change needed: fills to 6 %",
        ),
        AbsorbentUse(
            "felt, overnight",
            "wool felt",
            "felt",
            e(9, 4, 15, "g/m2"),
            e(0.01, 0.0, 0.02),
            None,
            "no change needed: fills to 1 %",
        ),
    )


def _cautions() -> tuple[Caution, ...]:
    return (
        Caution("note", "The slab's contact is a class value.", "It was not fitted from weighings.", "assumed"),
        Caution(
            "caution",
            "Alkaline contact: the slab's surface pH is 8.8.",
            "Alkali can shift some media and photographs. Test on the object itself first.",
            "measured",
        ),
        Caution(
            "stop",
            "Mould clock passes 48 h in the slab core.",
            "Wet material older than two days can grow mould.",
            "common practice, no source",
        ),
        Caution(
            "override", "Red stamp on the verso: no test for bleeding is recorded.", "Stamp in the plan.", "assumed"
        ),
        Caution(
            "caution",
            "Weight of 1.2 kPa on a sheet with plate marks.",
            "Pressure can flatten a plate mark.",
            "assumed",
            "the plate mark was lost before this treatment (A. Example, 2026-03-13)",
        ),
    )


def _inputs() -> tuple[LineItem, ...]:
    return (
        LineItem("room", "20.5 °C, 52 % RH", "measured: room log"),
        LineItem("sheet", "38 × 51 cm, 120 g/m²", "measured: balance and rule"),
        LineItem("water at the start", "228 g/m² (210 to 246)", "measured: first weighing"),
        LineItem("weight on top", "0.42 kPa", "measured: 8 kg on 38 × 51 cm"),
        LineItem(
            "slab: absorption coefficient", "0.31 (0.28 to 0.34) kg/(m² s^0.5)", "measured: uptake test, four pieces"
        ),
        LineItem("slab: capacity", "540 (520 to 560) kg/m³", "measured: uptake test, four pieces"),
        LineItem("slab: median suction", "28 kPa (9 to 80)", "assumed: class of calcium silicate slabs"),
        LineItem("blotter: capacity", "430 (380 to 480) kg/m³", "assumed: class of cotton blotters"),
        LineItem("contact through non-woven", "2e-8 kg/(m² s Pa), factor 3 either way", "assumed"),
        LineItem("surface transfer", "3.9 W/(m² K), factor 1.5 either way", "published: ISO6946"),
    )


def sample(invented: bool = True) -> Forecast:
    """A usual sheet: three stages, seven layers, a day long."""
    t = np.concatenate([np.linspace(0, 40 * MIN, 161), np.linspace(41 * MIN, 24 * HOUR, 300)])
    water = 190.0 * np.exp(-((t / (14 * MIN)) ** 0.75)) + 30.0 * np.exp(-t / (6 * HOUR)) + 8.0
    moisture = water / DRY_MASS
    surface = 20.5 - 4.2 * np.exp(-t / (3 * HOUR)) * (1 - np.exp(-t / (5 * MIN)))
    overnight = (*STACK[:5], ("wool felt", "felt", 3.0), STACK[6])
    return Forecast(
        title="Drying after washing",
        object_name="Etching of a harbour wall (invented)",
        invented=invented,
        times_s=t,
        stage_names=tuple(s for s, _ in STAGES),
        stage_starts_s=tuple(s for _, s in STAGES),
        sheet_water_g_m2=_band(water, 0.22, "g/m2"),
        sheet_moisture=_band(moisture, 0.22, "kg/kg"),
        sheet_solids=Band(1 / (1 + moisture), 1 / (1 + 1.22 * moisture), 1 / (1 + 0.78 * moisture), "kg/kg"),
        surface_temperature_c=Band(surface, surface - 0.6, surface + 0.5, "degC"),
        room_temperature_c=20.5,
        milestones=_milestones(),
        leaves_by_recto=Estimate(0.36, 0.25, 0.48),
        leaves_by_verso=Estimate(0.64, 0.52, 0.75),
        mould_hours=(("sheet", Estimate(2.1, 1.2, 3.9, "h")), ("slab core", Estimate(31.0, 18.0, 52.0, "h"))),
        coldest_c=Estimate(16.6, 15.9, 17.4, "degC"),
        absorbents=_absorbents(),
        overnight="Yes: left alone from 2:00 to 16:00, no layer passes 80 % of its capacity and the sheet stays flat.",
        cautions=_cautions(),
        pictures=(
            picture(2 * MIN, "blotter above", STACK, slab=0.02, paper=0.93, blotter=0.12, interleaf=0.8),
            picture(20 * MIN, "blotter above", STACK, slab=0.04, paper=0.38, blotter=0.24, interleaf=0.2),
            picture(16 * HOUR, "felt, overnight", overnight, slab=0.03, paper=0.05, felt=0.01),
        ),
        water_budget_g_m2=(
            LineItem("in the sheet at the start", "228 (210 to 246) g/m²", "measured: first weighing"),
            LineItem("into the slab", "110 (85 to 140) g/m²", "model"),
            LineItem("into the blotters", "98 (80 to 121) g/m²", "model"),
            LineItem("to the room", "12 (7 to 19) g/m²", "model"),
            LineItem("in the sheet at the end", "8 (6 to 10) g/m²", "model"),
        ),
        inputs=_inputs(),
        layers_by_stage=(
            ("blotter above", tuple(n for n, _, _ in STACK)),
            ("fresh blotter", tuple(n for n, _, _ in STACK)),
            ("felt, overnight", tuple(n for n, _, _ in overnight)),
        ),
        warnings=("Median suction and spread of the slab are class values; the band carries their width.",),
        citations=(
            "Sugarman, J. E., Vitale, T. J. (1992). Journal of the American Institute for Conservation 31(2).",
            "ISO 6946:2017. Thermal resistance and thermal transmittance of building components.",
        ),
        members=200,
        balance_water=3e-10,
        balance_energy=8e-8,
        version="0.1.0",
        made="2026-03-14",
        observations=((5 * MIN, 151.0, "balance"), (22 * MIN, 88.0, "balance"), (65 * MIN, 41.0, "balance")),
    )


def large() -> Forecast:
    """Twelve layers, six stages, very long names: the layout must bear it."""
    base = sample()
    long = "a very long material name that somebody typed in full with its supplier, format, batch and remarks"
    names = tuple((f"{i + 1} {long}", STACK[i % 7][1] if i != 5 else "paper", STACK[i % 7][2]) for i in range(12))
    stages = tuple(f"stage {i + 1} with quite a long name of its own" for i in range(6))
    starts = (0.0, 5 * MIN, 20 * MIN, 2 * HOUR, 8 * HOUR, 20 * HOUR)
    only = tuple(replace(a, stage=stages[i % 6], layer=names[i][0]) for i, a in enumerate(base.absorbents * 3))
    return replace(
        base,
        object_name=f"A sheet with {long}, and {long}",
        stage_names=stages,
        stage_starts_s=starts,
        layers_by_stage=tuple((s, tuple(n for n, _, _ in names)) for s in stages),
        absorbents=only,
        pictures=tuple(
            picture(s + 60, n, names, slab=0.3, paper=0.6, blotter=0.9) for s, n in zip(starts, stages, strict=True)
        ),
    )


def awkward() -> Forecast:
    """Names full of characters that mean something to a typesetter or a browser."""
    base = sample(invented=False)
    return replace(base, object_name=ODD_NAME, title='"quotes" & <i>more</i> \\ #set', overnight=f"Yes {ODD_NAME}")
