"""The front door: about a dozen names, each really there, none imported before it is used."""

from __future__ import annotations

import subprocess
import sys

import bibula


def test_every_public_name_is_there_and_documented() -> None:
    assert sorted(bibula.__all__) == sorted(bibula._PLACES)
    assert 10 <= len(bibula.__all__) <= 16
    for name in bibula.__all__:
        assert getattr(bibula, name).__doc__, name


def test_import_bibula_imports_nothing_heavy() -> None:
    code = "import sys, bibula; print(sorted(m for m in ('numpy', 'scipy', 'numba', 'pydantic') if m in sys.modules))"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]"
