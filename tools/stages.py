"""Runs the stages of a full check in order, a closing line for each, and stops at the first that fails.

Called by `python3 start.py test` and `python3 start.py slow` with the Python of .venv.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn
from xml.etree import ElementTree as ET

TOP = Path(__file__).resolve().parent.parent
NO_TESTS = 5
"""The exit code of pytest where it found no test."""
PROGRAMS = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge")
PLACES = (
    "C:/Program Files/Google/Chrome/Application/chrome.exe",
    "C:/Program Files (x86)/Microsoft/Edge/Application/msedge.exe",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
)


@dataclass(frozen=True)
class Stage:
    """One stage.

    Attributes:
        name: what the closing line calls it.
        command: what Python is called with.
        tests: the file or folder of tests it runs; "" for a check that counts no tests.
    """

    name: str
    command: tuple[str, ...]
    tests: str = ""


def tests(name: str, path: str, *options: str) -> Stage:
    """A stage that runs the tests of one file or folder."""
    return Stage(name, ("-m", "pytest", path, *options), path)


STAGES = (
    Stage("lint", ("-m", "ruff", "check", ".")),
    Stage("format", ("-m", "ruff", "format", "--check", ".")),
    Stage("types", ("-m", "mypy")),
    Stage("imports", ("-c", "from importlinter.cli import lint_imports_command as lint; lint()", "--no-logo")),
    tests("structure", "tests/unit/test_structure.py"),
    tests("unit", "tests/unit", "--ignore=tests/unit/test_structure.py", "-n", "2"),
    tests("validation", "tests/validation", "-n", "2"),
    tests("faults", "tests/faults"),
    tests("browser", "tests/browser"),
    Stage("docs", ("-m", "sphinx", "-q", "-W", "--keep-going", "-b", "html", "docs", "build/docs")),
)
SLOW = (tests("slow", "tests", "-m", "slow"),)


@dataclass(frozen=True)
class Count:
    """How many tests passed, failed (errors among them) and were skipped."""

    passed: int = 0
    failed: int = 0
    skipped: int = 0

    def __add__(self, other: Count) -> Count:
        return Count(self.passed + other.passed, self.failed + other.failed, self.skipped + other.skipped)

    def __str__(self) -> str:
        return f"{self.passed} passed, {self.failed} failed, {self.skipped} skipped"


def leave(sentence: str) -> NoReturn:
    """End with exit code 1 and one sentence."""
    raise SystemExit(sentence)


def find_browser() -> str | None:
    """Path of a Chromium-like browser: BROWSER_PATH, then PATH, then the usual places."""
    given = os.environ.get("BROWSER_PATH")
    if given:
        return given if Path(given).is_file() else leave(f"BROWSER_PATH names '{given}', which is no file.")
    on_path = next(filter(None, map(shutil.which, PROGRAMS)), None)
    return on_path or next((place for place in PLACES if Path(place).is_file()), None)


def may_install() -> bool:
    """Whether installing system packages is ours to do: Debian or its kin, as root."""
    return Path("/etc/debian_version").exists() and hasattr(os, "geteuid") and os.geteuid() == 0


def get_browser() -> str:
    """The browser for the tests, installed together with the PDF viewer's tools where that is ours to do."""
    wanted = [] if find_browser() else ["chromium"]
    wanted += [] if shutil.which("pdftoppm") else ["poppler-utils"]
    if wanted and may_install():
        print(f"Installing {' and '.join(wanted)} for the browser tests.", flush=True)
        for words in (["update"], ["install", "-y", "--no-install-recommends", *wanted]):
            done = subprocess.run(["apt-get", *words], stdin=subprocess.DEVNULL, capture_output=True, text=True)
            if done.returncode:
                leave(f"'apt-get {' '.join(words)}' failed: {done.stderr.strip()}")
    found = find_browser()
    return found or leave(
        "The browser tests need Chromium, Chrome or Edge: install one, or name it in BROWSER_PATH, "
        "or add --without-browser."
    )


def read_report(report: Path) -> Count:
    """Count the tests in a JUnit report; nothing if there is none."""
    if not report.exists():
        return Count()
    suites = list(ET.parse(report).iter("testsuite"))
    total, failures, errors, skipped = (
        sum(int(suite.get(key, 0)) for suite in suites) for key in ("tests", "failures", "errors", "skipped")
    )
    return Count(total - failures - errors - skipped, failures + errors, skipped)


def run_stage(stage: Stage) -> tuple[int, Count]:
    """Run one stage; return its exit code and its count."""
    if not stage.tests:
        return subprocess.call([sys.executable, *stage.command], cwd=TOP), Count()
    if not (TOP / stage.tests).exists():
        return NO_TESTS, Count()
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "report.xml"
        code = subprocess.call([sys.executable, *stage.command, f"--junitxml={report}"], cwd=TOP)
        return code, read_report(report)


def run_stages(stages: tuple[Stage, ...]) -> int:
    """Run stages until one fails; return 0 if all went well and at least one test passed."""
    total, failed = Count(), False
    for stage in stages:
        start = time.monotonic()
        code, count = run_stage(stage)
        total += count
        none = bool(stage.tests) and code == NO_TESTS
        failed = code != 0 and not none
        state = "no tests yet" if none else "FAILED" if failed else "ok"
        note = f" ({count})" if stage.tests and not none else ""
        print(f"{stage.name}: {state} in {time.monotonic() - start:.1f} s{note}", flush=True)
        if failed:
            break
    if not failed and not total.passed:
        print("No test was run, so nothing was shown.")
    print(total)
    return 1 if failed or not total.passed else 0


def main(argv: list[str]) -> int:
    """Run what the arguments ask; return the exit code."""
    parser = argparse.ArgumentParser(prog="start.py")
    kinds = parser.add_subparsers(dest="kind", required=True)
    kinds.add_parser("slow", help="the long tests")
    kinds.add_parser("test", help="all else").add_argument("--without-browser", action="store_true")
    args = parser.parse_args(argv)
    if args.kind == "slow":
        return run_stages(SLOW)
    if args.without_browser:
        code = run_stages(tuple(stage for stage in STAGES if stage.name != "browser"))
        print("Left out: the browser tests.")
        return code
    os.environ["BROWSER_PATH"] = get_browser()
    return run_stages(STAGES)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
