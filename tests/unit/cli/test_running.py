"""Signs of life, and where the members run."""

from __future__ import annotations

import io
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path

import pytest

from bibula.cli import progress, running
from bibula.physics import integrate
from bibula.plan.files import read_plan


class Screen(io.StringIO):
    def isatty(self) -> bool:
        return True


def fast_clock(monkeypatch: pytest.MonkeyPatch, step: float) -> None:
    now = [0.0]

    def tick() -> float:
        now[0] += step
        return now[0]

    monkeypatch.setattr(progress.time, "monotonic", tick)


def test_quick_work_is_silent() -> None:
    stream = io.StringIO()
    with progress.Steps("work", stream) as steps:
        steps(1, 2)
        steps(2, 2)
    assert stream.getvalue() == ""


def test_slow_work_speaks_in_sparse_lines(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.StringIO()
    fast_clock(monkeypatch, 1.0)
    with progress.Steps("work", stream) as steps:
        for i in range(30):
            steps(i, 30)
    lines = stream.getvalue().splitlines()
    assert 3 <= len(lines) <= 5
    assert all(line.startswith("work: ") for line in lines)
    assert "\r" not in stream.getvalue()


def test_a_terminal_is_renewed_in_place(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = Screen()
    fast_clock(monkeypatch, 3.0)
    with progress.Steps("work", stream) as steps:
        steps(1, 2)
    text = stream.getvalue()
    assert "\r" in text
    assert "50 %" in text
    assert text.count("\n") == 1


def test_passes_count_on(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.StringIO()
    fast_clock(monkeypatch, 11.0)
    with progress.Steps("work", stream, passes=2) as steps:
        for done in (1, 2, 1, 2):
            steps(done, 2)
    assert [line.split()[1] for line in stream.getvalue().splitlines()[:4]] == ["25", "50", "75", "100"]


def test_nothing_is_said_to_be_done_where_it_failed(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.StringIO()
    fast_clock(monkeypatch, 11.0)

    def broken_off() -> None:
        with progress.Steps("work", stream) as steps:
            steps(1, 2)
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        broken_off()
    assert "done" not in stream.getvalue()


def test_few_members_run_here_and_many_do_not(plan: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    read = read_plan(plan)
    monkeypatch.setattr(running, "_processors", lambda: 2)
    for sound, kind in ((True, ThreadPoolExecutor), (False, ProcessPoolExecutor)):
        monkeypatch.setattr(integrate, "direct_is_sound", lambda sound=sound: sound)
        with running.workers(read, 20) as here:
            assert here is None
        with running.workers(read, 2000) as there:
            assert isinstance(there, kind)
        with running.workers(read, 2000, asked=1) as here:
            assert here is None


def test_a_pool_ends_when_the_work_is_broken_off(plan: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(integrate, "direct_is_sound", lambda: True)
    pools = []

    def broken_off() -> None:
        with running.workers(read_plan(plan), 20, asked=2) as pool:
            pools.append(pool)
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        broken_off()
    with pytest.raises(RuntimeError, match="shutdown"):
        pools[0].submit(print)
