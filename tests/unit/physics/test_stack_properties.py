"""Laws that must hold for any stack: balances, symmetry, equilibrium, bounds."""

import numpy as np
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from bibula.checks.solver_cases import at_humidity, prior_material
from bibula.formulas.moist_air import suction_pa
from bibula.physics.integrate import Tolerance
from bibula.physics.materials import pore_material
from bibula.physics.run import PieceState, run_stage
from bibula.physics.stack import Boundary, Contact, Layer, Stack, steady_weather, water_at_suction, water_from_total
from bibula.quantities.errors import ValidityError

KINDS = ("slab", "blotter", "felt", "interleaf", "paper", "board", "absorbent")
THICKNESS_M = {"slab": 9e-3, "blotter": 8e-4, "felt": 5e-3, "interleaf": 1.2e-4, "paper": 1.5e-4, "board": 1.5e-3}
SCALED = ("absorption_kg_m2s05", "median_suction_pa", "suction_spread", "vapour_resistance", "conductivity_w_mk")
CLOSED = 1e-8
quiet = settings(max_examples=15, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
factor = st.floats(-1.0, 1.0).map(np.exp)
decade = st.floats(0.0, 1.0)


@st.composite
def materials(draw):
    kind = draw(st.sampled_from(KINDS))
    base = prior_material(kind)
    changed = {name: getattr(base, name) * draw(factor) for name in SCALED}
    changed["suction_spread"] = min(max(changed["suction_spread"], 0.4), 2.0)
    try:
        return kind, pore_material(prior_material(kind, **changed), branch=draw(st.sampled_from((0.0, 0.5, 1.0))))
    except ValidityError:
        assume(False)


@st.composite
def layers(draw, key):
    kind, tables = draw(materials())
    film = draw(st.booleans())
    thickness = THICKNESS_M.get(kind, 2e-3) * draw(factor)
    return Layer(key, tables, thickness, draw(st.integers(4, 10)), 0.9, film, film)


@st.composite
def contacts(draw):
    liquid = draw(st.sampled_from((0.0, 1.0))) * 10.0 ** (-9.0 + 4.0 * draw(decade))
    return Contact(liquid, 10.0 ** (3.0 + 2.0 * draw(decade)), 10.0 ** (-9.0 + 2.0 * draw(decade)), 10.0 + 200.0 * draw(decade))


@st.composite
def rooms(draw):
    t, rh = 16.0 + 12.0 * draw(decade), 0.3 + 0.65 * draw(decade)
    start, end = steady_weather(t, rh), steady_weather(16.0 + 12.0 * draw(decade), rh)
    end[0, 0] = 3600.0
    h_c = 2.0 + 15.0 * draw(decade)
    weather = np.vstack([start, end]) if draw(st.booleans()) else start
    return Boundary(weather, h_c + 5.0, 6.8e-9 * h_c)


@st.composite
def boundaries(draw):
    kind = draw(st.sampled_from(("room", "room", "sealed", "plate", "water")))
    if kind == "room":
        return draw(rooms())
    if kind == "water":
        return Boundary(steady_weather(20.0, 0.5), 20.0, 0.0, 10.0 ** (-8 + 3 * draw(decade)), 50.0 * draw(decade), 18.0)
    return Boundary(steady_weather(20.0, 0.5), 0.0 if kind == "sealed" else 50.0, 0.0)


@st.composite
def piece_of(draw, layer):
    low = float(water_at_suction(layer, float(suction_pa(0.35, 20.0))).sum())
    full = float(water_at_suction(layer, 20.0).sum())
    water = water_from_total(layer, low + draw(decade) * (full - low))
    return PieceState(water, np.full(layer.intervals + 1, 15.0 + 10.0 * draw(decade)))


@st.composite
def treatments(draw):
    """Pieces by key, and stages: each a Stack and the keys turned over before it."""
    keys = [f"k{i}" for i in range(draw(st.integers(1, 5)))]
    pool = {key: draw(layers(key)) for key in keys}
    state = {key: draw(piece_of(pool[key])) for key in keys}
    stages = []
    for _ in range(draw(st.integers(1, 3))):
        order = draw(st.permutations(keys))[: draw(st.integers(1, len(keys)))]
        joints = tuple(draw(contacts()) for _ in order[1:])
        stack = Stack(tuple(pool[key] for key in order), joints, draw(boundaries()), draw(boundaries()))
        stages.append((stack, tuple(key for key in order if draw(st.booleans()))))
    return state, stages


def run_all(state, stages, tolerance=None):
    results = []
    for stack, turned in stages:
        for key in turned:
            state[key] = state[key].turned()
        results.append(run_stage(stack, state, np.array([0.0, 30.0, 600.0, 3600.0, 4 * 3600.0]), tolerance))
        state |= {layer.key: results[-1].piece(layer.key) for layer in stack.layers}
    return results


@quiet
@given(treatments())
def test_every_stage_closes_its_balances_and_stays_sane(treatment):
    for result in run_all(*treatment):
        assert max(result.balances) <= CLOSED
        assert np.isfinite(result.fields).all()
        assert result.water.min() >= 0.0
        assert result.suction.min() > -2000.0
        assert 0.0 < result.temperature.min()
        assert result.temperature.max() < 40.0


@quiet
@given(treatments())
def test_pieces_carry_their_water_from_stage_to_stage(treatment):
    state, stages = treatment
    before = sum(piece.water_kg_m2.sum() for piece in state.values())
    results = run_all(state, stages)
    left = sum(float(r.out_below[-1] + r.out_above[-1]) for r in results)
    moved = before + sum(float(np.abs(r.states[-1, [0, -2]]).sum()) for r in results)
    after = sum(piece.water_kg_m2.sum() for piece in state.values())
    assert abs(before - left - after) <= CLOSED * moved


@st.composite
def upright_stacks(draw):
    n = draw(st.integers(1, 3))
    pool = tuple(draw(layers(f"k{i}")) for i in range(n))
    joints = tuple(draw(contacts()) for _ in pool[1:])
    return Stack(pool, joints, draw(rooms()), draw(rooms()), gravity=0.0), [draw(piece_of(layer)) for layer in pool]


def mirrored(stack):
    return Stack(stack.layers[::-1], stack.contacts[::-1], stack.above, stack.below, stack.gravity)


@quiet
@given(upright_stacks())
def test_a_mirrored_stack_without_gravity_gives_mirrored_fields(case):
    stack, pieces = case
    times = np.array([0.0, 600.0, 3600.0])
    tight = Tolerance(1e-8, 1e-11, 1e-6)
    one = run_stage(stack, pieces, times, tight)
    other = run_stage(mirrored(stack), [p.turned() for p in pieces[::-1]], times, tight)
    assert np.allclose(one.water, other.water[:, ::-1], rtol=1e-4, atol=1e-6 * one.water.max())
    assert np.allclose(one.temperature, other.temperature[:, ::-1], atol=2e-3)


@quiet
@given(upright_stacks(), st.floats(0.15, 0.97), st.floats(15.0, 30.0))
def test_a_stack_in_balance_with_its_rooms_stays_so(case, humidity, temperature):
    stack = case[0]
    room = Boundary(steady_weather(temperature, humidity), 8.0, 3e-8)
    stack = Stack(stack.layers, stack.contacts, room, room, gravity=0.0)
    result = run_stage(stack, at_humidity(stack, humidity, temperature), np.array([0.0, 3600.0, 86400.0]))
    assert np.allclose(result.water[-1], result.water[0], rtol=1e-6)
    assert np.allclose(result.temperature, temperature, atol=1e-5)


@quiet
@given(st.data())
def test_one_layer_in_a_drier_room_only_loses_water_and_never_below_the_rooms_balance(data):
    layer = data.draw(layers("sheet"))
    room = Boundary(steady_weather(20.0, 0.45), 8.0, 2e-8)
    stack = Stack((layer,), (), room, room)
    times = np.linspace(0.0, 6 * 3600.0, 25)
    piece = PieceState(water_from_total(layer, float(water_at_suction(layer, 100.0).sum())), np.full(layer.intervals + 1, 20.0))
    total = run_stage(stack, [piece], times).water.sum(axis=1)
    rest = at_humidity(stack, 0.45)[0].water_kg_m2.sum()
    assert (np.diff(total) <= 1e-4 * total[0]).all()
    assert total[-1] >= rest - 1e-3 * total[0]
