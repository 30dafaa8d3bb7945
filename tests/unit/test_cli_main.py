"""The front door of the command line."""

from __future__ import annotations

import importlib.util
import re
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from bibula.cli import main as front
from bibula.quantities import errors

GUIDE = Path(__file__).resolve().parents[2] / "docs" / "guide.md"


def stand_in(monkeypatch: pytest.MonkeyPatch, outcome: int | BaseException) -> None:
    """Put a command `demo` in place that returns or raises the outcome."""

    def run(args: object) -> int:
        if isinstance(outcome, BaseException):
            raise outcome
        return outcome

    module = SimpleNamespace(add_arguments=lambda parser: None, run=run)
    monkeypatch.setattr(front, "importlib", SimpleNamespace(import_module=lambda path: module))


@pytest.mark.parametrize("name", front.COMMANDS)
def test_every_registered_command_has_its_module(name: str) -> None:
    path, line = front.COMMANDS[name]
    assert path == f"bibula.cli.{name}"
    assert importlib.util.find_spec(path) is not None
    module = importlib.import_module(path)
    assert callable(module.add_arguments)
    assert callable(module.run)
    assert line[-1] != "."


def test_every_command_is_in_the_guide() -> None:
    text = GUIDE.read_text(encoding="utf-8")
    rows = dict(re.findall(r"^\| `(\w+)` \| (.+) \|$", text, re.MULTILINE))
    assert rows == {name: line for name, (_, line) in front.COMMANDS.items()}


def test_every_exit_code_is_in_the_guide() -> None:
    listed = set(re.findall(r"^\| (\d+) \|", GUIDE.read_text(encoding="utf-8"), re.MULTILINE))
    kinds = [kind for kind in vars(errors).values() if isinstance(kind, type) and issubclass(kind, errors.BibulaError)]
    assert listed == {"0", str(front.INTERRUPTED)} | {str(kind.exit_code) for kind in kinds}


def test_help_lists_every_command_and_imports_nothing_heavy() -> None:
    probe = (
        "import sys\nfrom bibula.cli.main import main\n"
        "try: main(['--help'])\nexcept SystemExit: pass\nprint('LOADED', *sys.modules)"
    )
    out = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True).stdout
    text, _, loaded = out.partition("LOADED")
    assert [name for name in front.COMMANDS if not re.search(rf"^\s+{name}\s", text, re.MULTILINE)] == []
    heavy = {"numpy", "scipy", "numba", "matplotlib", "pydantic", "typst", "lmfit", "jinja2", "openpyxl", "sksundae"}
    assert heavy & set(loaded.split()) == set()


def test_version_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stop:
        front.main(["--version"])
    assert stop.value.code == 0
    assert re.fullmatch(r"bibula \d+\.\d+\.\d+\n", capsys.readouterr().out)


@pytest.mark.parametrize("words", [[], ["dance"]])
def test_no_known_command_is_a_mistake(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stop:
        front.main(words)
    assert stop.value.code == 2
    assert "usage: bibula" in capsys.readouterr().err


@pytest.mark.parametrize("error", [errors.InputError("no mass", "give one"), errors.BalanceError("water is lost")])
def test_errors_become_one_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], error: errors.BibulaError
) -> None:
    stand_in(monkeypatch, error)
    assert front.main(["demo"]) == error.exit_code
    out, err = capsys.readouterr()
    assert (out, err) == ("", error.sentence() + "\n")


def test_interrupt_gives_the_shells_exit_code(monkeypatch: pytest.MonkeyPatch) -> None:
    stand_in(monkeypatch, KeyboardInterrupt())
    assert front.main(["demo"]) == front.INTERRUPTED


def test_the_commands_exit_code_is_returned(monkeypatch: pytest.MonkeyPatch) -> None:
    stand_in(monkeypatch, 1)
    assert front.main(["demo"]) == 1


def test_a_mistake_of_ours_is_not_hidden(monkeypatch: pytest.MonkeyPatch) -> None:
    stand_in(monkeypatch, ZeroDivisionError())
    with pytest.raises(ZeroDivisionError):
        front.main(["demo"])


def test_a_closed_pipe_is_no_error() -> None:
    probe = (
        "import sys, types\nfrom bibula.cli import main as front\n"
        "def run(args):\n    for _ in range(100_000): print('line')\n    return 0\n"
        "module = types.SimpleNamespace(add_arguments=lambda p: None, run=run)\n"
        "front.importlib = types.SimpleNamespace(import_module=lambda path: module)\n"
        "sys.exit(front.main(['demo']))"
    )
    with subprocess.Popen([sys.executable, "-c", probe], stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.readline()
        process.stdout.close()
        err = process.stderr.read()
    assert (process.returncode, err) == (0, b"")
