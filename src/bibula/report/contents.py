"""A forecast becomes the contents of a sheet: every string formatted, every list in order, nothing computed anew."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from bibula.forecast.result import AbsorbentUse, Forecast, Milestone
from bibula.quantities.caution import Caution
from bibula.report.curves import marks, window
from bibula.report.formatting import (
    Units,
    about,
    check_units,
    clock,
    duration,
    duration_band,
    mass_per_area,
    percent,
    significant,
    temperature_band,
)
from bibula.report.steps import Step, steps

LEVELS = {"stop": "STOP", "override": "OVERRIDE NEEDED", "caution": "CAUTION", "note": "NOTE"}
INVENTED = "INVENTED EXAMPLE: no real object, material or reading stands behind this sheet."
DEFER = "Local rules and the conservator responsible for the object come before anything on this sheet."
SAFETY_ALWAYS = (
    "Test media, sizing and colours on the object itself first; stop if anything moves.",
    "Paper that stays wet grows mould: do not leave wet work longer than the mould clock below allows.",
    "Lift weights with care, for your back and for the object; keep water away from mains.",
)
SAFETY_SLAB = (
    "Slabs are commonly alkaline: keep alkali-sensitive media and photographs from direct contact.",
    "Cutting or sanding slabs makes crystalline silica dust: wet method, extraction, respirator, local limits.",
    "Ask the supplier for an asbestos declaration for the lot.",
)
ONE_DIMENSION = (
    "The model looks at one spot, straight through the stack. It speaks of spots 2–3 cm or more from any edge or gap.",
    "Edges dry first, and spots over a gap dry late: look there with your own eyes.",
    "It does not know cockling, adhesion, dye or media; those are seen at the bench, not forecast.",
)
MOULD_RULE = "hours damp enough for mould; limits in the cautions"
LOG_HEAD = ("date, time", "what was weighed or read", "value, unit", "who", "what was seen or done")


@dataclass(frozen=True)
class MilestoneRow:
    """One line of the milestone table."""

    mark: str
    label: str
    when: str
    band: str
    reached: str
    rule: str
    origin: str


@dataclass(frozen=True)
class CautionRow:
    """One caution with the word for its level."""

    level: str
    word: str
    text: str
    why: str
    source: str
    overridden: str


@dataclass(frozen=True)
class AbsorbentRow:
    """What one absorbent of one stage has taken, and what to do about it."""

    stage: str
    layer: str
    taken: str
    fill: str
    near_full: str
    advice: str
    ready: str


@dataclass(frozen=True)
class Row:
    """A name, a value and where it is from."""

    name: str
    value: str
    origin: str


@dataclass(frozen=True)
class SheetContents:
    """Everything a bench sheet says, as text. Charts and sections are drawn beside it."""

    title: str
    object_name: str
    made: str
    invented: str
    headline: tuple[Row, ...]
    cautions: tuple[CautionRow, ...]
    safety: tuple[str, ...]
    defer: str
    steps: tuple[Step, ...]
    milestones: tuple[MilestoneRow, ...]
    window: str
    overnight: str
    absorbents: tuple[AbsorbentRow, ...]
    layers: tuple[tuple[str, tuple[str, ...]], ...]
    water: tuple[Row, ...]
    conditions: tuple[Row, ...]
    inputs: tuple[Row, ...]
    limits: tuple[str, ...]
    warnings: tuple[str, ...]
    validity: tuple[str, ...]
    citations: tuple[str, ...]
    log_head: tuple[str, ...]
    version: str

    def as_data(self) -> dict[str, Any]:
        """The same as plain dictionaries and lists, for a template."""
        return asdict(self)


def contents(forecast: Forecast, units: str = "metric") -> SheetContents:
    """All the text of a sheet for this forecast.

    Args:
        forecast: what to print; no number of it is recomputed.
        units: "metric" or "inch" (lengths in inches, temperatures in °F; masses stay in grams).

    Raises:
        InputError: `units` is neither.
    """
    chosen = check_units(units)
    rank = list(LEVELS)
    return SheetContents(
        title=forecast.title,
        object_name=forecast.object_name,
        made=forecast.made,
        invented=INVENTED if forecast.invented else "",
        headline=_headline(forecast),
        cautions=tuple(caution_row(c) for c in sorted(forecast.cautions, key=lambda c: rank.index(c.level))),
        safety=SAFETY_ALWAYS + (SAFETY_SLAB if _has_slab(forecast) else ()),
        defer=DEFER,
        steps=steps(forecast, chosen),
        milestones=tuple(milestone_row(m, marks(forecast.milestones)[m.key]) for m in forecast.milestones),
        window=window_text(forecast),
        overnight=forecast.overnight,
        absorbents=tuple(absorbent_row(a) for a in forecast.absorbents),
        layers=forecast.layers_by_stage,
        water=tuple(Row(x.name, x.value, x.origin) for x in forecast.water_budget_g_m2),
        conditions=_conditions(forecast, chosen),
        inputs=tuple(Row(x.name, x.value, x.origin) for x in forecast.inputs),
        limits=ONE_DIMENSION,
        warnings=forecast.warnings,
        validity=_validity(forecast),
        citations=forecast.citations,
        log_head=LOG_HEAD,
        version=f"Bibula {forecast.version}",
    )


def milestone_row(milestone: Milestone, mark: str) -> MilestoneRow:
    """One milestone as text; says in how many runs it comes at all where that is not all of them."""
    when, band = duration_band(milestone.time_s, milestone.low_s, milestone.high_s)
    reached = "" if milestone.reached >= 1.0 else f"reached in {100.0 * milestone.reached:.0f} % of runs"
    return MilestoneRow(mark, milestone.label, when, band, reached, milestone.rule, milestone.origin)


def caution_row(caution: Caution) -> CautionRow:
    """One caution as text. What was set aside shows the reason; what waits for one says so."""
    reason = caution.overridden_because
    if reason:
        reason = f"Set aside: {reason.rstrip('.')}."
    elif caution.level == "override":
        reason = "Do not go on until a good test or a recorded override stands against it."
    return CautionRow(caution.level, LEVELS[caution.level], caution.text, caution.why, caution.source, reason)


def absorbent_row(use: AbsorbentUse) -> AbsorbentRow:
    """One absorbent as text."""
    ready = []
    if use.ready_touch_s is not None:
        e = use.ready_touch_s
        ready.append(f"face dry to the touch {about(e.median, e.low, e.high)} after the stage")
    if use.ready_weight_s is not None:
        e = use.ready_weight_s
        ready.append(f"ready again by weight {about(e.median, e.low, e.high)} after the stage")
    near = "not in this plan" if use.near_full_s is None else f"at {clock(use.near_full_s)}"
    return AbsorbentRow(
        use.stage, use.layer, mass_per_area(use.taken_g_m2), percent(use.fill), near, use.advice, "; ".join(ready)
    )


def window_text(forecast: Forecast) -> str:
    """The window for restraint in one sentence, with both bands; "" if the forecast names none."""
    pair = window(forecast)
    if pair is None:
        return ""
    opens, closes = (about(m.time_s, m.low_s, m.high_s) for m in pair)
    return f"The window opens {opens} and closes {closes}. {_safe_part(forecast).capitalize()}."


def _safe_part(forecast: Forecast) -> str:
    """The part of the window that holds for nearly every run: latest opening to earliest closing."""
    pair = window(forecast)
    if pair is None or pair[0].high_s is None or pair[1].low_s is None:
        return "no part of it is sure: go by what you see"
    latest, earliest = pair[0].high_s, pair[1].low_s
    if latest >= earliest:
        return "the bands overlap: go by what you see"
    return f"open in 95 % of runs: {duration(latest)} to {duration(earliest)}"


def _has_slab(forecast: Forecast) -> bool:
    kinds = {a.kind for a in forecast.absorbents} | {x.kind for p in forecast.pictures for x in p.layers}
    return "slab" in kinds


def _headline(forecast: Forecast) -> tuple[Row, ...]:
    """The few answers a person looks for first."""
    by_key = {m.key: m for m in forecast.milestones}
    rows = []
    pair = window(forecast)
    if pair is not None:
        opens, closes = duration_band(*_times(pair[0]))[0], duration_band(*_times(pair[1]))[0]
        joined = f"{opens.removeprefix('about ')} to {closes.removeprefix('about ')}"
        rows.append(Row("window for restraint", joined, _safe_part(forecast)))
    for key in ("handleable", "balance_room", "release"):
        if key in by_key:
            when, band = duration_band(*_times(by_key[key]))
            rows.append(Row(by_key[key].label, when, band))
    return tuple(rows)


def _times(m: Milestone) -> tuple[float | None, float | None, float | None]:
    return m.time_s, m.low_s, m.high_s


def _conditions(forecast: Forecast, units: Units) -> tuple[Row, ...]:
    """Sides, mould clock, coldest point: what the run says beyond the milestones."""
    rows = [
        Row("water leaves by the recto", percent(forecast.leaves_by_recto), "model"),
        Row("water leaves by the verso", percent(forecast.leaves_by_verso), "model"),
        Row("coldest the surface gets", temperature_band(forecast.coldest_c, units), "model"),
    ]
    clocks = []
    for name, hours in forecast.mould_hours:
        low, high = duration(3600.0 * hours.low), duration(3600.0 * hours.high)
        clocks.append(f"{name} {duration(3600.0 * hours.median)} ({low} to {high})")
    if clocks:
        rows.append(Row("mould clock", ", ".join(clocks), MOULD_RULE))
    return tuple(rows)


def _validity(forecast: Forecast) -> tuple[str, ...]:
    water, energy = (significant(x, 1) for x in (forecast.balance_water, forecast.balance_energy))
    closes = f"The worst run closes its water balance to {water} and its energy balance to {energy} of the amount"
    return (
        f"Bands hold 95 % of {forecast.members} runs with inputs drawn from their uncertainties.",
        f"{closes}.",
        "Where water leaves, stain, dye and alkali go with it: see the sides above.",
    )
