"""A forecast becomes the contents of a sheet: every string formatted, every list in order, nothing computed anew."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from bibula.forecast.result import READY_WITHIN_S, AbsorbentUse, Forecast, Milestone
from bibula.quantities.caution import Caution
from bibula.quantities.values import Estimate
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
    recovery,
    significant,
    temperature_band,
)
from bibula.report.references import Reference, reference
from bibula.report.steps import NO_CHANGE, Step, layer_name, steps

LEVELS = {"stop": "STOP", "override": "OVERRIDE NEEDED", "caution": "CAUTION", "note": "NOTE"}
INVENTED = "INVENTED EXAMPLE: no real object, material or reading stands behind this sheet."
DEFER = "Local rules and the conservator responsible for the object come before anything on this sheet."
SAFETY_ALWAYS = (
    "Test media, sizing and colours on the object itself first; stop if anything moves.",
    "Paper that stays wet grows mould: do not leave wet work longer than the mould clock allows.",
    "Lift weights with care, for your back and for the object; keep water away from mains.",
)
SAFETY_SLAB = (  # each with the word by which a caution of the plan shows that it says so already
    ("Slabs are commonly alkaline: keep alkali-sensitive media and photographs from direct contact.", "alkaline"),
    (
        "Cutting or sanding slabs makes crystalline silica dust: wet method, extraction, respirator, local limits.",
        "crystalline silica",
    ),
    ("Ask the supplier for an asbestos declaration for the lot.", "asbestos"),
)
SAID_BY_DEFER = "responsible"  # the rule of the plan that says no more than `DEFER`
DAMP_H = 0.5  # shorter damp times are not listed
TOUCH_REMARK = "its water has gone inward: no release by itself"
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

    number: str
    stage: str
    layer: str
    taken: str
    fill: str
    near_full: str
    advice: str
    change: str
    dry: str  # when its face is dry to the touch, after the stage
    ready: str  # when it is ready again by weight, after the stage


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
    citations: tuple[Reference, ...]
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
        cautions=tuple(
            caution_row(c)
            for c in sorted(forecast.cautions, key=lambda c: rank.index(c.level))
            if c.level != "note" or c.rule != SAID_BY_DEFER
        ),
        safety=_safety(forecast),
        defer=DEFER,
        steps=steps(forecast, chosen),
        milestones=tuple(milestone_row(m, marks(forecast.milestones)[m.key]) for m in forecast.milestones),
        window=window_text(forecast),
        overnight=forecast.overnight,
        absorbents=tuple(absorbent_row(forecast, a) for a in forecast.absorbents),
        layers=forecast.layers_by_stage,
        water=tuple(Row(x.name, x.value, x.origin) for x in forecast.water_budget_g_m2),
        conditions=_conditions(forecast, chosen),
        inputs=tuple(Row(x.name, x.value, x.origin) for x in forecast.inputs),
        limits=ONE_DIMENSION,
        warnings=forecast.warnings,
        validity=_validity(forecast),
        citations=tuple(reference(key) for key in forecast.citations),
        log_head=LOG_HEAD,
        version=f"Bibula {forecast.version}",
    )


def milestone_row(milestone: Milestone, mark: str) -> MilestoneRow:
    """One milestone as text; says in how many runs it comes at all where that is not all of them."""
    when, band = duration_band(milestone.time_s, milestone.low_s, milestone.high_s)
    reached = _not_reached(milestone.reached)
    return MilestoneRow(mark, milestone.label, when, band, reached, milestone.rule, milestone.origin)


def _not_reached(share: float) -> str:
    """In how many of the runs a moment does not come; "" where it comes in all of them."""
    if share >= 1.0:
        return ""
    if share <= 0.0:
        return "not reached in any run"
    missed = min(99, max(1, round(100.0 * (1.0 - share))))
    return f"not reached in {missed} % of runs"


def caution_row(caution: Caution) -> CautionRow:
    """One caution as text. What was set aside shows the reason; what waits for one says so."""
    reason = caution.overridden_because
    if reason:
        reason = f"A stop, set aside: {reason.rstrip('.')}."
    elif caution.level == "override":
        reason = "Do not go on until a good test or a recorded override stands against it."
    why = caution.why[:1].upper() + caution.why[1:]
    return CautionRow(caution.level, LEVELS[caution.level], caution.text, why, caution.source, reason)


def absorbent_row(forecast: Forecast, use: AbsorbentUse) -> AbsorbentRow:
    """One absorbent as text."""
    touch, weight = use.ready_touch_s, use.ready_weight_s
    dry = recovery(touch, READY_WITHIN_S, TOUCH_REMARK) if touch else ""
    ready = recovery(weight, READY_WITHIN_S) if weight else ""
    near = "" if use.near_full_s is None else f"near full at {clock(use.near_full_s)} from the start"
    names = forecast.stage_names
    number = str(names.index(use.stage) + 1) if use.stage in names else ""
    change = "no" if use.advice.startswith(NO_CHANGE) else use.advice
    return AbsorbentRow(
        number=number,
        stage=use.stage,
        layer=layer_name(forecast, use),
        taken=mass_per_area(use.taken_g_m2),
        fill=percent(use.fill),
        near_full=near,
        advice=use.advice,
        change=change,
        dry=dry,
        ready=ready,
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


def _safety(forecast: Forecast) -> tuple[str, ...]:
    """The standing cautions, less those that the plan's own cautions say already."""
    said = " ".join(c.text for c in forecast.cautions).lower()
    slab = SAFETY_SLAB if _has_slab(forecast) else ()
    return (*SAFETY_ALWAYS, *(text for text, word in slab if word not in said))


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
        rows.append(Row("Window for restraint", joined, _safe_part(forecast)))
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
    if forecast.mould_hours:
        rows.append(Row("mould clock", _mould_clock(forecast), MOULD_RULE))
    return tuple(rows)


def _mould_clock(forecast: Forecast) -> str:
    """What stays damp for longer than half an hour, with its band; the rest in three words."""
    damp = [(name, hours) for name, hours in forecast.mould_hours if hours.high > DAMP_H]
    if not damp:
        return "everything dry enough within half an hour"
    said = [f"{name} {_hours(hours)}" for name, hours in damp]
    return ", ".join([*said, "all others dry enough"] if len(damp) < len(forecast.mould_hours) else said)


def _hours(hours: Estimate) -> str:
    low = "0" if hours.low <= 0.0 else duration(3600.0 * hours.low)
    return f"{duration(3600.0 * hours.median)} ({low} to {duration(3600.0 * hours.high)})"


def _validity(forecast: Forecast) -> tuple[str, ...]:
    water, energy = (significant(x, 1) for x in (forecast.balance_water, forecast.balance_energy))
    closes = f"The worst run closes its water balance to {water} and its energy balance to {energy} of the amount"
    return (
        f"Bands hold 95 % of {forecast.members} runs with inputs drawn from their uncertainties.",
        f"{closes}.",
        "Where water leaves, stain, dye and alkali go with it: see the sides above.",
    )
