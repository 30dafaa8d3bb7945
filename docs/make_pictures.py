"""Draws the pictures of docs/guide.md from the invented demo studio, always the same: run it by hand.

    .venv/bin/python docs/make_pictures.py

It fits the studio's cards, forecasts the etching with 200 members and seed 1, corrects it by the
observations of the studio, and writes SVG files into docs/pictures. Half a minute on two cores.
"""  # noqa: INP001 (a script beside the pages, no package)

from __future__ import annotations

import re
import tempfile
from pathlib import Path

from bibula.cards.library import load_cards, starting_cards
from bibula.cli.fit import report_of
from bibula.demo.studio import MAIN_PLAN, MATERIALS, OBSERVATIONS, copy_studio, fit_material
from bibula.forecast.bench import bench_observations
from bibula.forecast.forecast import make_forecast
from bibula.forecast.result import Forecast
from bibula.forecast.update import update_forecast
from bibula.plan.files import read_plan
from bibula.plan.observed import read_observed
from bibula.report.cardsheet import residual_chart
from bibula.report.charts import draw
from bibula.report.curves import moisture_chart, water_chart
from bibula.report.section import draw_section

PICTURES = Path(__file__).parent / "pictures"
MEMBERS, SEED = 200, 1
RESIDUALS = "slab-lot-1"
PAPER, LINE_PX, MARGIN_PX, MARK = "#fffffe", 16.0, 8.0, "invented example"
SHOWN_PX = 900.0  # width on the page, whatever the drawing's own
SECTION_PX = 690.0  # as wide as two stacks side by side need


def studio_pictures(folder: Path) -> dict[str, str]:
    """SVG texts by file name; `folder` takes a copy of the studio."""
    copy_studio(folder)
    fits = {name: fit_material(folder, name) for name in MATERIALS}
    uptake = report_of(fits[RESIDUALS].fit).tests[0]
    plan = read_plan(folder / "plans" / MAIN_PLAN)
    cards = {**starting_cards(), **load_cards([folder / "cards"])}
    forecast = make_forecast(plan, cards, members=MEMBERS, seed=SEED)
    run, _ = read_observed(folder / "plans" / OBSERVATIONS)
    observed, _ = bench_observations(plan, cards, run)
    corrected = update_forecast(plan, cards, observed, members=MEMBERS, seed=SEED).forecast
    return {
        "residuals.svg": draw(residual_chart(uptake, "uptake"), "wide"),
        "water.svg": draw(water_chart(forecast), "wide"),
        "moisture.svg": draw(moisture_chart(forecast), "wide"),
        "corrected.svg": draw(water_chart(corrected), "wide"),
        "section.svg": _section(forecast),
    }


def _section(forecast: Forecast) -> str:
    return draw_section(forecast, width=SECTION_PX, for_page=False, key="guide")


def on_paper(svg: str) -> str:
    """The same on a light ground, readable on a dark page too, with a size of its own and the line MARK."""
    box = re.search(r'viewBox="([\d.]+) ([\d.]+) ([\d.]+) ([\d.]+)"', svg)
    if box is None:
        return svg
    x, y, width, height = (float(part) for part in box.groups())
    x, y, width, height = x - MARGIN_PX, y - MARGIN_PX, width + 2 * MARGIN_PX, height + MARGIN_PX
    end = svg.index(">", box.end()) + 1
    head, body = svg[:end], svg[end : svg.rindex("</svg>")]
    tall = height + LINE_PX
    shown = f'width="{SHOWN_PX:g}" height="{tall * SHOWN_PX / width:.0f}"'
    head = head.replace(box.group(), f'viewBox="{x:g} {y:g} {width:g} {tall:g}"')
    head = re.sub(r' (width|height)="[^"]*"', "", head)[:-1] + f" {shown}>"
    ground = f'<rect x="{x:g}" y="{y:g}" width="{width:g}" height="{tall:g}" fill="{PAPER}"/>'
    at = f'x="{x + width - 6:g}" y="{y + tall - 5:g}" text-anchor="end" font-family="sans-serif" font-size="10"'
    return f'{head}{ground}{body}<text {at} fill="#5b6664">{MARK}</text></svg>'


def main() -> None:
    """Draw all pictures."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        pictures = studio_pictures(Path(folder) / "studio")
    for name, svg in pictures.items():
        (PICTURES / name).write_text(on_paper(svg) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
