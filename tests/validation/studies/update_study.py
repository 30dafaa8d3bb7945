"""Does the doubt test cry wolf, does it notice a wrong room, and do corrected bands hold the truth?

Everything is simulated: the model is true here by construction, so this tests the statistics of the
update and nothing of the model. One invented plan, three kinds of bench record:

* weights: the object itself weighed at eight times, the last two next morning, u = 0.05 g;
* weights from air-dry: the same weights told against the sheet's own air-dry weight at 50 % RH, taken
  before the treatment (what the isotherm holds there cancels);
* no lifting: the surface temperature at six times, u = 0.5 K (and the 0.3 K the model allows for
  air it does not know), and the slab taken out after the first stage, u = 0.5 g.

A room 15 points of humidity wetter than told shows in the weight at balance above all: the prior
knows the rate of drying no better than the exchange with the air, to a third. How well that weight
tells the room hangs on the paper's sorption isotherm; a last record therefore repeats the weights
with an isotherm as conditioning at some humidities would leave it.

Run it: python tests/validation/studies/update_study.py --date 2026-11-25 --out docs/results/...json
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cache, partial
from pathlib import Path
from typing import Any

import numpy as np
from scipy.stats import binom

from bibula.cards.library import starting_cards
from bibula.cards.model import Card
from bibula.cards.priors import complete
from bibula.forecast.bench import BRANCH_SHARE
from bibula.forecast.doubt import DOUBT, doubt
from bibula.forecast.draws import DRYING_SHARE_LOW
from bibula.forecast.draws import members as draw_members
from bibula.forecast.ensemble import Ensemble, quantile, run_ensemble
from bibula.forecast.forecast import starting_water
from bibula.forecast.laying import LaidPlan, lay
from bibula.forecast.milestones import times_of
from bibula.forecast.observations import Observation, observe, uncertainties
from bibula.forecast.simulate import Trace, simulate
from bibula.forecast.stacking import Numbers
from bibula.forecast.update import assimilate
from bibula.plan.model import Plan, PlanObject, Room, Start
from bibula.plan.stages import Stage
from bibula.statistics.ensembles import map_members

NARROW = {
    "absorption_kg_m2s05": 0.08,
    "capacity_kg_m3": 0.04,
    "gab_monolayer_kg_kg": 0.06,
    "contact_kg_m2spa": 0.30,
}
"""Relative uncertainties as a fit to a few weighings leaves them; all else as in the starting cards."""
ISOTHERM = {"gab_c": 0.10, "gab_k": 0.01, "drying_sorption_ratio": 0.02}
"""Narrower still where the paper was conditioned; its monolayer stays at NARROW's."""
MINUTE = 60.0
WEIGHED_MIN = (5.0, 15.0, 30.0, 60.0, 120.0, 240.0, 960.0, 1200.0)
TEMPERATURE_MIN = (5.0, 20.0, 40.0, 60.0, 90.0, 120.0)
BALANCE_G, SLAB_G, THERMOMETER_K = 0.05, 0.5, 0.5
WETTER_RH = 0.15
ISOTHERM_KNOWN = "weights, isotherm known"
FROM_AIR_DRY = "weights from air-dry"


@dataclass(frozen=True)
class Sizes:
    """How many runs: sound truths, truths in a wetter room, priors and their members, corrected runs and theirs.

    The runs are shared out among several priors, so that the chance of one prior's draw weighs less.
    """

    sound: int = 400
    wetter: int = 200
    priors: int = 4
    prior: int = 200
    corrected: int = 60
    corrected_members: int = 100


def study_plan() -> Plan:
    """An invented sheet, weighed wet: a quarter of an hour on a slab, then on a rack until next day."""
    thing = PlanObject(
        name="Invented sheet",
        length_m=0.42,
        width_m=0.297,
        grammage_g_m2=250.0,
        thickness_mm=0.4,
        fibre="rag",
        start=Start(state="measured", water_content=1.1, u_water_content=0.03),
    )
    room = Room(temperature_c=20.0, relative_humidity_percent=50.0)
    sheet = [{"card": "interleaf (starting card)", "id": "n1"}, {"object": True}]
    again = [{"card": "interleaf (starting card)", "id": "n1", "reuse": True}, {"object": True}]
    slab = {"card": "slab (starting card)", "name": "slab"}
    stages = (
        Stage.model_validate({"name": "on a slab", "duration": "15 min", "stack": [slab, *sheet]}),
        Stage.model_validate({"name": "on a rack", "duration": "20 h", "below": "rack", "stack": again}),
    )
    return Plan(title="Invented study plan", invented=True, object=thing, room=room, stages=stages)


def fitted_like_cards(isotherm: bool = False) -> dict[str, Card]:
    """The starting cards with the uncertainties that a fit leaves; with `isotherm`, a conditioned paper's."""
    out = {}
    shares = {**NARROW, **(ISOTHERM if isotherm else {})}
    for name, card in starting_cards().items():
        whole = complete(card)
        narrow = {k: replace(whole.values[k], u=share * whole[k]) for k, share in shares.items()}
        out[name] = whole.with_values(**narrow)
    return out


def records(laid: LaidPlan) -> dict[str, tuple[Observation, ...]]:
    """What is observed and how well, per kind of record; the values are put in later."""
    area = laid.plan.object.area_m2
    weights = [Observation(t * MINUTE, "object weight", 0.0, BALANCE_G / 1000.0 / area) for t in WEIGHED_MIN]
    warm = [Observation(t * MINUTE, "surface temperature", 0.0, THERMOMETER_K) for t in TEMPERATURE_MIN]
    slab = Observation(15.0 * MINUTE, "absorbent weight", 0.0, SLAB_G / 1000.0 / area, "stage 1 layer 1")
    from_air_dry = [
        replace(o, u=float(np.hypot(o.u, BRANCH_SHARE * 0.06 * laid.dry_kg_m2)), air_dry_rh=0.5) for o in weights
    ]
    return {"weights": tuple(weights), FROM_AIR_DRY: tuple(from_air_dry), "no lifting": (*warm, slab)}


def seen(
    laid: LaidPlan, truth: tuple[Numbers, Trace], told: Sequence[Observation], rng: np.random.Generator
) -> tuple[Observation, ...]:
    """What a conservator would have noted of one truth."""
    exact = observe(laid, *truth, told)
    noted = exact + rng.standard_normal(len(told)) * uncertainties(told)
    return tuple(replace(o, value=float(v)) for o, v in zip(told, noted, strict=True))


def independent(laid: LaidPlan, n: int, seed: int) -> list[Numbers]:
    """n truths drawn one by one: a stratified ensemble of them would be too even to count false alarms with."""
    water = starting_water(laid)
    rng = np.random.default_rng(seed)
    drawn = [draw_members(laid, water, 1, int(s))[0] for s in rng.integers(2**31, size=n)]
    shares = rng.uniform(DRYING_SHARE_LOW, 1.0, size=n)
    return [replace(m, drying_share=float(x)) for m, x in zip(drawn, shares, strict=True)]


def truths(laid: LaidPlan, drawn: Sequence[Numbers], executor: Executor | None) -> list[tuple[Numbers, Trace]]:
    """Every truth run once."""
    return list(zip(drawn, map_members(partial(simulate, laid), drawn, executor), strict=True))


def doubted(
    priors: Sequence[Ensemble], told: tuple[Observation, ...], runs: Sequence[tuple[Numbers, Trace]], seed: int
) -> list[float]:
    """P-value of every run, each judged by one of the priors."""
    rng = np.random.default_rng(seed)
    judges = [priors[i % len(priors)] for i in range(len(runs))]
    return [doubt(j, seen(j.laid, run, told, rng), 1)[1] for j, run in zip(judges, runs, strict=True)]


@cache
def _prior(members: int) -> Ensemble:
    laid = lay(study_plan(), fitted_like_cards())
    return run_ensemble(laid, starting_water(laid), members, 11)


def covered(
    numbered: tuple[int, tuple[Numbers, Trace]], told: tuple[Observation, ...], members: int
) -> tuple[bool, bool, float, float]:
    """Whether the 95 % band of the time to balance holds the truth, before and after correcting; both widths, h."""
    number, run = numbered
    prior = _prior(members)
    laid = prior.laid
    true = times_of(run[1], laid.dry_kg_m2, laid.plan.target.goal, 0.0)["balance_room"]
    noted = seen(laid, run, told, np.random.default_rng(1000 + number))
    held, width = [], []
    for ensemble in (prior, assimilate(prior, noted, number)):
        times = np.sort(ensemble.milestone_times()["balance_room"])
        low, high = quantile(times, 0.025), quantile(times, 0.975)
        held.append(low <= true <= high)
        width.append((high - low) / 3600.0)
    return held[0], held[1], width[0], width[1]


def _share(count: int, of: int) -> dict[str, float]:
    low, high = (float(binom.ppf(q, of, count / of)) / of for q in (0.025, 0.975))
    return {"share": round(count / of, 4), "of": of, "binomial_low": round(low, 4), "binomial_high": round(high, 4)}


def _judge(sizes: Sizes, executor: Executor | None, seed: int, isotherm: bool) -> dict[str, dict[str, Any]]:
    laid = lay(study_plan(), fitted_like_cards(isotherm))
    water = starting_water(laid)
    priors = [run_ensemble(laid, water, sizes.prior, 1 + i, executor) for i in range(sizes.priors)]
    sound = truths(laid, independent(laid, sizes.sound, seed), executor)
    drawn = independent(laid, sizes.wetter, seed + 1)
    wetter = truths(laid, [replace(n, room_shift_rh=n.room_shift_rh + WETTER_RH) for n in drawn], executor)
    out: dict[str, dict[str, Any]] = {}
    for kind, told in records(laid).items():
        sound_p = doubted(priors, told, sound, seed + 2)
        wet_p = doubted(priors, told, wetter, seed + 3)
        out[kind] = {
            "false_alarms": _share(sum(p <= DOUBT for p in sound_p), len(sound_p)),
            "wetter_room_noticed": _share(sum(p <= DOUBT for p in wet_p), len(wet_p)),
            "p_values_deciles": [round(float(x), 3) for x in np.quantile(sound_p, np.linspace(0.1, 0.9, 9))],
        }
        if not isotherm and sizes.corrected:
            out[kind] |= _coverage(sizes, executor, told, sound[: sizes.corrected])
    return out


def _coverage(
    sizes: Sizes, executor: Executor | None, told: tuple[Observation, ...], runs: list[tuple[Numbers, Trace]]
) -> dict[str, Any]:
    one = partial(covered, told=told, members=sizes.corrected_members)
    cover = map_members(one, list(enumerate(runs)), executor, chunk=1)
    return {
        "covered_before": _share(sum(c[0] for c in cover), len(cover)),
        "covered_after": _share(sum(c[1] for c in cover), len(cover)),
        "median_width_h": [round(float(np.median([c[k] for c in cover])), 3) for k in (2, 3)],
    }


def run_study(sizes: Sizes, executor: Executor | None = None, seed: int = 2026) -> dict[str, Any]:
    """The whole study: per kind of record the false alarms, the wrong rooms noticed, the coverage."""
    out: dict[str, Any] = {"sizes": sizes.__dict__, "seed": seed}
    out |= _judge(sizes, executor, seed, isotherm=False)
    out[ISOTHERM_KNOWN] = _judge(sizes, executor, seed, isotherm=True)["weights"]
    return out


@contextmanager
def pool(workers: int) -> Iterator[Executor | None]:
    """A process pool, or none for one worker."""
    if workers < 2:
        yield None
        return
    with ProcessPoolExecutor(workers) as executor:
        yield executor


def main() -> None:
    """Run the study and write its dated result."""
    parser = argparse.ArgumentParser(description="The update study.")
    parser.add_argument("--date", required=True, help="ISO date to write into the result")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--workers", type=int, default=2)
    words = parser.parse_args()
    with pool(words.workers) as executor:
        found = run_study(Sizes(), executor)
    command = f"python tests/validation/studies/update_study.py --date {words.date} --out {words.out}"
    result = {"study": "update", "date": words.date, "command": command, **found}
    words.out.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(result, indent=1))


if __name__ == "__main__":
    main()
