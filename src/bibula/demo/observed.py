"""What is seen at the bench while the demo's etching dries: the model's own run for the true materials."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from bibula.cards.library import starting_cards
from bibula.cards.model import Card
from bibula.cards.priors import complete
from bibula.demo.truth import SEED, TRUTH, true_values
from bibula.forecast.laying import lay
from bibula.forecast.simulate import simulate
from bibula.forecast.stacking import Numbers
from bibula.plan.files import read_plan

TRUE_WATER = 1.14
"""Water of dry mass with which the etching really begins; the studio weighed a little more."""
WITNESS_DRY_G = 2.36


def observations(plan_file: Path) -> bytes:
    """The observations file of the etching's plan, with the errors of a balance."""
    plan = read_plan(plan_file)
    kinds = {name: kind for name, (kind, _) in TRUTH.items()}
    bare = {name: complete(Card(name, kind, {})) for name, kind in kinds.items()}  # type: ignore[arg-type]
    laid = lay(plan, {**starting_cards(), **bare})
    numbers = Numbers(cards={name: true_values(name) for name in TRUTH}, water_content=(TRUE_WATER,), drying_share=0.8)
    trace = simulate(laid, numbers)
    rng = np.random.default_rng([SEED, 11])
    area, dry = plan.object.area_m2, laid.dry_kg_m2

    def at(minutes: float, curve: np.ndarray) -> float:
        return float(np.interp(60.0 * minutes, trace.times_s, curve))

    felt = trace.layers["felt 1"]
    lies = np.isfinite(felt)
    gain = float(np.interp(3540.0, trace.times_s[lies], felt[lies])) - float(felt[lies][0])
    weight = 1e3 * area * (dry + at(30, trace.water)) + 0.15 * rng.standard_normal()
    felt_before = 118.4
    felt_after = felt_before + 1e3 * area * gain + 0.3 * rng.standard_normal()
    witness = WITNESS_DRY_G * (1.0 + at(59, trace.water) / dry * 1.03)
    return f"""\
# INVENTED EXAMPLE. What was seen and weighed while the etching dried; nothing here is a record of real work.
title = "Ferry at Low Water, seen at the bench"
invented = true

[[observation]]
at = "30 min"
what = "object weight"
grams = {weight:.2f}
u_grams = 0.15
note = "lifted with both interleaves, whose weight is taken off"

[[observation]]
at = "59 min"
what = "absorbent weight"
layer = "felt 1"
grams_before = {felt_before:.1f}
grams = {felt_after:.1f}
u_grams = 0.3

[[observation]]
at = "59 min"
what = "witness sheet"
grams = {witness:.2f}
dry_grams = {WITNESS_DRY_G:.2f}
u_grams = 0.02
note = "a strip of like paper, wetted and dried in the same stack"
""".encode()
