"""Run one stage, check its balances, carry every piece's water and heat to the next stage."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from bibula.physics import kernel
from bibula.physics.integrate import Method, Tolerance, integrate
from bibula.physics.stack import ZERO_SUCTION, Stack, state_vector
from bibula.quantities.errors import BalanceError, ValidityError

Array = NDArray[np.float64]

BALANCE_LIMIT = 1e-8
"""Largest allowed water or energy residual, as a share of initial content plus absolute boundary flow."""


@dataclass(frozen=True)
class PieceState:
    """What one piece carries from stage to stage: its water and its temperature, never its suction.

    Both per node from the lower face up: kg/m2 and C. `turned()` gives the piece laid the other way up.
    """

    water_kg_m2: Array
    temperature_c: Array

    def turned(self) -> PieceState:
        """The same piece with its faces exchanged."""
        return PieceState(self.water_kg_m2[::-1].copy(), self.temperature_c[::-1].copy())


@dataclass(frozen=True)
class StageResult:
    """Fields of one stage at its output times, with its ledger.

    times_s: (m,) from the stage's start; states: (m, 2 nodes + 4), see physics.kernel.
    """

    stack: Stack
    times_s: Array
    states: Array

    @cached_property
    def fields(self) -> Array:
        """(m, nodes, 7): suction Pa, temperature C, vapour pressure Pa, potential, K, vapour, heat conductivity."""
        out = np.empty((len(self.times_s), self.stack.nodes, 7))
        kernel.all_states(np.ascontiguousarray(self.states), self.stack.arrays, out)
        return out

    @property
    def water(self) -> Array:
        """Water of every node, kg/m2, shape (m, nodes)."""
        return self.states[:, 2:-2:2]

    @property
    def suction(self) -> Array:
        """Suction of every node, Pa, shape (m, nodes)."""
        return self.fields[:, :, 0]

    @property
    def temperature(self) -> Array:
        """Temperature of every node, C, shape (m, nodes)."""
        return self.fields[:, :, 1]

    @property
    def relative_humidity(self) -> Array:
        """Equilibrium relative humidity of every node, share of 1, shape (m, nodes)."""
        kelvin = self.stack.arrays.constants[kernel.C_KELVIN] * (self.temperature + 273.15)
        return np.asarray(np.exp(-np.maximum(self.suction, 0.0) / kelvin))

    def layer_water(self, key: str) -> Array:
        """Water of one layer with its films, kg/m2, shape (m,)."""
        return np.asarray(self.water[:, self.stack.layer_slice(key)].sum(axis=1))

    @property
    def out_below(self) -> Array:
        """Water that has left through the lower boundary, kg/m2."""
        return self.states[:, 0]

    @property
    def out_above(self) -> Array:
        """Water that has left through the upper boundary, kg/m2."""
        return self.states[:, -2]

    def passed_down(self, key: str) -> Array:
        """Water that has left a layer by its lower face since the stage's start, kg/m2, shape (m,)."""
        where = self.stack.layer_slice(key)
        below = self.water[:, : where.start].sum(axis=1)
        return np.asarray(below - below[0] + self.out_below - self.out_below[0])

    def passed_up(self, key: str) -> Array:
        """Water that has left a layer by its upper face since the stage's start, kg/m2, shape (m,)."""
        where = self.stack.layer_slice(key)
        above = self.water[:, where.stop :].sum(axis=1)
        return np.asarray(above - above[0] + self.out_above - self.out_above[0])

    def piece(self, key: str, row: int = -1) -> PieceState:
        """What a layer carries at one output time."""
        where = self.stack.layer_slice(key)
        return PieceState(self.water[row, where].copy(), self.temperature[row, where].copy())

    @cached_property
    def balances(self) -> tuple[float, float]:
        """Relative residuals of water and energy: |in - out - stored| / (initial content + absolute flow)."""
        y = self.states
        content = y[:, 2:-2:2].sum(axis=1)
        energy = y[:, 3:-2:2].sum(axis=1)
        flow_w = np.abs(np.diff(y[:, 0])).sum() + np.abs(np.diff(y[:, -2])).sum()
        flow_h = np.abs(np.diff(y[:, 1])).sum() + np.abs(np.diff(y[:, -1])).sum()
        lost_w = content + y[:, 0] + y[:, -2]
        lost_h = energy + y[:, 1] + y[:, -1]
        heat_scale = (self.stack.arrays.heat_capacity.sum() + kernel.WATER_HEAT_J_KGK * content[0]) * 20.0
        water = float(np.abs(lost_w - lost_w[0]).max() / (abs(content[0]) + flow_w))
        heat = float(np.abs(lost_h - lost_h[0]).max() / (heat_scale + flow_h))
        return water, heat


def output_times(duration_s: float, points: int = 80, first_s: float = 1.0) -> Array:
    """Times from 0 to the end, close together at first: 0, then evenly in the 0.4th power of time.

    Args:
        duration_s: length of the stage, > 0.
        points: how many.
        first_s: the earliest time of interest.
    """
    if duration_s <= 0:
        raise ValidityError("a stage must last longer than nothing", "give it a duration")
    first = min(first_s, 0.01 * duration_s)
    return np.concatenate(([0.0], np.linspace(first**0.4, duration_s**0.4, points - 1) ** 2.5))


def run_stage(
    stack: Stack,
    pieces: Mapping[str, PieceState] | Sequence[PieceState],
    times_s: Array,
    tolerance: Tolerance | None = None,
    method: Method | None = None,
) -> StageResult:
    """Integrate one stage from the pieces' states.

    Args:
        stack: layers, contacts, boundaries.
        pieces: state of every layer, by key or in order.
        times_s: output times from 0; the last one is the stage's end.
        tolerance: of the integrator; its defaults where None.
        method: which integrator; the quickest that is usable where None.

    Raises:
        ValidityError: frost, a room outside 5 to 100 % RH, or a piece whose water is impossible.
        BalanceError: the run did not close its balances.
    """
    _check_weather(stack)
    ordered = list(pieces.values()) if isinstance(pieces, Mapping) else list(pieces)
    if isinstance(pieces, Mapping):
        ordered = [pieces[layer.key] for layer in stack.layers]
    _check_pieces(stack, ordered)
    start = state_vector(stack, [p.water_kg_m2 for p in ordered], [p.temperature_c for p in ordered])
    times = np.asarray(times_s, dtype=float)
    asked = tolerance or Tolerance()
    result = StageResult(stack, times, integrate(stack.arrays, start, times, asked, method))
    if max(result.balances) > BALANCE_LIMIT:  # a nearly empty stack, where round-off counts: once more, finer
        finer = Tolerance(0.01 * asked.relative, 0.01 * asked.water_kg_m2, 0.1 * asked.temperature_k)
        result = StageResult(stack, times, integrate(stack.arrays, start, times, finer, method))
    water, heat = result.balances
    if not (water <= BALANCE_LIMIT and heat <= BALANCE_LIMIT):
        raise BalanceError(
            f"the run does not close: water {water:.1e}, energy {heat:.1e} of what flowed (limit {BALANCE_LIMIT:.0e})",
            "report this plan: it is a defect of Bibula",
        )
    coldest = float(result.temperature.min())
    if coldest < 0.0:
        raise ValidityError(
            f"the stack would cool to {coldest:.1f} °C; the model holds only above 0 °C", "choose a warmer room"
        )
    return result


def _check_pieces(stack: Stack, pieces: Sequence[PieceState]) -> None:
    """Refuse water that is negative, missing or beyond the tables; round-off of an earlier stage passes."""
    for layer, where, piece in zip(stack.layers, stack.slices, pieces, strict=True):
        most = float(stack.arrays.water_table[where, 0].sum())
        total = float(piece.water_kg_m2.sum())
        round_off = 1e-6 * float(stack.arrays.water_table[where, ZERO_SUCTION].sum())
        driest = np.minimum(stack.arrays.water_table[where, -1], 0.0)  # a trace below nought in a tight layer
        if not ((piece.water_kg_m2 >= driest - round_off).all() and total <= most):
            raise ValidityError(
                f"layer '{layer.key}' cannot hold {1000 * total:.4g} g/m2 of water at the start of a stage",
                "check its capacity, thickness and starting water",
            )
        if not np.isfinite(piece.temperature_c).all():
            raise ValidityError(f"layer '{layer.key}' has no temperature at the start of a stage", "give one")


def _check_weather(stack: Stack) -> None:
    from bibula.formulas.moist_air import saturation_pressure_pa

    for name, boundary in (("below", stack.below), ("above", stack.above)):
        if boundary.vapour_s_m <= 0.0:
            continue
        temperature, pressure = boundary.weather[:, 1], boundary.weather[:, 2]
        if not (temperature.min() >= 0.0 and temperature.max() <= 60.0):
            raise ValidityError(f"the air {name} the stack is outside 0 to 60 °C", "give a room within it")
        rh = pressure / saturation_pressure_pa(temperature)
        if not (rh.min() >= 0.0499 and rh.max() <= 1.0001):
            raise ValidityError(
                f"the air {name} the stack is at {100 * rh.min():.3g} to {100 * rh.max():.3g} % RH",
                "the model holds from 5 to 100 %",
            )
