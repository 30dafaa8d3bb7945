"""Sets Bibula up in .venv beside this file, then runs it; needs nothing but Python itself.

python3 start.py [COMMAND ...]              set up, then run a command of bibula (without one: demo)
python3 start.py test [--without-browser]   set up, then run every check and test
python3 start.py slow                       set up, then run the long tests
python3 start.py lock                       for developers: renew requirements/*.txt (needs uv)
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import NoReturn

TOP = Path(__file__).resolve().parent
VENV = TOP / ".venv"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
OFFLINE = ("connection broken", "NewConnectionError", "ConnectTimeout", "Max retries", "Temporary failure", "timed out")
SOURCE_ONLY = {"run": [], "test": ["--no-binary", "psychrolib"]}
"""Options of pip for libraries that have no wheel: psychrolib is one file of Python."""
CALM_SECONDS = 10.0  # how often the progress line is repeated where it cannot be updated in place


def leave(sentence: str) -> NoReturn:
    """End with exit code 1 and one sentence for the person at the keyboard."""
    raise SystemExit(sentence)


def progress(lines: list[str], total: int) -> str:
    """How far pip has come by what it printed, as the end of a line; empty where there is nothing to count."""
    if not total:
        return ""
    starts = [line.split()[0] for line in lines if line.strip()]
    wanted = total - starts.count("Ignoring")
    found = min(sum(word in {"Collecting", "Processing", "Requirement"} for word in starts), wanted)
    return f", {found} of {wanted} packages" + (", unpacking" if "Installing" in starts else "")


def watch(title: str, command: list[str], total: int = 0) -> None:
    """Run a command behind a line that shows it is alive.

    Args:
        title: what is being done.
        command: the command and its arguments.
        total: the number of packages it may collect; 0 shows no count.

    Raises:
        subprocess.CalledProcessError: the command failed; all it printed is in `output`.
    """
    start, lines, said, state = time.monotonic(), list[str](), float("-inf"), ""
    env, in_place = {**os.environ, "PYTHONUNBUFFERED": "1"}, sys.stdout.isatty()
    pipe, both = subprocess.PIPE, subprocess.STDOUT
    with subprocess.Popen(command, cwd=TOP, env=env, stdout=pipe, stderr=both, text=True, errors="replace") as process:
        reader = threading.Thread(target=lambda: lines.extend(process.stdout or ()), daemon=True)
        reader.start()
        while not state:
            code = process.poll()
            if code is not None:
                reader.join(5)
            state = "" if code is None else ", done" if code == 0 else ", failed"
            if state or time.monotonic() - said >= (0.5 if in_place else CALM_SECONDS):
                said = time.monotonic()
                line = f"{title}: {said - start:.0f} s{progress(lines, total)}{state}"
                print(f"\r{line:<79}" if in_place else line, end="" if in_place and not state else "\n", flush=True)
            time.sleep(0 if state else 0.1)
    if process.returncode:
        raise subprocess.CalledProcessError(process.returncode, command, "".join(lines))


def stamp_of(kind: str) -> str:
    """What .venv must have been made from: lock, pyproject, this Python and this folder."""
    files = (TOP / "requirements" / f"{kind}.txt", TOP / "pyproject.toml")
    parts = [*(file.read_bytes() for file in files), sys.version.encode(), str(TOP).encode()]
    return hashlib.sha256(b"\0".join(parts)).hexdigest()


def is_ready(kind: str) -> bool:
    """Whether .venv was finished for this lock; asks no network."""
    stamp = VENV / f"stamp-{kind}"
    return PYTHON.exists() and stamp.is_file() and stamp.read_text() == stamp_of(kind)


def make_venv() -> None:
    """Remove what is left of an older or half-made .venv and make it anew."""
    if Path(sys.prefix).resolve() == VENV:
        leave("This Python lives in the .venv that must be made anew: start again with the Python you installed.")
    try:
        import ensurepip  # noqa: F401  # only to see whether it is there
    except ImportError:
        leave("Python's venv part is missing: install it (Debian, Ubuntu: apt-get install python3-venv), start again.")
    if VENV.exists():
        shutil.rmtree(VENV)
    watch("Making .venv", [sys.executable, "-m", "venv", str(VENV)])


def explain(error: subprocess.CalledProcessError) -> NoReturn:
    """One sentence for what an installer or the first compilation said at length."""
    VENV.mkdir(exist_ok=True)
    log = VENV / "set-up.log"
    log.write_text(error.output, encoding="utf-8")
    missing = re.findall(r"No matching distribution found for ([\w.-]+)", error.output)
    package = (missing or re.findall(r"Collecting ([\w.-]+)", error.output) or ["the libraries"])[-1]
    if any(sign in error.output for sign in OFFLINE):
        leave(f"The first start needs the internet and could not fetch {package}: connect and start again ({log}).")
    if missing:
        leave(f"There is no ready-made {package} for this Python and machine: try another Python from 3.11 on ({log}).")
    leave(f"Setting up failed at '{' '.join(error.cmd[1:4])}': what it said is in {log}.")


def set_up(kind: str) -> None:
    """Bring .venv to the state of requirements/<kind>.txt; the stamp is written last.

    Args:
        kind: "run", or "test", which holds all of "run" and more.
    """
    if is_ready(kind) and is_ready("run"):
        return
    if kind != "run":
        set_up("run")
    lock = TOP / "requirements" / f"{kind}.txt"
    count = len(re.findall(r"^[\w.-]+==", lock.read_text(encoding="utf-8"), re.MULTILINE))
    pip = [str(PYTHON), "-m", "pip", "install", "--no-input", "--disable-pip-version-check", "--no-build-isolation"]
    fetch = ["--progress-bar", "off", "--require-hashes", "--only-binary", ":all:", "-r", str(lock)]
    try:
        if kind == "run":
            make_venv()
        watch("Fetching libraries", [*pip, *fetch, *SOURCE_ONLY[kind]], count)
        watch("Installing Bibula", [*pip, "--no-deps", "-e", str(TOP)])
        watch("Compiling", [str(PYTHON), "-m", "bibula", "prepare"])
    except subprocess.CalledProcessError as error:
        explain(error)
    (VENV / f"stamp-{kind}").write_text(stamp_of(kind))


def main(arguments: list[str]) -> int:
    """Do what the arguments ask; return the exit code."""
    if sys.version_info < (3, 11):  # noqa: UP036  # the sentence is for those who have an older one
        leave(f"Bibula needs Python 3.11 or newer and this is {sys.version.split()[0]}: start it with a newer one.")
    first, rest = (arguments or ["demo"])[0], arguments[1:]
    if first == "lock":
        return subprocess.call([sys.executable, str(TOP / "tools" / "lock.py"), *rest])
    if first in {"test", "slow"}:
        set_up("test")
        return subprocess.call([str(PYTHON), str(TOP / "tools" / "stages.py"), first, *rest])
    set_up("run")
    return subprocess.call([str(PYTHON), "-m", "bibula", first, *rest])


if __name__ == "__main__":
    try:
        sys.exit(main(sys.argv[1:]))
    except KeyboardInterrupt:
        sys.exit(130)
