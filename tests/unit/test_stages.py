"""The stages of a full check and the lock tool, tried on small trees."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import pytest

TOOLS = Path(__file__).resolve().parents[2] / "tools"


def load(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(f"{name}_under_test", TOOLS / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # dataclasses look their module up
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def stages(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    module = load("stages")
    monkeypatch.setenv("PYTEST_DISABLE_PLUGIN_AUTOLOAD", "1")  # small trees need no plug-ins, and start sooner
    module.TOP = tmp_path  # type: ignore[attr-defined]
    (tmp_path / "pytest.ini").write_text("[pytest]\naddopts = -q -p no:cacheprovider\n")
    (tmp_path / "good").mkdir()
    (tmp_path / "good" / "test_good.py").write_text(
        "import pytest\ndef test_a(): pass\ndef test_b(): pass\ndef test_c(): pytest.skip('why')\n"
    )
    (tmp_path / "bad").mkdir()
    (tmp_path / "bad" / "test_bad.py").write_text("def test_a(): assert False\ndef test_b(): pass\n")
    (tmp_path / "empty").mkdir()
    return module


def closing(capfd: pytest.CaptureFixture[str]) -> list[str]:
    return [line for line in capfd.readouterr().out.splitlines() if ": " in line or " passed, " in line]


def test_counts_are_summed_and_shown_last(stages: Any, capfd: pytest.CaptureFixture[str]) -> None:
    code = stages.run_stages((stages.tests("one", "good"), stages.tests("two", "good")))
    lines = closing(capfd)
    assert code == 0
    assert lines[-1] == "4 passed, 0 failed, 2 skipped"
    assert [line.split(" in ")[0] for line in lines if " in " in line and line.startswith("one")] == ["one: ok"]


def test_the_first_failure_stops_the_run(stages: Any, capfd: pytest.CaptureFixture[str]) -> None:
    code = stages.run_stages((stages.tests("one", "bad"), stages.tests("two", "good")))
    lines = closing(capfd)
    assert code == 1
    assert lines[-1] == "1 passed, 1 failed, 0 skipped"
    assert any(line.startswith("one: FAILED in ") for line in lines)
    assert not any(line.startswith("two: ") for line in lines)


@pytest.mark.parametrize("folder", ["empty", "missing"])
def test_a_folder_without_tests_says_so(stages: Any, folder: str, capfd: pytest.CaptureFixture[str]) -> None:
    code = stages.run_stages((stages.tests("none", folder), stages.tests("one", "good")))
    assert code == 0
    assert any(line.startswith("none: no tests yet in ") for line in closing(capfd))


def test_a_run_without_any_test_is_a_failure(stages: Any, capfd: pytest.CaptureFixture[str]) -> None:
    assert stages.run_stages((stages.tests("none", "empty"),)) == 1
    assert "0 passed, 0 failed, 0 skipped" in capfd.readouterr().out


def test_a_failing_check_stops_the_run(stages: Any, capfd: pytest.CaptureFixture[str]) -> None:
    check = stages.Stage("check", ("-c", "raise SystemExit(3)"))
    assert stages.run_stages((stages.tests("one", "good"), check)) == 1
    assert closing(capfd)[-1] == "2 passed, 0 failed, 1 skipped"


def test_tests_that_cannot_be_collected_count_as_failed(stages: Any, capfd: pytest.CaptureFixture[str]) -> None:
    (stages.TOP / "bad" / "test_broken.py").write_text("import no_such_module\n")
    assert stages.run_stages((stages.tests("one", "bad"),)) == 1
    assert "0 passed, 1 failed" in closing(capfd)[-1]


def test_every_folder_of_tests_is_run_by_a_stage() -> None:
    module: Any = load("stages")
    run = {stage.tests for stage in module.STAGES}
    assert {f"tests/{p.name}" for p in (TOOLS.parent / "tests").iterdir() if p.is_dir() and p.name[0] != "_"} <= run


def test_left_out_browser_tests_are_named(
    stages: Any, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    ran: list[Any] = []
    monkeypatch.setattr(stages, "run_stages", lambda todo: ran.extend(todo) or 0)
    assert stages.main(["test", "--without-browser"]) == 0
    assert "browser" not in {stage.name for stage in ran}
    assert capsys.readouterr().out.splitlines()[-1] == "Left out: the browser tests."


def test_browser_path_comes_first_and_must_be_a_file(
    stages: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    program = tmp_path / "browser"
    program.touch()
    monkeypatch.setenv("BROWSER_PATH", str(program))
    assert stages.find_browser() == str(program)
    monkeypatch.setenv("BROWSER_PATH", str(tmp_path / "none"))
    with pytest.raises(SystemExit, match="which is no file"):
        stages.find_browser()


@pytest.fixture
def bare(stages: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    """A machine with no browser and no PDF tools."""
    monkeypatch.delenv("BROWSER_PATH", raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(stages, "PLACES", (str(tmp_path / "usual place"),))
    return stages


def test_without_a_browser_one_sentence_says_what_to_do(bare: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bare, "may_install", lambda: False)
    with pytest.raises(SystemExit, match="--without-browser"):
        bare.get_browser()


def test_the_usual_places_are_looked_at(bare: Any, tmp_path: Path) -> None:
    assert bare.find_browser() is None
    (tmp_path / "usual place").touch()
    assert bare.find_browser() == str(tmp_path / "usual place")


def test_debian_as_root_installs_what_is_missing(bare: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    calls: list[list[str]] = []

    def apt(command: list[str], **_: Any) -> Any:
        calls.append(command)
        (tmp_path / "usual place").touch()
        return SimpleNamespace(returncode=0)

    monkeypatch.setattr(bare, "may_install", lambda: True)
    monkeypatch.setattr(subprocess, "run", apt)
    assert bare.get_browser() == str(tmp_path / "usual place")
    install = ["apt-get", "install", "-y", "--no-install-recommends", "chromium", "poppler-utils"]
    assert calls == [["apt-get", "update"], install]


def test_lock_changes_are_listed_by_name() -> None:
    lock: Any = load("lock")
    assert lock.changes({"b==1", "a==1", "c==1"}, {"b==2", "c==1", "d==1"}) == ["- a==1", "- b==1", "+ b==2", "+ d==1"]


def test_pins_read_names_extras_and_markers(tmp_path: Path) -> None:
    lock: Any = load("lock")
    file = tmp_path / "lock.txt"
    file.write_text("# a comment\na-b==1.0 \\\n    --hash=sha256:00\nc[x]==2.0 ; python_version < '4' \\\n")
    assert lock.pins(file) == {"a-b==1.0", "c[x]==2.0"}
    assert lock.pins(tmp_path / "none") == set()
