"""The start script, tried in a temporary folder with a fake Python that stands for pip and for Bibula."""

from __future__ import annotations

import importlib.util
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

SCRIPT = Path(__file__).resolve().parents[2] / "start.py"
pytestmark = pytest.mark.skipif(os.name == "nt", reason="the fake Python is a script with a first line")

FAKE = """#!{python}
import json, os, pathlib, sys
here = pathlib.Path(__file__).resolve().parent
with open(here.parent.parent / "calls.jsonl", "a") as file:
    file.write(json.dumps(sys.argv[1:]) + "\\n")
for sign, (text, code) in json.loads((here / "answers.json").read_text()).items():
    if sign in " ".join(sys.argv[1:]):
        print(text)
        sys.exit(code)
"""


class Studio:
    """A temporary copy of what the start script sees."""

    def __init__(self, start: Any, top: Path) -> None:
        self.start, self.top = start, top
        self.made = 0

    def make_venv(self) -> None:
        self.made += 1
        self.start.PYTHON.parent.mkdir(parents=True, exist_ok=True)
        self.start.PYTHON.write_text(FAKE.format(python=sys.executable))
        self.start.PYTHON.chmod(0o755)
        self.answer({})

    def answer(self, answers: dict[str, tuple[str, int]]) -> None:
        """What the fake Python prints and returns for a call that holds a word."""
        (self.start.PYTHON.parent / "answers.json").write_text(json.dumps(answers))

    def calls(self) -> list[list[str]]:
        log = self.top / "calls.jsonl"
        return [json.loads(line) for line in log.read_text().splitlines()] if log.exists() else []


def load(top: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location("start_under_test", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    start = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(start)
    start.TOP, start.VENV = top, top / ".venv"  # type: ignore[attr-defined]
    start.PYTHON = top / ".venv" / "bin" / "python"  # type: ignore[attr-defined]
    return start


@pytest.fixture
def studio(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Studio:
    top = tmp_path / "a folder with spaces"
    (top / "requirements").mkdir(parents=True)
    (top / "pyproject.toml").write_text("[project]\n")
    (top / "requirements" / "run.txt").write_text("alpha==1.0 \\\n    --hash=sha256:00\nbeta==2.0 \\\n")
    (top / "requirements" / "test.txt").write_text("alpha==1.0 \\\nbeta==2.0 \\\ngamma==3.0 \\\n")
    start = load(top)
    studio = Studio(start, top)
    monkeypatch.setattr(start, "make_venv", studio.make_venv)
    return studio


def failing(studio: Studio, answers: dict[str, tuple[str, int]]) -> str:
    """The sentence a first start ends with, where the fake Python answers so."""
    make = studio.make_venv

    def make_and_answer() -> None:
        make()
        studio.answer(answers)

    studio.start.make_venv = make_and_answer
    with pytest.raises(SystemExit) as stop:
        studio.start.main([])
    studio.start.make_venv = make
    return str(stop.value)


def test_first_start_installs_by_hash_then_bibula_then_compiles_then_runs(studio: Studio) -> None:
    assert studio.start.main([]) == 0
    fetch, own, prepare, run = studio.calls()
    assert {"--require-hashes", "--only-binary", ":all:"} <= set(fetch)
    assert fetch[fetch.index("-r") + 1].endswith("run.txt")
    assert {"--no-deps", "--no-build-isolation", "-e"} <= set(own)
    assert (prepare, run) == (["-m", "bibula", "prepare"], ["-m", "bibula", "demo"])


def test_second_start_installs_nothing(studio: Studio) -> None:
    studio.start.main([])
    before = len(studio.calls())
    studio.start.main([])
    assert studio.calls()[before:] == [["-m", "bibula", "demo"]]
    assert studio.made == 1


def test_arguments_and_exit_code_go_through(studio: Studio) -> None:
    studio.start.main([])
    studio.answer({"forecast": ("", 3)})
    assert studio.start.main(["forecast", "my plan.toml"]) == 3
    assert studio.calls()[-1] == ["-m", "bibula", "forecast", "my plan.toml"]


@pytest.mark.parametrize("name", ["requirements/run.txt", "pyproject.toml"])
def test_a_changed_file_makes_the_venv_anew(studio: Studio, name: str) -> None:
    studio.start.main([])
    with (studio.top / name).open("a") as file:
        file.write("# changed\n")
    studio.start.main([])
    assert studio.made == 2


def test_a_moved_folder_or_another_python_is_not_ready(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    studio.start.main([])
    moved = studio.top.with_name("moved")
    studio.top.rename(moved)
    assert not load(moved).is_ready("run")
    moved.rename(studio.top)
    assert studio.start.is_ready("run")
    monkeypatch.setattr(sys, "version", "another")
    assert not studio.start.is_ready("run")


def test_no_stamp_until_everything_is_done(studio: Studio) -> None:
    for step in ("--require-hashes", "--no-deps", "prepare"):
        assert "Setting up failed" in failing(studio, {step: ("it broke", 1)})
        assert "it broke" in (studio.start.VENV / "set-up.log").read_text()
        assert not studio.start.is_ready("run")
    assert studio.start.main([]) == 0
    assert studio.made == 4


def test_no_network_is_said_with_the_package(studio: Studio) -> None:
    text = "Collecting beta==2.0\nWARNING: Retrying after connection broken by NewConnectionError"
    sentence = failing(studio, {"--require-hashes": (text, 1)})
    assert "needs the internet" in sentence
    assert "beta" in sentence


def test_a_missing_wheel_is_said_with_the_package(studio: Studio) -> None:
    sentence = failing(studio, {"--require-hashes": ("ERROR: No matching distribution found for alpha==1.0", 1)})
    assert "no ready-made alpha for this Python" in sentence


@pytest.mark.parametrize("word", ["test", "slow"])
def test_checks_install_both_locks_then_run_the_stages(studio: Studio, word: str) -> None:
    assert studio.start.main([word]) == 0
    locks = [call[call.index("-r") + 1][-8:] for call in studio.calls() if "-r" in call]
    assert locks == ["/run.txt", "test.txt"]
    assert studio.calls()[-1] == [str(studio.top / "tools" / "stages.py"), word]
    assert studio.made == 1
    assert studio.start.is_ready("run")


def test_a_changed_run_lock_makes_the_venv_of_the_tests_anew(studio: Studio) -> None:
    studio.start.main(["test"])
    (studio.top / "requirements" / "run.txt").write_text("alpha==1.1 \\\n")
    make = studio.make_venv

    def make_empty() -> None:
        (studio.start.VENV / "stamp-test").unlink()
        make()

    studio.start.make_venv = make_empty
    studio.start.main(["test"])
    assert studio.made == 2
    assert studio.start.is_ready("test")


def test_an_old_python_gets_one_sentence(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "version_info", (3, 10, 4))
    with pytest.raises(SystemExit, match=r"needs Python 3\.11 or newer"):
        studio.start.main([])


def test_no_ensurepip_gets_one_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "ensurepip", None)
    with pytest.raises(SystemExit, match="apt-get install python3-venv"):
        load(tmp_path).make_venv()


def test_the_pythons_own_venv_is_not_removed_under_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    start = load(tmp_path)
    monkeypatch.setattr(sys, "prefix", str(start.VENV))
    with pytest.raises(SystemExit, match="the Python you installed"):
        start.make_venv()


def test_a_half_made_venv_is_removed_first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    start = load(tmp_path)
    (start.VENV / "left").mkdir(parents=True)
    seen: list[tuple[list[str], bool]] = []
    watch: Callable[..., None] = lambda _title, command: seen.append((command, start.VENV.exists()))  # noqa: E731
    monkeypatch.setattr(start, "watch", watch)
    start.make_venv()
    assert seen == [([sys.executable, "-m", "venv", str(start.VENV)], False)]


def test_progress_counts_what_this_machine_needs(tmp_path: Path) -> None:
    start = load(tmp_path)
    lines = [
        "Ignoring alpha: markers\n",
        "Collecting beta==2\n",
        "  Downloading beta\n",
        "Requirement already satisfied: gamma\n",
    ]
    assert start.progress(lines, 4) == ", 2 of 3 packages"
    assert start.progress([*lines, "Installing collected packages: beta\n"], 4) == ", 2 of 3 packages, unpacking"
    assert start.progress(lines, 0) == ""


def test_watch_prints_plain_lines_without_a_terminal(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    load(tmp_path).watch("Waiting", [sys.executable, "-c", "print('hidden')"])
    first, last = capsys.readouterr().out.splitlines()
    assert first == "Waiting: 0 s"
    assert last.startswith("Waiting: ")
    assert last.endswith(" s, done")


def test_watch_updates_one_line_on_a_terminal(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    load(tmp_path).watch("Waiting", [sys.executable, "-c", ""])
    out = capsys.readouterr().out
    assert out.count("\n") == 1
    assert out.startswith("\rWaiting")


def test_watch_raises_with_all_that_was_said(tmp_path: Path) -> None:
    code = "import sys; print('out'); print('err', file=sys.stderr); sys.exit(4)"
    with pytest.raises(subprocess.CalledProcessError) as failed:
        load(tmp_path).watch("Failing", [sys.executable, "-c", code])
    assert failed.value.returncode == 4
    assert {"out", "err"} <= set(failed.value.output.split())


def test_it_needs_nothing_but_pythons_own_library() -> None:
    probe = "import runpy, sys; runpy.run_path(sys.argv[1]); print(*sys.modules)"
    command = [sys.executable, "-I", "-S", "-c", probe, str(SCRIPT)]
    loaded = subprocess.run(command, capture_output=True, text=True, check=True).stdout.split()
    roots = {name.partition(".")[0] for name in loaded}
    assert {root for root in roots if root not in sys.stdlib_module_names and root != "__main__"} == set()
