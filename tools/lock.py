"""For developers: writes both locks anew and says which versions changed (needs uv on PATH)."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

TOP = Path(__file__).resolve().parent.parent
COMPILE = [
    "pip",
    "compile",
    "pyproject.toml",
    "--quiet",
    "--universal",
    "--generate-hashes",
    "--python-version",
    "3.11",
]
COMPILE += ["--upgrade", "--only-binary", ":all:", "--no-emit-index-url"]
COMPILE += ["--custom-compile-command", "python3 start.py lock"]
# psychrolib, pure Python, is the one library without a wheel; only tests use it (start.py knows it too).
TEST = ["--extra", "test", "--constraint", "requirements/run.txt", "--no-binary", "psychrolib"]
LOCKS = {"run": [], "test": TEST}


def pins(lock: Path) -> set[str]:
    """The `name==version` entries of a lock; none if there is no such file."""
    text = lock.read_text(encoding="utf-8") if lock.exists() else ""
    return set(re.findall(r"^[\w.-]+(?:\[[\w,-]+\])?==[^\s;\\]+", text, re.MULTILINE))


def changes(before: set[str], after: set[str]) -> list[str]:
    """One line per entry that left (-) or came (+), by name."""
    lines = [f"- {pin}" for pin in before - after] + [f"+ {pin}" for pin in after - before]
    return sorted(lines, key=lambda line: (line[2:].split("==")[0], line[0] == "+"))


def main() -> int:
    """Renew both locks; return the exit code."""
    uv = shutil.which("uv") or shutil.which("uv", path=Path(sys.executable).parent)
    if uv is None:
        print("Renewing the locks needs uv: install it (pip install uv) and start again.", file=sys.stderr)
        return 1
    for kind, extra in LOCKS.items():
        lock = TOP / "requirements" / f"{kind}.txt"
        before = pins(lock)
        lock.parent.mkdir(exist_ok=True)
        if code := subprocess.call([uv, *COMPILE, *extra, "--output-file", f"requirements/{kind}.txt"], cwd=TOP):
            return code
        after = pins(lock)
        print(f"{lock.name}: {len(after)} packages", *(changes(before, after) or ["no change"]), sep="\n  ")
    return 0


if __name__ == "__main__":
    sys.exit(main())
