"""From a forecast to its charts: which curves, which panels, which marks, and the words for each."""

from __future__ import annotations

import numpy as np

from bibula.forecast.result import Array, Band, Forecast, Milestone
from bibula.report.charts import Chart, Event, Line, Points, Span, TimePanel
from bibula.report.formatting import DAY_S, HOUR_S, MINUTE_S, Units, banded, decimals_for, duration, temperature_scale

CLOSE_UPS_S = (2 * MINUTE_S, 5 * MINUTE_S, 10 * MINUTE_S, 30 * MINUTE_S, HOUR_S, 2 * HOUR_S, 6 * HOUR_S)
OPENS, CLOSES, SHEEN = "window_opens", "window_closes", "sheen_gone"


def marks(milestones: tuple[Milestone, ...]) -> dict[str, str]:
    """A letter for each milestone, in the order given: key -> "A", "B", ..."""
    return {m.key: chr(ord("A") + i) if i < 26 else str(i) for i, m in enumerate(milestones)}


def window(forecast: Forecast) -> tuple[Milestone, Milestone] | None:
    """The two milestones between which the restraint goes on, if the forecast names both."""
    by_key = {m.key: m for m in forecast.milestones}
    opens, closes = by_key.get(OPENS) or by_key.get(SHEEN), by_key.get(CLOSES)
    return (opens, closes) if opens and closes else None


def time_panels(forecast: Forecast) -> tuple[TimePanel, ...]:
    """One panel, or a close-up of the first minutes and the whole, where most of the water leaves early."""
    end = float(forecast.times_s[-1])
    whole = panel(0.0, end)
    water = forecast.sheet_water_g_m2.median
    half = water[0] - 0.5 * (water[0] - float(np.min(water)))
    after = float(forecast.times_s[int(np.argmax(water <= half))])
    close_up = next((t for t in CLOSE_UPS_S if t >= 2.0 * after), None)
    if after <= 0.0 or close_up is None or close_up > end / 5.0:
        return (whole,)
    return (panel(0.0, close_up), whole)


def panel(start_s: float, end_s: float) -> TimePanel:
    """A stretch of time in the unit a person would read it in: s, min, h or days."""
    for unit, unit_s, limit_s in (("s", 1.0, 100.0), ("min", MINUTE_S, 100 * MINUTE_S), ("h", HOUR_S, 73 * HOUR_S)):
        if end_s <= limit_s:
            return TimePanel(start_s, end_s, unit, unit_s)
    return TimePanel(start_s, end_s, "days", DAY_S)


def charts(forecast: Forecast, units: Units = "metric") -> tuple[Chart, Chart, Chart]:
    """Water, moisture with solids, and surface temperature, each as a `Chart`."""
    return water_chart(forecast), moisture_chart(forecast), temperature_chart(forecast, units)


def water_chart(forecast: Forecast) -> Chart:
    """The sheet's water in g/m² with its band, the stages, the milestones, the window and the weighings."""
    band = forecast.sheet_water_g_m2
    readings = forecast.observations
    points = (Points("readings", tuple(o[0] for o in readings), tuple(o[1] for o in readings)),) if readings else ()
    letters = marks(forecast.milestones)
    events = tuple(
        Event(letters[m.key], m.label, m.time_s, m.low_s, m.high_s) for m in forecast.milestones if m.time_s is not None
    )
    return Chart(
        key="water",
        title="Water in the sheet",
        y_label="sheet water, g/m²",
        panels=time_panels(forecast),
        lines=(_line("median", forecast.times_s, band),),
        points=points,
        events=events,
        windows=_window_spans(forecast),
        stages=stage_spans(forecast),
        alt="Water in the sheet against time with its 95 % band. " + _story(forecast, band, "g/m²", 1.0),
        summary=_story(forecast, band, "g/m²", 1.0),
        table=_table(forecast, (("water, g/m²", band, 1.0),)),
    )


def moisture_chart(forecast: Forecast) -> Chart:
    """Moisture in % of dry mass and solids in % of wet mass."""
    moisture, solids = forecast.sheet_moisture, forecast.sheet_solids
    story = "Moisture: " + _story(forecast, moisture, "% of dry mass", 100.0)
    story += " Solids: " + _story(forecast, solids, "%", 100.0)
    return Chart(
        key="moisture",
        title="Moisture and solids",
        y_label="per cent",
        panels=time_panels(forecast),
        lines=(
            _line("moisture", forecast.times_s, moisture, 100.0),
            _line("solids", forecast.times_s, solids, 100.0),
        ),
        windows=_window_spans(forecast),
        stages=stage_spans(forecast),
        alt="Moisture in per cent of dry mass and solids in per cent, against time. " + story,
        summary=story,
        table=_table(forecast, (("moisture, % of dry mass", moisture, 100.0), ("solids, %", solids, 100.0))),
    )


def temperature_chart(forecast: Forecast, units: Units = "metric") -> Chart:
    """The surface temperature with its band and the room's."""
    shown, unit = temperature_scale(units)
    raw = forecast.surface_temperature_c
    median, low, high = (np.asarray([shown(float(v)) for v in a]) for a in (raw.median, raw.low, raw.high))
    band = Band(median, low, high, unit)
    room = shown(forecast.room_temperature_c)
    story = _story(forecast, band, unit, 1.0) + f" The room is at {room:.1f} {unit}."
    return Chart(
        key="temperature",
        title="Surface temperature",
        y_label=f"surface, {unit}",
        panels=time_panels(forecast),
        lines=(_line("median", forecast.times_s, band),),
        stages=stage_spans(forecast),
        levels=((f"room, {room:.1f} {unit}", room),),
        from_zero=False,
        alt="Temperature of the upper surface against time with its 95 % band. " + story,
        summary=story,
        table=_table(forecast, ((f"surface, {unit}", band, 1.0),)),
    )


def stage_spans(forecast: Forecast) -> tuple[Span, ...]:
    """Each stage from its start to the next one's start, the last to the end of the plan."""
    ends = (*forecast.stage_starts_s[1:], float(forecast.times_s[-1]))
    named = zip(forecast.stage_names, forecast.stage_starts_s, ends, strict=True)
    return tuple(Span(name, start, end) for name, start, end in named)


def table_times(forecast: Forecast, count: int = 10) -> list[int]:
    """Which of the forecast's own times a data table shows: close together early, wider later."""
    times = forecast.times_s
    wanted = times[0] + (times[-1] - times[0]) * np.linspace(0.0, 1.0, count) ** 3
    return sorted({int(np.argmin(np.abs(times - t))) for t in wanted})


def _window_spans(forecast: Forecast) -> tuple[Span, ...]:
    pair = window(forecast)
    if pair is None or pair[0].time_s is None:
        return ()
    end = pair[1].time_s if pair[1].time_s is not None else float(forecast.times_s[-1])
    return (Span("window", pair[0].time_s, end),) if end > pair[0].time_s else ()


def _line(label: str, times_s: Array, band: Band, scale: float = 1.0) -> Line:
    return Line(label, times_s, scale * band.median, scale * band.low, scale * band.high)


def _at(band: Band, index: int, scale: float, unit: str = "") -> str:
    low, high = scale * float(band.low[index]), scale * float(band.high[index])
    digits = min(decimals_for(low, high), 1)
    return banded(scale * float(band.median[index]), low, high, unit, digits)


def _story(forecast: Forecast, band: Band, unit: str, scale: float) -> str:
    """Start, early, end: three numbers of the curve in one sentence."""
    last = len(forecast.times_s) - 1
    early = table_times(forecast)[min(4, len(table_times(forecast)) - 1)]
    end = duration(float(forecast.times_s[last]))
    return (
        f"It starts at {_at(band, 0, scale, unit)}, is {_at(band, early, scale, unit)} after "
        f"{duration(float(forecast.times_s[early]))} and {_at(band, last, scale, unit)} at the end, after {end}."
    )


def _table(forecast: Forecast, columns: tuple[tuple[str, Band, float], ...]) -> tuple[tuple[str, ...], ...]:
    head = ("time", *(f"{name}: median (95 % band)" for name, _, _ in columns))
    body = tuple(
        (duration(float(forecast.times_s[i])), *(_at(band, i, scale) for _, band, scale in columns))
        for i in table_times(forecast)
    )
    return (head, *body)
