"""The one place that knows whether the compiler (numba) is there.

The same source runs with or without it; without it Bibula is right but slow.
"""

from __future__ import annotations

import importlib
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

F = TypeVar("F", bound=Callable[..., Any])


def _compiler() -> Any:
    if os.environ.get("BIBULA_NO_COMPILER"):
        return None
    try:
        return importlib.import_module("numba")
    except ImportError:
        return None


def _drop_stale() -> None:
    """Throw away compiled code older than any source here: ours call across files, numba looks at one."""
    folder = Path(__file__).parent
    compiled_files = [*(folder / "__pycache__").glob("*.nbi"), *(folder / "__pycache__").glob("*.nbc")]
    try:
        newest = max(p.stat().st_mtime for p in folder.glob("*.py"))
        if any(p.stat().st_mtime < newest for p in compiled_files):
            for path in compiled_files:
                path.unlink()
    except OSError:  # another process did it, or the folder is not ours to write
        return


_NUMBA = _compiler()
if _NUMBA is not None:
    _drop_stale()
HAVE_COMPILER: bool = _NUMBA is not None


def compiled(function: F) -> F:
    """Compile a numeric function where the compiler is there; cached on disk, GIL released."""
    if _NUMBA is None:
        return function
    return cast("F", _NUMBA.njit(cache=True, nogil=True, error_model="numpy", fastmath=False)(function))
