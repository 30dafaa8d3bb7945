"""Laws that must hold for any stack: balances, symmetry, equilibrium, bounds.

Hypothesis draws the seed of a generator that builds the stack, so a failure prints as one number.
"""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from bibula.checks.solver_cases import at_humidity, prior_material
from bibula.formulas.moist_air import suction_pa
from bibula.physics.integrate import Tolerance
from bibula.physics.materials import pore_material
from bibula.physics.run import PieceState, run_stage
from bibula.physics.stack import (
    WETTEST_PA,
    Boundary,
    Contact,
    Layer,
    Stack,
    steady_weather,
    water_at_suction,
    water_from_total,
)
from bibula.quantities.errors import ValidityError

THICKNESS_M = {
    "slab": 9e-3,
    "blotter": 8e-4,
    "felt": 5e-3,
    "interleaf": 1.2e-4,
    "paper": 1.5e-4,
    "board": 1.5e-3,
    "absorbent": 3e-3,
}
SCALED = ("absorption_kg_m2s05", "median_suction_pa", "suction_spread", "vapour_resistance", "conductivity_w_mk")
CLOSED = 1e-8
seeds = st.integers(0, 2**20).map(np.random.default_rng)
quiet = settings(max_examples=15, deadline=None, derandomize=True)


def a_material(rng, kind):
    base = prior_material(kind)
    changed = {name: getattr(base, name) * np.exp(rng.uniform(-1, 1)) for name in SCALED}
    changed["suction_spread"] = min(max(changed["suction_spread"], 0.4), 2.0)
    try:
        return pore_material(prior_material(kind, **changed), branch=float(rng.choice([0.0, 0.5, 1.0])))
    except ValidityError:
        return a_material(rng, kind)


def a_layer(rng, key):
    kind = str(rng.choice(list(THICKNESS_M)))
    film = bool(rng.integers(2))
    thickness = THICKNESS_M[kind] * float(np.exp(rng.uniform(-1, 1)))
    return Layer(key, a_material(rng, kind), thickness, int(rng.integers(4, 11)), 0.9, film, film)


def a_contact(rng):
    liquid = float(rng.integers(2)) * 10.0 ** rng.uniform(-9, -5)
    return Contact(liquid, 10.0 ** rng.uniform(3, 5), 10.0 ** rng.uniform(-9, -7), rng.uniform(10, 200))


def a_room(rng):
    """Its dew point stays below every piece: nothing condenses on a full layer."""
    rh = rng.uniform(0.3, 0.7)
    start, end = steady_weather(rng.uniform(18, 24), rh), steady_weather(rng.uniform(18, 24), rh)
    end[0, 0] = 3600.0
    h_c = rng.uniform(2, 17)
    return Boundary(np.vstack([start, end]) if rng.integers(2) else start, h_c + 5.0, 6.8e-9 * h_c)


def a_boundary(rng):
    kind = rng.choice(["room", "room", "sealed", "plate", "water"])
    if kind == "room":
        return a_room(rng)
    still = steady_weather(20.0, 0.5)
    if kind == "water":
        return Boundary(still, 20.0, 0.0, 10.0 ** rng.uniform(-8, -5), rng.uniform(0, 50), 19.0)
    return Boundary(still, 0.0 if kind == "sealed" else 50.0, 0.0)


def a_piece(rng, layer):
    low = float(water_at_suction(layer, float(suction_pa(0.35, 20.0))).sum())
    full = float(water_at_suction(layer, 20.0).sum())
    water = water_from_total(layer, low + rng.uniform() * (full - low))
    return PieceState(water, np.full(layer.intervals + 1, rng.uniform(19, 25)))


def a_treatment(rng):
    """Pieces by key, and stages: each a Stack and the keys turned over before it."""
    keys = [f"k{i}" for i in range(rng.integers(1, 6))]
    pool = {key: a_layer(rng, key) for key in keys}
    state = {key: a_piece(rng, pool[key]) for key in keys}
    stages = []
    for _ in range(rng.integers(1, 4)):
        order = [str(k) for k in rng.permutation(keys)[: rng.integers(1, len(keys) + 1)]]
        joints = tuple(a_contact(rng) for _ in order[1:])
        stack = Stack(tuple(pool[key] for key in order), joints, a_boundary(rng), a_boundary(rng))
        stages.append((stack, [key for key in order if rng.integers(2)]))
    return state, stages


def run_all(state, stages):
    results = []
    for stack, turned in stages:
        for key in turned:
            state[key] = state[key].turned()
        results.append(run_stage(stack, state, np.array([0.0, 30.0, 600.0, 3600.0, 4 * 3600.0])))
        state |= {layer.key: results[-1].piece(layer.key) for layer in stack.layers}
    return results


def an_upright_stack(rng):
    pool = tuple(a_layer(rng, f"k{i}") for i in range(rng.integers(1, 4)))
    joints = tuple(a_contact(rng) for _ in pool[1:])
    return Stack(pool, joints, a_room(rng), a_room(rng), gravity=0.0), [a_piece(rng, layer) for layer in pool]


@quiet
@given(seeds)
def test_every_stage_closes_its_balances_and_stays_sane(rng):
    for result in run_all(*a_treatment(rng)):
        assert max(result.balances) <= CLOSED
        assert np.isfinite(result.fields).all()
        assert result.water.min() >= 0.0
        wettest = np.concatenate([water_at_suction(layer, WETTEST_PA) for layer in result.stack.layers])
        assert (result.water <= 1.001 * wettest).all()
        assert result.temperature.min() > 5.0
        assert result.temperature.max() < 30.0


@quiet
@given(seeds)
def test_pieces_carry_their_water_from_stage_to_stage(rng):
    state, stages = a_treatment(rng)
    before = sum(piece.water_kg_m2.sum() for piece in state.values())
    results = run_all(state, stages)
    left = sum(float(r.out_below[-1] + r.out_above[-1]) for r in results)
    moved = before + sum(float(np.abs(r.states[-1, [0, -2]]).sum()) for r in results)
    after = sum(piece.water_kg_m2.sum() for piece in state.values())
    assert abs(before - left - after) <= CLOSED * moved


@quiet
@given(seeds)
def test_a_mirrored_stack_without_gravity_gives_mirrored_fields(rng):
    stack, pieces = an_upright_stack(rng)
    mirror = Stack(stack.layers[::-1], stack.contacts[::-1], stack.above, stack.below, 0.0)
    times, tight = np.array([0.0, 600.0, 3600.0]), Tolerance(1e-8, 1e-11, 1e-6)
    one = run_stage(stack, pieces, times, tight)
    other = run_stage(mirror, [p.turned() for p in pieces[::-1]], times, tight)
    assert np.allclose(one.water, other.water[:, ::-1], rtol=1e-5, atol=1e-7 * one.water.max())
    assert np.allclose(one.temperature, other.temperature[:, ::-1], atol=1e-4)


@quiet
@given(seeds, st.floats(0.15, 0.97), st.floats(15.0, 30.0))
def test_a_stack_in_balance_with_its_rooms_stays_so(rng, humidity, temperature):
    drawn, _ = an_upright_stack(rng)
    room = Boundary(steady_weather(temperature, humidity), 8.0, 3e-8)
    stack = Stack(drawn.layers, drawn.contacts, room, room, gravity=0.0)
    result = run_stage(stack, at_humidity(stack, humidity, temperature), np.array([0.0, 3600.0, 86400.0]))
    assert np.allclose(result.water[-1], result.water[0], rtol=1e-6)
    assert np.allclose(result.temperature, temperature, atol=1e-5)


@quiet
@given(seeds)
def test_one_layer_in_a_drier_room_only_loses_water_and_never_below_the_rooms_balance(rng):
    layer = a_layer(rng, "sheet")
    room = Boundary(steady_weather(20.0, 0.45), 8.0, 2e-8)
    stack = Stack((layer,), (), room, room)
    wet = water_from_total(layer, float(water_at_suction(layer, 100.0).sum()))
    piece = PieceState(wet, np.full(layer.intervals + 1, 20.0))
    total = run_stage(stack, [piece], np.linspace(0.0, 6 * 3600.0, 25)).water.sum(axis=1)
    rest = at_humidity(stack, 0.45)[0].water_kg_m2.sum()
    assert (np.diff(total) <= 1e-4 * total[0]).all()
    assert total[-1] >= rest - 1e-3 * total[0]
