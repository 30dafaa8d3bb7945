"""(b) Ensembles of a thousand members: one stage of a day, and a plan of four stages."""

from __future__ import annotations

import time
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context

from benchmarks.measure import Figure
from bibula.cards.library import starting_cards
from bibula.cards.priors import complete
from bibula.forecast.ensemble import run_ensemble
from bibula.forecast.forecast import starting_water
from bibula.forecast.laying import LaidPlan, lay
from bibula.plan.files import parse_plan

MEMBERS = 1000
OBJECT = """
title = "benchmark"
invented = true
[object]
name = "sheet"
size = "297 x 210 mm"
grammage_g_m2 = 150.0
thickness_mm = 0.25
fibre = "rag"
start = "drained"
[room]
temperature_c = 20.0
relative_humidity_percent = 50.0
"""
STAGE = """
[[stage]]
name = "{name}"
duration = "{duration}"
weight_kg = 2.0
stack = [{below}{{object = true}}{above}]
"""


def plan(stages: int) -> LaidPlan:
    """A sheet on a slab for a day, or the same day in stages, each with a fresh slab."""
    hours = 24 // stages
    text = OBJECT + "".join(
        STAGE.format(
            name=f"stage {i + 1}",
            duration=f"{hours} h",
            below='{card = "slab (starting card)"}, {card = "interleaf (starting card)"}, ',
            above="",
        )
        for i in range(stages)
    )
    return lay(parse_plan(text), {name: complete(card) for name, card in starting_cards().items()})


def seconds(laid: LaidPlan, members: int, executor: Executor | None) -> float:
    """Wall-clock seconds of one ensemble."""
    begun = time.perf_counter()
    run_ensemble(laid, starting_water(laid), members, 1, executor)
    return time.perf_counter() - begun


def figures(dask: bool = True) -> Iterator[Figure]:
    """One process, two processes, two threads, a local Dask cluster."""
    for stages, goal in ((1, 6.0), (4, 15.0)):
        laid = plan(stages)
        seconds(laid, 20, None)
        name = f"(b) {MEMBERS} members, {stages} stage{'s' if stages > 1 else ''}"
        one = seconds(laid, MEMBERS, None)
        with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
            seconds(laid, 64, pool)  # the workers' imports are not the ensemble's
            two = seconds(laid, MEMBERS, pool)
        yield Figure(f"{name}, two processes", two, "s", goal)
        yield Figure(f"{name}, one process", one, "s")
        yield Figure(f"{name}, two processes if scaling were ideal", one / 2.0, "s")
    laid = plan(1)
    with ThreadPoolExecutor(2) as threads:
        yield Figure(f"(b) {MEMBERS} members, 1 stage, two threads", seconds(laid, MEMBERS, threads), "s")
    if dask:
        yield from _dask(laid)


def _dask(laid: LaidPlan) -> Iterator[Figure]:
    try:
        from distributed import Client, LocalCluster
    except ImportError:
        return
    with (
        LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        Client(cluster) as client,
    ):
        executor = client.get_executor()
        seconds(laid, 64, executor)
        yield Figure(f"(b) {MEMBERS} members, 1 stage, local Dask cluster", seconds(laid, MEMBERS, executor), "s")


def cost_of_members() -> list[tuple[int, float]]:
    """Seconds against the number of members, one process."""
    laid = plan(1)
    return [(n, seconds(laid, n, None)) for n in (50, 100, 200, 400)]


def cost_of_stages() -> list[tuple[int, float]]:
    """Seconds of 100 members against the number of stages."""
    return [(n, seconds(plan(n), 100, None)) for n in (1, 2, 4, 8)]
