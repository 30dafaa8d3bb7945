# mypy: disable-error-code="no-untyped-call, no-untyped-def, untyped-decorator, call-arg, attr-defined"
# mypy: disable-error-code="unused-ignore, unreachable"
"""CVODE called directly with compiled callbacks: beside the official way, never instead of it.

The wheel that carries SUNDIALS calls back into Python for every right-hand side. Here the same
shared libraries are opened by ctypes and given a compiled function, so a run never returns to
Python: several times quicker, and threads run side by side. This rests on the wheel's file names
and on SUNDIALS' memory layout, so it is used only after `integrate.direct_is_sound` has seen it solve a
small problem rightly; `BIBULA_OFFICIAL_ONLY=1` switches it off.
"""

from __future__ import annotations

import ctypes as ct
import functools
import importlib.util
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bibula.physics import kernel
from bibula.physics.compiled import HAVE_COMPILER
from bibula.physics.kernel import StackArrays
from bibula.quantities.errors import BalanceError

Array = NDArray[np.float64]

BDF, NORMAL = 2, 1
VECTOR_DATA_OFFSET, BAND_DATA_OFFSET = 8, 24
"""Where the data pointer stands in a serial vector's and a band matrix's content, 32-bit indices, SUNDIALS 7."""
UPPER_STORED = 2 * kernel.BAND
LEADING = UPPER_STORED + kernel.BAND + 1
MAX_STEPS = 5_000
NEWTON_COEFFICIENT = 0.01
"""Tighter than CVODE's 0.1: loose Newton iterations leave noise in the stiff unknowns that fails error tests."""

if HAVE_COMPILER:
    import numba
    from numba import carray, cfunc, types
    from numba.extending import intrinsic

    @intrinsic  # type: ignore[untyped-decorator, unused-ignore]
    def as_pointer(typingctx: Any, address: Any) -> Any:  # noqa: ARG001
        """An address held in an integer, as a pointer."""
        signature = types.voidptr(address)

        def codegen(context: Any, builder: Any, sig: Any, args: Any) -> Any:
            return builder.inttoptr(args[0], context.get_value_type(sig.return_type))

        return signature, codegen

    @numba.njit(cache=True, nogil=True)
    def pointer_at(address, offset):  # type: ignore[no-untyped-def]
        """The pointer stored `offset` bytes behind an address, as an integer."""
        return carray(as_pointer(address + offset), (1,), np.int64)[0]

    @numba.njit(cache=True, nogil=True)
    def doubles(address, shape):  # type: ignore[no-untyped-def]
        """Doubles at an address as an array."""
        return carray(as_pointer(address), shape, np.float64)

    @numba.njit(cache=True, nogil=True)
    def unpack(book):  # type: ignore[no-untyped-def]
        """The arrays of a stack from a table of addresses and sizes (see `_book`)."""
        n, grid, materials = book[16], book[17], book[18]
        size = 2 * n + 4
        return StackArrays(
            carray(as_pointer(book[0]), (n, grid), np.float64),
            carray(as_pointer(book[1]), (n, grid), np.float64),
            carray(as_pointer(book[2]), (n,), np.int64),
            carray(as_pointer(book[3]), (n,), np.int64),
            carray(as_pointer(book[4]), (n,), np.float64),
            carray(as_pointer(book[5]), (materials, grid, 8), np.float64),
            carray(as_pointer(book[6]), (book[19], 7), np.float64),
            carray(as_pointer(book[7]), (2, 6), np.float64),
            carray(as_pointer(book[8]), (book[20], kernel.ENV_WIDTH), np.float64),
            carray(as_pointer(book[9]), (book[21], kernel.ENV_WIDTH), np.float64),
            carray(as_pointer(book[10]), (book[22], 3), np.float64),
            carray(as_pointer(book[11]), (5,), np.float64),
            carray(as_pointer(book[12]), (n, 7), np.float64),
            carray(as_pointer(book[13]), (3,), np.float64),
            carray(as_pointer(book[14]), (3, size), np.float64),
            carray(as_pointer(book[15]), (n, 7), np.float64),
        )

    _RHS = types.int32(types.float64, types.intp, types.intp, types.intp)
    _JAC = types.int32(
        types.float64, types.intp, types.intp, types.intp, types.intp, types.intp, types.intp, types.intp
    )

    @cfunc(_RHS, cache=True)  # type: ignore[untyped-decorator, unused-ignore]
    def _rhs_callback(t, y_vector, dy_vector, book_address):  # type: ignore[no-untyped-def]
        book = carray(as_pointer(book_address), (24,), np.int64)
        size = 2 * book[16] + 4
        y = doubles(pointer_at(pointer_at(y_vector, 0), VECTOR_DATA_OFFSET), (size,))
        dy = doubles(pointer_at(pointer_at(dy_vector, 0), VECTOR_DATA_OFFSET), (size,))
        kernel.right_hand_side(t, y, dy, unpack(book))
        return 0

    @cfunc(_JAC, cache=True)  # type: ignore[untyped-decorator, unused-ignore]
    def _jac_callback(t, y_vector, dy_vector, matrix, book_address, _a, _b, _c):  # type: ignore[no-untyped-def]
        book = carray(as_pointer(book_address), (24,), np.int64)
        size = 2 * book[16] + 4
        y = doubles(pointer_at(pointer_at(y_vector, 0), VECTOR_DATA_OFFSET), (size,))
        dy = doubles(pointer_at(pointer_at(dy_vector, 0), VECTOR_DATA_OFFSET), (size,))
        data = doubles(pointer_at(pointer_at(matrix, 0), BAND_DATA_OFFSET), (size, LEADING))
        full = doubles(book[23], (size, size))
        kernel.jacobian(t, y, dy, full, unpack(book))
        for j in range(size):
            for i in range(max(0, j - kernel.BAND), min(size, j + kernel.BAND + 1)):
                data[j, UPPER_STORED + i - j] = full[i, j]
        return 0


def _book(arrays: StackArrays, full: Array) -> NDArray[np.int64]:
    """Addresses of the 16 arrays in order, then their sizes, then the Jacobian's scratch."""
    book = np.zeros(24, dtype=np.int64)
    for i, array in enumerate(arrays):
        if not array.flags.c_contiguous:
            raise BalanceError("an array of the stack is not contiguous", "report this plan: it is a defect of Bibula")
        book[i] = array.ctypes.data
    book[16:19] = arrays.material.shape[0], arrays.water_table.shape[1], arrays.tables.shape[0]
    book[19:23] = (
        arrays.face.shape[0],
        arrays.below_weather.shape[0],
        arrays.above_weather.shape[0],
        arrays.saturation.shape[0],
    )
    book[23] = full.ctypes.data
    return book


class _Libraries:
    """The wheel's SUNDIALS libraries with the functions used here."""

    def __init__(self, folder: Path) -> None:
        def load(word: str) -> ct.CDLL:
            found = sorted(p for p in folder.iterdir() if word in p.name)
            if len(found) != 1:
                raise OSError(f"no single library for {word}")
            return ct.CDLL(str(found[0]))

        core = load("sundials_core")
        vector, matrix = load("sundials_nvecserial"), load("sundials_sunmatrixband")
        solver, cvode = load("sundials_sunlinsolband"), load("sundials_cvode-")
        p, i, d = ct.c_void_p, ct.c_int, ct.c_double

        def bind(library: ct.CDLL, name: str, result: Any, *arguments: Any) -> Any:
            function = getattr(library, name)
            function.restype, function.argtypes = result, arguments
            return function

        self.context = bind(core, "SUNContext_Create", i, i, p)
        self.free_context = bind(core, "SUNContext_Free", i, p)
        self.quiet = bind(core, "SUNContext_ClearErrHandlers", i, p)
        self.vector = bind(vector, "N_VMake_Serial", p, i, p, p)
        self.free_vector = bind(core, "N_VDestroy", None, p)
        self.matrix = bind(matrix, "SUNBandMatrix", p, i, i, i, p)
        self.free_matrix = bind(core, "SUNMatDestroy", None, p)
        self.solver = bind(solver, "SUNLinSol_Band", p, p, p, p)
        self.free_solver = bind(core, "SUNLinSolFree", i, p)
        self.create = bind(cvode, "CVodeCreate", p, i, p)
        self.init = bind(cvode, "CVodeInit", i, p, p, d, p)
        self.tolerances = bind(cvode, "CVodeSVtolerances", i, p, d, p)
        self.set_solver = bind(cvode, "CVodeSetLinearSolver", i, p, p, p)
        self.set_jacobian = bind(cvode, "CVodeSetJacFn", i, p, p)
        self.set_data = bind(cvode, "CVodeSetUserData", i, p, p)
        self.set_steps = bind(cvode, "CVodeSetMaxNumSteps", i, p, ct.c_long)
        self.set_order = bind(cvode, "CVodeSetMaxOrd", i, p, i)
        self.set_newton = bind(cvode, "CVodeSetNonlinConvCoef", i, p, d)
        self.set_fails = bind(cvode, "CVodeSetMaxConvFails", i, p, i)
        self.set_errors = bind(cvode, "CVodeSetMaxErrTestFails", i, p, i)
        self.set_stop = bind(cvode, "CVodeSetStopTime", i, p, d)
        self.run = bind(cvode, "CVode", i, p, d, p, p, i)
        self.free = bind(cvode, "CVodeFree", None, p)


@functools.cache
def _libraries() -> _Libraries:
    found = importlib.util.find_spec("sksundae")  # found, not imported: that takes half a second
    if found is None or not found.origin:
        raise OSError("the wheel is not installed")
    package = Path(found.origin).parent
    for folder in (package.parent / "scikit_sundae.libs", package / ".dylibs", package / "lib"):
        if folder.is_dir():
            return _Libraries(folder)
    raise OSError("the wheel's libraries are not where they were")


def solve(arrays: StackArrays, start: Array, times_s: Array, rtol: float, atol: Array, order: int = 5) -> Array:
    """As physics.integrate's official way, without Python in the loop. Raises BalanceError where CVODE stops."""
    lib = _libraries()
    size = start.shape[0]
    out = np.empty((len(times_s), size))
    out[0] = start
    y, tolerance = start.astype(np.float64).copy(), np.ascontiguousarray(atol, dtype=np.float64)
    full = np.zeros((size, size))
    book = _book(arrays, full)
    context = ct.c_void_p()
    if lib.context(0, ct.byref(context)):
        raise BalanceError("the integrator cannot be set up")
    lib.quiet(context)
    state = lib.vector(size, y.ctypes.data, context)
    weights = lib.vector(size, tolerance.ctypes.data, context)
    matrix = lib.matrix(size, kernel.BAND, kernel.BAND, context)
    solver = lib.solver(state, matrix, context)
    memory = lib.create(BDF, context)
    try:
        flags = [
            lib.init(memory, _rhs_callback.address, float(times_s[0]), state),
            lib.tolerances(memory, rtol, weights),
            lib.set_solver(memory, solver, matrix),
            lib.set_data(memory, book.ctypes.data),
            lib.set_jacobian(memory, _jac_callback.address),
            lib.set_steps(memory, MAX_STEPS),
            lib.set_order(memory, order),
            lib.set_newton(memory, NEWTON_COEFFICIENT),
            lib.set_fails(memory, 50),
            lib.set_errors(memory, 50),  # a film runs empty in a moment: the step must fall by many decades at once
            lib.set_stop(memory, float(times_s[-1])),
        ]
        if any(flags):
            raise BalanceError(f"the integrator cannot be set up (flags {flags})")
        reached = ct.c_double()
        for k in range(1, len(times_s)):
            flag = lib.run(memory, float(times_s[k]), state, ct.byref(reached), NORMAL)
            if flag < 0:
                raise BalanceError(f"the integrator stopped with flag {flag} at {reached.value:.4g} s")
            out[k] = y
    finally:
        lib.free(ct.byref(ct.c_void_p(memory)))
        lib.free_solver(solver)
        lib.free_matrix(matrix)
        lib.free_vector(weights)
        lib.free_vector(state)
        lib.free_context(ct.byref(context))
    return out
