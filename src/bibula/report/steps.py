"""The order of work: what to do when, from the stages, the window and the milestones of a forecast."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from bibula.forecast.result import AbsorbentUse, Forecast
from bibula.report.curves import window
from bibula.report.formatting import Units, clock, duration, duration_band, length

NO_CHANGE = "no change needed"


@dataclass(frozen=True)
class Step:
    """One thing to tick off. `when` is a planned time (h:mm) or, where `watch` is true, a forecast one."""

    when: str
    text: str
    details: tuple[str, ...] = ()
    watch: bool = False


def steps(forecast: Forecast, units: Units = "metric") -> tuple[Step, ...]:
    """All steps in order of time: building, each change of the stack, the window, the last look."""
    timed: list[tuple[float, int, Step]] = []
    layers = dict(forecast.layers_by_stage)
    before: tuple[str, ...] | None = None
    for n, (name, start) in enumerate(zip(forecast.stage_names, forecast.stage_starts_s, strict=True)):
        now = layers.get(name, ())
        timed.append((start, 0, _stage_step(forecast, n, name, before, now, units)))
        before = now
    pair = window(forecast)
    if pair is not None and pair[0].time_s is not None:
        opens, closes = (duration_band(m.time_s, m.low_s, m.high_s) for m in pair)
        early = pair[1].low_s if pair[1].low_s is not None else pair[1].time_s
        if pair[0].time_s == pair[1].time_s:
            text = "Restraint: at once, when it comes out of the damp."
            bands: tuple[str, ...] = ()
        else:
            by = "at once" if early is None or early < 1.0 else f"by {duration(early)} to be safe"
            text = f"Restraint: look for the sheen to go ({opens[0]}), and have it on {by}."
            late = f"Closes: {closes[0]}" + (f" ({closes[1]})" if closes[1] else "")
            bands = tuple(x for x in (f"Opens: {opens[1]}" if opens[1] else "", late) if x)
        timed.append((pair[0].time_s, 1, Step("watch", text, bands, watch=True)))
    end = float(forecast.times_s[-1])
    last = Step(clock(end), "End of the plan. Weigh, or compare the surface with a dry reference, before release.")
    timed.append((end, 2, last))
    return tuple(step for _, _, step in sorted(timed, key=lambda x: (x[0], x[1])))


def layer_name(forecast: Forecast, use: AbsorbentUse) -> str:
    """The absorbent's name, with its side of the object where the stage has two of that name."""
    alike = [a for a in forecast.absorbents if (a.stage, a.layer) == (use.stage, use.layer)]
    return f"{use.layer} ({use.side})" if use.side and len(alike) > 1 else use.layer


def _stage_step(
    forecast: Forecast, n: int, name: str, before: tuple[str, ...] | None, now: tuple[str, ...], units: Units
) -> Step:
    number = f"Stage {n + 1}. " if len(forecast.stage_names) > 1 else ""
    when = clock(forecast.stage_starts_s[n])
    moved = forecast.moves[n] if n < len(forecast.moves) else ()
    advice = _advice(forecast, name)
    if before is None:
        stack = f"From the table up: {' · '.join(_with_thickness(forecast, name, now, units))}." if now else ""
        details = tuple(x for x in (stack, *moved, *advice) if x)
        return Step(when, f"{number}Build the stack: {name}.", details)
    return Step(when, f"{number}Go over to: {name}.", (*(moved or (_change(before, now),)), *advice))


def _advice(forecast: Forecast, stage: str) -> tuple[str, ...]:
    """What each absorbent of a stage asks for; those that ask for nothing share a line."""
    asked: dict[str, list[str]] = {}
    for use in forecast.absorbents:
        if use.stage == stage and use.advice:
            asked.setdefault(NO_CHANGE if use.advice.startswith(NO_CHANGE) else use.advice, []).append(
                layer_name(forecast, use)
            )
    idle = asked.pop(NO_CHANGE, [])
    lines = tuple(f"{', '.join(layers)}: {advice}" for advice, layers in asked.items())
    return (*lines, f"No change needed in this stage: {', '.join(idle)}.") if idle else lines


def _change(before: tuple[str, ...], now: tuple[str, ...]) -> str:
    """What is taken out and what is put in, by name."""
    out, new = Counter(before) - Counter(now), Counter(now) - Counter(before)
    if not out and not new:
        if before == now:
            return "The same kinds of layer in the same order; change or turn what the plan says."
        return f"The same layers in a new order, from the table up: {' · '.join(now)}."
    taken = f"Take out {_counted(out)}. " if out else ""
    return taken + (f"Put in {_counted(new)}." if new else "")


def _counted(names: Counter[str]) -> str:
    return ", ".join(f"{count} × {name}" if count > 1 else name for name, count in names.items())


def _with_thickness(forecast: Forecast, stage: str, names: tuple[str, ...], units: Units) -> list[str]:
    """Layer names with their thickness where a picture of the stage gives it."""
    thick = {x.name: x.top_m - x.bottom_m for p in forecast.pictures if p.stage == stage for x in p.layers}
    return [f"{n} ({length(thick[n], units)})" if n in thick else n for n in names]
