"""The one place that knows whether the compiler (numba) is there.

The same source runs with or without it; without it Bibula is right but slow.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any, TypeVar, cast

F = TypeVar("F", bound=Callable[..., Any])

try:
    if os.environ.get("BIBULA_NO_COMPILER"):
        raise ImportError
    import numba
except ImportError:
    numba = None

HAVE_COMPILER: bool = numba is not None


def compiled(function: F) -> F:
    """Compile a numeric function where the compiler is there; cached on disk, GIL released."""
    if numba is None:
        return function
    return cast("F", numba.njit(cache=True, nogil=True, error_model="numpy", fastmath=False)(function))

