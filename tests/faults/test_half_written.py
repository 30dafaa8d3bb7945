"""A full disk or a killed process leaves nothing half-written and says what happened (needs POSIX limits)."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from importlib import resources
from pathlib import Path

import pytest

resource = pytest.importorskip("resource", reason="no resource limits on this system")

MATERIAL = Path(str(resources.files("bibula.demo"))) / "studio" / "materials" / "slab-lot-2" / "material.toml"
PLAN = """
title = "fault"
invented = true
[object]
name = "Sheet"
size = "200 x 200 mm"
grammage_g_m2 = 120.0
thickness_mm = 0.2
fibre = "rag"
start = "blotted"
[room]
temperature_c = 20.0
relative_humidity_percent = 50.0
[[stage]]
name = "slab"
duration = "6 h"
weight_kg = 1.0
stack = [{card = "slab (starting card)"}, {card = "interleaf (starting card)"}, {object = true}]
"""


def limited(size: int) -> None:
    """No file of this process may grow beyond `size` bytes: what a full disk does, without one."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))


def bibula(*words: str, size: int | None = None, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "bibula", *words],
        capture_output=True,
        text=True,
        cwd=cwd,
        check=False,
        preexec_fn=(lambda: limited(size)) if size is not None else None,
    )


def test_a_card_that_does_not_fit_on_the_disk_leaves_the_old_one(tmp_path: Path) -> None:
    card = tmp_path / "card.toml"
    assert bibula("fit", str(MATERIAL), "--out", str(card)).returncode == 0
    before = card.read_bytes()
    again = bibula("fit", str(MATERIAL), "--out", str(card), size=512)
    assert again.returncode == 2
    assert "Traceback" not in again.stderr
    assert str(card) in again.stderr or "card.toml" in again.stderr
    assert card.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["card.toml"]


def test_sheets_that_do_not_fit_on_the_disk_leave_nothing(tmp_path: Path) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text(PLAN, encoding="utf-8")
    done = bibula("sheet", str(plan), "--out", str(tmp_path / "sheets"), "--members", "20", size=4096)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    left = list((tmp_path / "sheets").glob("*")) if (tmp_path / "sheets").exists() else []
    assert left == []


@pytest.mark.parametrize("after_s", [0.5, 2.0, 3.5])
def test_a_killed_forecast_leaves_whole_files_or_none(tmp_path: Path, after_s: float) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text(PLAN, encoding="utf-8")
    out = tmp_path / "sheets"
    words = ["forecast", str(plan), "--out", str(out), "--members", "40", "--json", str(tmp_path / "f.json")]
    with subprocess.Popen([sys.executable, "-m", "bibula", *words], stdout=subprocess.DEVNULL) as process:
        time.sleep(after_s)
        process.kill()
    for path in out.glob("bench-sheet-*") if out.exists() else []:
        data = path.read_bytes()
        whole = data.rstrip().endswith(b"%%EOF") if path.suffix == ".pdf" else data.rstrip().endswith(b"</html>")
        assert whole, path
    written = tmp_path / "f.json"
    assert not written.exists() or written.read_bytes().rstrip().endswith(b"}")


def test_ctrl_c_ends_with_130_and_no_traceback(tmp_path: Path) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text(PLAN, encoding="utf-8")
    words = ["forecast", str(plan), "--members", "4000"]
    with subprocess.Popen(
        [sys.executable, "-m", "bibula", *words], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
    ) as process:
        time.sleep(4.0)
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "Traceback" not in said
