"""A small invented plan and what was seen while it ran."""

from __future__ import annotations

from pathlib import Path

import pytest

PLAN = """\
title = "Two stages"
invented = true

[object]
name = "Invented sheet"
size = "300 x 200 mm"
grammage_g_m2 = 100
thickness_mm = 0.17
fibre = "rag"
start = "blotted"
air_dry_mass_g = 6.0
air_dry_rh_percent = 50

[room]
temperature_c = 20
relative_humidity_percent = 50

[[stage]]
name = "first blotters"
duration = "20 min"
stack = [
    { card = "blotter (starting card)", id = "b1" },
    { object = true },
    { card = "blotter (starting card)", id = "b2" },
]

[[stage]]
name = "fresh blotters"
duration = "16 h"
stack = [
    { card = "blotter (starting card)", id = "b3" },
    { object = true },
    { card = "blotter (starting card)", id = "b4" },
]
above = "board"
"""

SEEN = """\
invented = true

[[observation]]
at = "10 min"
what = "object weight"
grams = 7.4
u_grams = 0.1
"""


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    """A plan file in a folder of its own."""
    file = tmp_path / "plan.toml"
    file.write_text(PLAN, encoding="utf-8")
    return file


@pytest.fixture
def seen(tmp_path: Path) -> Path:
    """A file of observations for it."""
    file = tmp_path / "seen.toml"
    file.write_text(SEEN, encoding="utf-8")
    return file
