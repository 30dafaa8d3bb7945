"""What a forecast rests on: its inputs with origins, its water budget, its warnings, whom to cite."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from bibula.cards.model import Card
from bibula.forecast.draws import cards_used
from bibula.forecast.ensemble import Ensemble, estimate
from bibula.forecast.result import LineItem
from bibula.plan.presets import start_water
from bibula.quantities.printed import with_u
from bibula.quantities.values import Estimate, Value

SHOWN = {
    "capacity_kg_m3": "holds",
    "absorption_kg_m2s05": "A_w",
    "contact_kg_m2spa": "liquid contact at 500 Pa",
    "gab_monolayer_kg_kg": "monolayer water",
    "median_suction_pa": "median suction",
}
"""What is printed of a card, and the word for it."""


def _pm(e: Estimate) -> str:
    return f"{round(e.median)} ({round(e.low)} to {round(e.high)}) g/m²"


def budget(ensemble: Ensemble) -> tuple[LineItem, ...]:
    """Where the object's water went, g/m2, median and band; a minus is water that came in."""
    traces = ensemble.traces
    out = [
        LineItem("in the object at the start", _pm(estimate([1000 * t.water[0] for t in traces])), "plan"),
        LineItem("left by the recto", _pm(estimate([1000 * t.passed_recto[-1] for t in traces])), "model"),
        LineItem("left by the verso", _pm(estimate([1000 * t.passed_verso[-1] for t in traces])), "model"),
        LineItem("in the object at the end", _pm(estimate([1000 * t.water[-1] for t in traces])), "model"),
    ]
    gained = []
    for trace in traces:
        total = 0.0
        for key, water in trace.layers.items():
            held = water[~np.isnan(water)]
            total += 1000.0 * float(held[-1] - held[0]) if key in trace.states else 0.0
        gained.append(total)
    out.append(LineItem("in the layers around it, more than at their start", _pm(estimate(gained)), "model"))
    lost = [1000.0 * float(t.passed_recto[-1] + t.passed_verso[-1]) - g for t, g in zip(traces, gained, strict=True)]
    out.append(LineItem("to the air", _pm(estimate(lost)), "model"))
    return (*out, *_carried(ensemble))


def _carried(ensemble: Ensemble) -> list[LineItem]:
    """What every slab still holds at the end, as a plan for the next object takes it."""
    area = ensemble.laid.plan.object.area_m2
    names = {
        p.key: f"{p.name} ({'below' if i < s.object_range[0] else 'above'})"
        for s in ensemble.laid.stages
        for i, p in enumerate(s.pieces)
        if p.kind == "slab"
    }
    out = []
    for key, name in names.items():
        held = estimate([1000.0 * area * t.layers[key][~np.isnan(t.layers[key])][-1] for t in ensemble.traces])
        spread = f"{held.median:.3g} ({held.low:.3g} to {held.high:.3g}) g"
        out.append(LineItem(f"{name} carries to its next object, as start_water_g", spread, "model"))
    return out


def inputs(ensemble: Ensemble) -> tuple[LineItem, ...]:
    """The numbers that matter most, each with where it is from."""
    laid = ensemble.laid
    plan = laid.plan
    thing = plan.object
    start = start_water(thing)
    rows = [
        LineItem("object", f"{thing.grammage_g_m2:g} g/m², {thing.thickness_mm:g} mm, {thing.fibre}", "plan"),
        LineItem(
            "starting water", f"{start.value:.2f} ± {start.u:.2f} of dry mass ({thing.start.state})", start.origin
        ),
        LineItem("dry mass", f"{1000 * laid.dry_kg_m2:.0f} g/m²", "grammage less air-dry water of its card"),
        LineItem(
            "room",
            f"{plan.room.temperature_c:g} ± {plan.room.u_temperature_k:g} °C, "
            f"{plan.room.relative_humidity_percent:g} ± {plan.room.u_relative_humidity_percent:g} % RH, "
            f"{plan.room.air} air",
            plan.room.logger or "plan",
        ),
    ]
    for name in cards_used(laid):
        card = laid.cards[name]
        if card["capacity_kg_m3"] < 1.0:
            continue
        rows.append(card_line(card))
    return tuple(rows)


def card_line(card: Card) -> LineItem:
    """One card in one line: what it holds, how fast, how it touches, and which of this was measured."""
    shown = {word: card.values[key] for key, word in SHOWN.items()}
    text = ", ".join(f"{word} {_value(v)}" for word, v in shown.items())
    return LineItem(card.name, text, origins(shown))


def _value(value: Value) -> str:
    """A value as print has it, pressures in kPa."""
    scale, unit = (1e-3, "kPa") if value.unit == "Pa" else (1.0, value.unit)
    return with_u(scale * value.value, scale * value.u, unit)


def origins(values: Mapping[str, Value]) -> str:
    """Where the values of one line come from: `all assumed`, or each origin with what it gave, the assumed last."""
    groups: dict[str, list[str]] = {}
    for word, v in values.items():
        groups.setdefault(f"{v.origin}, {v.source}" if v.source else v.origin, []).append(word)
    if len(groups) == 1:
        return f"all {next(iter(groups))}"
    ordered = sorted(groups.items(), key=lambda g: g[0].startswith("assumed"))
    said = [f"{', '.join(words)}: {origin}" for origin, words in ordered if not origin.startswith("assumed")]
    return "; ".join([*said, *(f"rest {origin}" for origin, _ in ordered if origin.startswith("assumed"))])


def warnings(ensemble: Ensemble) -> tuple[str, ...]:
    """What a reader of the forecast must know before relying on it."""
    laid = ensemble.laid
    out = [
        "The band is that of the cards, the starting water and the room as given; it does not cover a different stack.",
        (
            "Fibres give off their last water with a lag the model does not have: "
            "near balance it may be early, by up to an hour."
        ),
    ]
    assumed = [n for n in cards_used(laid) if _assumed_share(ensemble, n) and laid.cards[n]["capacity_kg_m3"] > 1.0]
    if assumed:
        out.append("Starting cards, nothing weighed: " + "; ".join(assumed) + ". Weigh your own for a narrower band.")
    if ensemble.lost:
        out.append(f"{ensemble.lost} members of the ensemble lay outside the model's range and are left out.")
    return tuple(out)


def _assumed_share(ensemble: Ensemble, name: str) -> bool:
    return not any(v.origin == "measured" for v in ensemble.laid.cards[name].values.values())


def citations(ensemble: Ensemble) -> tuple[str, ...]:
    """Keys of docs/references.bib that this forecast rests on."""
    keys = {"Kosugi1996", "Mualem1976", "PhilipKnight1974", "ChiltonColburn1934", "Sugarman1992"}
    for name in cards_used(ensemble.laid):
        for value in ensemble.laid.cards[name].values.values():
            if value.origin == "published":
                keys.add(value.source)
    return tuple(sorted(keys))
