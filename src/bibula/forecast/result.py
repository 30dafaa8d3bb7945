"""What a forecast is: the one object that reports print and recompute nothing of.

All arrays are SI. A band is (median, 2.5 % quantile, 97.5 % quantile) over the ensemble.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from bibula.quantities.caution import Caution
from bibula.quantities.values import Estimate

Array = NDArray[np.float64]

READY_WITHIN_S = 72 * 3600.0
"""How long a used face is followed after its stage; a time beyond it is infinite."""


@dataclass(frozen=True)
class Band:
    """A curve with its band, each of shape (n_times,)."""

    median: Array
    low: Array
    high: Array
    unit: str


@dataclass(frozen=True)
class Milestone:
    """One word of the forecast with its time. `None` = not reached within the plan.

    `reached` is the share of ensemble members that reach it at all.
    """

    key: str
    label: str
    time_s: float | None
    low_s: float | None
    high_s: float | None
    reached: float
    rule: str  # the threshold in words, with its number
    origin: str  # "assumed" or a source key


@dataclass(frozen=True)
class AbsorbentUse:
    """What one absorbent layer of one stage has taken and how near full it is."""

    stage: str
    layer: str
    kind: str
    taken_g_m2: Estimate
    fill: Estimate  # share of capacity, 0..1
    near_full_s: float | None
    advice: str  # "no change needed: fills to 31 %", "change at 0:20"
    ready_touch_s: Estimate | None = None  # face dry to the touch, after the end of its stage
    ready_weight_s: Estimate | None = None  # face ready again by weight
    side: str = ""  # "below" or "above" the object, "" where not told


@dataclass(frozen=True)
class LayerPicture:
    """One layer in cross-section at the chosen times."""

    name: str
    kind: str
    bottom_m: float
    top_m: float
    z_m: Array  # node positions from the table up, (n,)
    fill: Array  # share of capacity, (n_pictures, n)
    water_kg_m3: Array  # (n_pictures, n)
    is_object: bool = False


@dataclass(frozen=True)
class SectionPicture:
    """The stack in cross-section shaded by its water at one chosen time."""

    time_s: float
    stage: str
    layers: tuple[LayerPicture, ...]
    recto_up: bool | None = None  # None: not said, so no side is labelled


@dataclass(frozen=True)
class LineItem:
    """One line of a budget or of the inputs: a name, a number with band or text, where it is from."""

    name: str
    value: str
    origin: str


@dataclass(frozen=True)
class Forecast:
    """What the model says will happen, with its band and its origins."""

    title: str
    object_name: str
    invented: bool
    times_s: Array
    stage_names: tuple[str, ...]
    stage_starts_s: tuple[float, ...]
    sheet_water_g_m2: Band
    sheet_moisture: Band  # kg/kg of dry mass
    sheet_solids: Band  # kg/kg, dry over wet
    surface_temperature_c: Band
    room_temperature_c: float
    milestones: tuple[Milestone, ...]
    leaves_by_recto: Estimate  # share of the water that left by the recto, 0..1
    leaves_by_verso: Estimate
    mould_hours: tuple[tuple[str, Estimate], ...]  # per sheet, felt, slab core
    coldest_c: Estimate
    absorbents: tuple[AbsorbentUse, ...]
    overnight: str
    cautions: tuple[Caution, ...]
    pictures: tuple[SectionPicture, ...]
    water_budget_g_m2: tuple[LineItem, ...]
    inputs: tuple[LineItem, ...]
    layers_by_stage: tuple[tuple[str, tuple[str, ...]], ...]
    warnings: tuple[str, ...]
    citations: tuple[str, ...]
    members: int
    balance_water: float  # worst relative closure over members
    balance_energy: float
    version: str
    made: str = ""
    observations: tuple[tuple[float, float, str], ...] = field(default_factory=tuple)  # (time_s, value g/m2, label)
    moves: tuple[tuple[str, ...], ...] = ()  # per stage, what hands do at its start; () where not told apart
