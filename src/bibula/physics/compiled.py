"""The one place that knows whether the compiler (numba) is there.

The same source runs with or without it; without it Bibula is right but slow.
"""

from __future__ import annotations

import importlib
import os
from collections.abc import Callable
from typing import Any, TypeVar, cast

F = TypeVar("F", bound=Callable[..., Any])


def _compiler() -> Any:
    if os.environ.get("BIBULA_NO_COMPILER"):
        return None
    try:
        return importlib.import_module("numba")
    except ImportError:
        return None


_NUMBA = _compiler()
HAVE_COMPILER: bool = _NUMBA is not None


def compiled(function: F) -> F:
    """Compile a numeric function where the compiler is there; cached on disk, GIL released."""
    if _NUMBA is None:
        return function
    return cast("F", _NUMBA.njit(cache=True, nogil=True, error_model="numpy", fastmath=False)(function))
