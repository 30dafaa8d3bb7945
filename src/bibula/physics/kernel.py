# mypy: disable-error-code="no-any-return"
"""The compiled right-hand side of the coupled heat and moisture balance, and its banded Jacobian.

Unknowns, in order, for a stack of n nodes from the table up:
    [water out below, enthalpy out below, w_0, h_0, ..., w_{n-1}, h_{n-1}, water out above, enthalpy out above]
with w in kg/m2 and h in J/m2 of the node's control volume. The four outer unknowns count what has
crossed the boundaries (positive outward), so every run carries its own ledger.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bibula.physics.compiled import compiled

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

BAND = 3
"""Lower and upper bandwidth of the Jacobian."""

WATER_HEAT_J_KGK = 4186.0
LATENT_AT_0C_J_KG, LATENT_SLOPE_J_KGK = 2.501e6, 2361.0
ENV_WIDTH = 4
"""Columns of a boundary's weather: time s, temperature C, vapour pressure Pa, heat coefficient scale."""

# columns of a boundary's numbers
B_HEAT, B_VAPOUR, B_LIQUID, B_SUCTION, B_BRIDGE, B_TEMP = 0, 1, 2, 3, 4, 5
# places of the constants, and rows of the scratch space
C_U_FIRST, C_U_STEP, C_S_SCALE, C_KELVIN, C_T_ZERO = 0, 1, 2, 3, 4
W_TRIAL, W_CHANGE, W_INCREMENT = 0, 1, 2
U_FLOOR, U_CEILING = -15.0, 25.0
"""Limits of u = asinh(s / scale) outside the tables: states stay finite whatever the integrator tries."""

# columns of a face's numbers
F_INVERSE_DZ, F_LIQUID, F_BRIDGE, F_VAPOUR, F_HEAT, F_GRAVITY, F_CONTACT = 0, 1, 2, 3, 4, 5, 6


class StackArrays(NamedTuple):
    """Everything the compiled kernel reads, and its scratch space."""

    water_table: Array
    u_slope: Array
    hint: Indices
    material: Indices
    heat_capacity: Array
    tables: Array  # (materials, grid, 8): potential, K, vapour, heat, each with its slope per u
    face: Array
    boundary: Array  # (2, 6): below, above
    below_weather: Array
    above_weather: Array
    saturation: Array
    constants: Array
    state: Array
    air: Array
    work: Array
    base: Array  # (nodes, 7): node states the Jacobian starts from


@compiled
def locate(table: Array, row: int, hint: int, value: float) -> int:
    """Interval of the falling table[row] that holds `value`, starting the search at `hint`."""
    last = table.shape[1] - 2
    k = min(max(hint, 0), last)
    if table[row, k] >= value:
        if k == last or value >= table[row, k + 1]:
            return k
        low, high, step = k + 1, k + 1, 1
        while high < last and table[row, high + 1] > value:
            low = high + 1
            high = min(last, high + step)
            step *= 2
    else:
        if k == 0:
            return 0
        low, high, step = k - 1, k - 1, 1
        while low > 0 and table[row, low] < value:
            high = low - 1
            low = max(0, low - step)
            step *= 2
    while low < high:
        middle = (low + high + 1) // 2
        if table[row, middle] >= value:
            low = middle
        else:
            high = middle - 1
    return low


@compiled
def weather(series: Array, t: float, out: Array) -> None:
    """Temperature, vapour pressure and coefficient scale of one boundary at time t, linear between its times."""
    n = series.shape[0]
    low, high, f = 0, 0, 0.0
    if t >= series[n - 1, 0]:
        low = high = n - 1
    elif t > series[0, 0]:
        high = n - 1
        while high - low > 1:
            middle = (low + high) // 2
            if series[middle, 0] <= t:
                low = middle
            else:
                high = middle
        f = (t - series[low, 0]) / (series[high, 0] - series[low, 0])
    for j in range(1, ENV_WIDTH):
        out[j - 1] = series[low, j] + f * (series[high, j] - series[low, j])


@compiled
def log_saturation(table: Array, temperature_c: float) -> float:
    """ln of the saturation pressure by cubic Hermite on a 1 K table; linear outside it."""
    last = table.shape[0] - 2
    x = temperature_c - table[0, 0]
    if x < 0.0:
        return table[0, 1] + x * table[0, 2]
    if x > last + 1:
        return table[last + 1, 1] + (x - last - 1) * table[last + 1, 2]
    k = min(int(x), last)
    f = x - k
    g = 1.0 - f
    low = (1.0 + 2.0 * f) * g * g * table[k, 1] + f * g * g * table[k, 2]
    return low + f * f * (3.0 - 2.0 * f) * table[k + 1, 1] - f * f * g * table[k + 1, 2]


@compiled
def inverse_lookup(
    water_table: Array, u_slope: Array, i: int, k: int, water: float, u_low: float, u_step: float
) -> float:
    """u of node i from its water in interval k: monotone cubic inside the table, straight outside it."""
    first, span = water_table[i, k], water_table[i, k + 1] - water_table[i, k]
    f = (water - first) / span
    if f < 0.0:
        return max(u_low + (water - first) * u_slope[i, k], U_FLOOR)
    if f > 1.0:
        return min(u_low + u_step + (water - first - span) * u_slope[i, k + 1], U_CEILING)
    g = 1.0 - f
    low = (1.0 + 2.0 * f) * g * g * u_low + f * g * g * span * u_slope[i, k]
    return low + f * f * (3.0 - 2.0 * f) * (u_low + u_step) - f * f * g * span * u_slope[i, k + 1]


@compiled
def node_states(
    y: Array,
    water_table: Array,
    u_slope: Array,
    hint: Indices,
    material: Indices,
    heat_capacity: Array,
    tables: Array,
    saturation: Array,
    constants: Array,
    state: Array,
    first: int,
    stride: int,
) -> None:
    """Fill state[i] = suction, temperature, vapour pressure, potential, K, vapour, heat of every `stride`-th node.

    Plain arrays, no row views: reference counting of views costs more than the arithmetic.
    """
    u_first, u_step, s_scale = constants[C_U_FIRST], constants[C_U_STEP], constants[C_S_SCALE]
    kelvin, t_zero = constants[C_KELVIN], constants[C_T_ZERO]
    for i in range(first, material.shape[0], stride):
        water = y[2 + 2 * i]
        k = locate(water_table, i, hint[i], water)
        hint[i] = k
        u_low = u_first + k * u_step
        u = inverse_lookup(water_table, u_slope, i, k, water, u_low, u_step)
        f = min(max((u - u_low) / u_step, 0.0), 1.0)
        grow = math.exp(u)
        suction = 0.5 * s_scale * (grow - 1.0 / grow)
        temperature = t_zero + y[3 + 2 * i] / (heat_capacity[i] + WATER_HEAT_J_KGK * max(water, 0.0))
        state[i, 0] = suction
        state[i, 1] = temperature
        absolute = max(temperature + 273.15, 1.0)
        state[i, 2] = math.exp(log_saturation(saturation, temperature) - suction / (kelvin * absolute))
        m, g = material[i], 1.0 - f
        low, high = (1.0 + 2.0 * f) * g * g, f * f * (3.0 - 2.0 * f)
        low_slope, high_slope = f * g * g * u_step, -f * f * g * u_step
        for j in range(4):
            state[i, 3 + j] = (
                low * tables[m, k, 2 * j]
                + low_slope * tables[m, k, 2 * j + 1]
                + high * tables[m, k + 1, 2 * j]
                + high_slope * tables[m, k + 1, 2 * j + 1]
            )


@compiled
def inner_flows(dy: Array, state: Array, face: Array, t_zero: float) -> None:
    """Subtract and add the water (kg/(m2 s)) and enthalpy (W/m2) that flow upward between neighbouring nodes."""
    for i in range(state.shape[0] - 1):
        t_low, t_high = state[i, 1], state[i + 1, 1]
        if face[i, F_CONTACT] > 0.0:
            bridge = face[i, F_BRIDGE]
            liquid = 0.0
            if face[i, F_LIQUID] > 0.0:
                liquid = (
                    face[i, F_LIQUID] * bridge * (math.atan(state[i + 1, 0] / bridge) - math.atan(state[i, 0] / bridge))
                )
            vapour = face[i, F_VAPOUR] * (state[i, 2] - state[i + 1, 2])
            enthalpy = face[i, F_HEAT] * (t_low - t_high)
        else:
            inverse = face[i, F_INVERSE_DZ]
            liquid = (state[i, 3] - state[i + 1, 3]) * inverse
            liquid -= face[i, F_GRAVITY] * 0.5 * (state[i, 4] + state[i + 1, 4])
            vapour = 0.5 * (state[i, 5] + state[i + 1, 5]) * (state[i, 2] - state[i + 1, 2]) * inverse
            enthalpy = 0.5 * (state[i, 6] + state[i + 1, 6]) * (t_low - t_high) * inverse
        t_from = t_low if vapour > 0.0 else t_high
        enthalpy += liquid * WATER_HEAT_J_KGK * (0.5 * (t_low + t_high) - t_zero)
        enthalpy += vapour * (LATENT_AT_0C_J_KG - LATENT_SLOPE_J_KGK * t_from + WATER_HEAT_J_KGK * (t_from - t_zero))
        water = liquid + vapour
        dy[2 + 2 * i] -= water
        dy[3 + 2 * i] -= enthalpy
        dy[4 + 2 * i] += water
        dy[5 + 2 * i] += enthalpy


@compiled
def outer_flow(
    dy: Array, ledger: int, node: int, boundary: Array, side: int, air: Array, state: Array, i: int, t_zero: float
) -> None:
    """Take what leaves outward through a boundary from node i (unknowns at `node`) into the ledger's unknowns."""
    suction, temperature, pressure = state[i, 0], state[i, 1], state[i, 2]
    vapour = boundary[side, B_VAPOUR] * air[2] * (pressure - air[1])
    t_from = temperature if vapour > 0.0 else air[0]
    liquid = 0.0
    enthalpy = boundary[side, B_HEAT] * air[2] * (temperature - air[0])
    if boundary[side, B_LIQUID] > 0.0:
        bridge = boundary[side, B_BRIDGE]
        liquid = (
            boundary[side, B_LIQUID]
            * bridge
            * (math.atan(boundary[side, B_SUCTION] / bridge) - math.atan(suction / bridge))
        )
        t_liquid = temperature if liquid > 0.0 else boundary[side, B_TEMP]
        enthalpy += liquid * WATER_HEAT_J_KGK * (t_liquid - t_zero)
    enthalpy += vapour * (LATENT_AT_0C_J_KG - LATENT_SLOPE_J_KGK * t_from + WATER_HEAT_J_KGK * (t_from - t_zero))
    dy[ledger], dy[ledger + 1] = liquid + vapour, enthalpy
    dy[node] -= liquid + vapour
    dy[node + 1] -= enthalpy


@compiled
def right_hand_side(t: float, y: Array, dy: Array, p: StackArrays) -> None:
    """dy/dt of the whole stack; `p` is a StackArrays tuple (see stack.py). Gains and losses cancel exactly."""
    node_states(
        y, p.water_table, p.u_slope, p.hint, p.material, p.heat_capacity, p.tables, p.saturation, p.constants,
        p.state, 0, 1,
    )  # fmt: skip
    flows(t, dy, p)


@compiled
def flows(t: float, dy: Array, p: StackArrays) -> None:
    """dy/dt from the node states in p.state."""
    n = p.material.shape[0]
    t_zero = p.constants[C_T_ZERO]
    for j in range(2 * n + 4):
        dy[j] = 0.0
    inner_flows(dy, p.state, p.face, t_zero)
    weather(p.below_weather, t, p.air)
    outer_flow(dy, 0, 2, p.boundary, 0, p.air, p.state, 0, t_zero)
    weather(p.above_weather, t, p.air)
    outer_flow(dy, 2 * n + 2, 2 * n, p.boundary, 1, p.air, p.state, n - 1, t_zero)


@compiled
def jacobian(t: float, y: Array, dy: Array, full: Array, p: StackArrays) -> None:
    """Banded Jacobian by differences, written into the dense template `full` (only the band).

    A node's unknowns move only its own flows and its neighbours': every third node is moved at once,
    first its water, then its heat, and only those nodes' states are looked up again.
    """
    size, n = y.shape[0], p.material.shape[0]
    trial, change = p.work[W_TRIAL], p.work[W_CHANGE]
    for j in range(size):
        trial[j] = y[j]
        for i in range(max(0, j - BAND), min(size, j + BAND + 1)):
            full[i, j] = 0.0
    node_states(
        y, p.water_table, p.u_slope, p.hint, p.material, p.heat_capacity, p.tables, p.saturation, p.constants,
        p.state, 0, 1,
    )  # fmt: skip
    for i in range(n):
        for k in range(7):
            p.base[i, k] = p.state[i, k]
    for color in range(3):
        for part in range(2):
            for node in range(color, n, 3):
                j = 2 + 2 * node + part
                trial[j] = y[j] + p.work[W_INCREMENT, j]
            node_states(
                trial, p.water_table, p.u_slope, p.hint, p.material, p.heat_capacity, p.tables, p.saturation,
                p.constants, p.state, color, 3,
            )  # fmt: skip
            flows(t, change, p)
            for node in range(color, n, 3):
                j = 2 + 2 * node + part
                inverse = 1.0 / (trial[j] - y[j])
                for i in range(2 * node, 2 * node + 6):  # its neighbours' rows, or the ledger's at the ends
                    full[i, j] = (change[i] - dy[i]) * inverse
                trial[j] = y[j]
                for k in range(7):
                    p.state[node, k] = p.base[node, k]
    for j in range(2, size - 2):
        # what one node loses another gains: make the columns sum to zero exactly, so that Newton keeps the balance
        for own in (j - j % 2, j - j % 2 + 1):
            total = 0.0
            for i in range(max(own % 2, own - 2), min(size, own + 3), 2):
                if i != own and abs(i - j) <= BAND:
                    total += full[i, j]
            full[own, j] = -total


@compiled
def all_states(ys: Array, p: StackArrays, out: Array) -> None:
    """Node states at every output row of `ys`: out[row, node] = the seven columns of node_states."""
    for row in range(ys.shape[0]):
        node_states(
            ys[row], p.water_table, p.u_slope, p.hint, p.material, p.heat_capacity, p.tables, p.saturation,
            p.constants, out[row], 0, 1,
        )  # fmt: skip


def saturation_table(low_c: int, high_c: int) -> Array:
    """Rows of temperature, ln p_sat and its slope per K, for log_saturation."""
    from bibula.formulas.moist_air import saturation_pressure_pa

    t = np.arange(low_c, high_c + 1, dtype=float)
    step = 1e-3
    inner = np.clip(t, low_c + step, high_c - step)
    value = np.log(saturation_pressure_pa(t))
    slope = (np.log(saturation_pressure_pa(inner + step)) - np.log(saturation_pressure_pa(inner - step))) / (2 * step)
    return np.column_stack([t, value, slope])
