"""Sizes, docstrings, citations and a few things no file may hold."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parents[2]
MODULE_LINES = 400
FUNCTION_LINES = 60
TEXT_BYTES = 1_000_000
KEY = re.compile(r"\b[A-Z][a-z]+[A-Za-z]*(?:1[89]|20)\d\d[a-z]?\b")
# Put together here, so that this file does not hold what it looks for.
FORBIDDEN = tuple(
    "".join(parts)
    for parts in [
        ("py", "pi.", "org"),
        ("python", "hosted.", "org"),
        ("npm", "js.", "org"),
        ("deb", ".debian.", "org"),
        ("files", "/pypi"),
        ("/", "work/"),
        ("/opt/", "py", "pi"),
        ("/", "root/"),
    ]
)


def our_files() -> list[Path]:
    """Every file of the repository, tracked or new; without git, every file that lies where ours lie."""
    if (TOP / ".git").exists():
        listed = ["git", "ls-files", "-co", "--exclude-standard", "-z"]
        names = subprocess.run(listed, cwd=TOP, capture_output=True, text=True, check=True).stdout.split("\0")
        return [path for name in names if name and (path := TOP / name).is_file()]
    found = []
    for folder, folders, files in os.walk(TOP):
        folders[:] = [f for f in folders if (not f.startswith(".") or f == ".ci") and f not in {"build", "__pycache__"}]
        folders[:] = [f for f in folders if not f.endswith(".egg-info")]
        found += [Path(folder) / name for name in files if not name.endswith(".pyc")]
    return found


FILES = our_files()
MODULES = [path for path in FILES if path.suffix == ".py"]
HELPERS = {path.stem for path in MODULES if TOP / "tests" in path.parents}
OWNERS = packages_distributions()
SOURCES = [path for path in MODULES if TOP / "src" in path.parents]


def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def where(path: Path, node: ast.stmt) -> str:
    return f"{path.relative_to(TOP)}:{node.lineno}"


def functions(root: ast.AST) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    return (node for node in ast.walk(root) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef))


def public(body: list[ast.stmt]) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef]:
    """Public functions, classes, and the public methods of those classes."""
    for node in body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            yield node
            if isinstance(node, ast.ClassDef):
                yield from public(node.body)


def bibliography_keys() -> list[str]:
    text = (TOP / "docs" / "references.bib").read_text(encoding="utf-8")
    return re.findall(r"^@\w+\{([^,\s]+),", text, re.MULTILINE)


def commands_under(heading: str) -> list[str]:
    text = (TOP / "README.md").read_text(encoding="utf-8")
    section = re.split(r"^## ", text.partition(f"\n## {heading}\n")[2], maxsplit=1, flags=re.MULTILINE)[0]
    blocks = re.findall(r"^```[a-z]*\n(.*?)^```", section, re.MULTILINE | re.DOTALL)
    return [line for block in blocks for line in block.splitlines() if line.strip()]


def test_there_are_files_to_look_at() -> None:
    assert len(SOURCES) > 10
    assert TOP / "start.py" in MODULES


def test_modules_are_short() -> None:
    lengths = {str(path.relative_to(TOP)): len(path.read_text(encoding="utf-8").splitlines()) for path in MODULES}
    assert {name: n for name, n in lengths.items() if n > MODULE_LINES} == {}


def test_start_script_is_short() -> None:
    assert len((TOP / "start.py").read_text(encoding="utf-8").splitlines()) < 170


def test_functions_are_short() -> None:
    long = {
        f"{where(path, node)} {node.name}": length
        for path in MODULES
        for node in functions(tree(path))
        if (length := (node.end_lineno or node.lineno) - node.lineno + 1) > FUNCTION_LINES
    }
    assert long == {}


def test_no_wildcard_imports() -> None:
    wild = [
        where(path, node)
        for path in MODULES
        for node in ast.walk(tree(path))
        if isinstance(node, ast.ImportFrom) and any(alias.name == "*" for alias in node.names)
    ]
    assert wild == []


def test_everything_public_has_a_docstring() -> None:
    bare = [
        f"{where(path, node)} {node.name}"
        for path in SOURCES
        for node in public(tree(path).body)
        if not ast.get_docstring(node)
    ]
    assert bare == []


def test_every_module_has_a_docstring() -> None:
    assert [str(path.relative_to(TOP)) for path in SOURCES if not ast.get_docstring(tree(path))] == []


@pytest.mark.parametrize(("heading", "command"), [("Run", "python3 start.py"), ("Test", "python3 start.py test")])
def test_readme_has_one_command(heading: str, command: str) -> None:
    assert commands_under(heading) == [command]


def test_no_registry_hosts_or_paths_of_one_machine() -> None:
    found = [
        f"{path.relative_to(TOP)}: {word}"
        for path in FILES
        if path.stat().st_size < TEXT_BYTES
        for word in FORBIDDEN
        if word.encode() in path.read_bytes()
    ]
    assert found == []


def test_cited_keys_are_in_the_bibliography() -> None:
    known = set(bibliography_keys())
    cited = {
        f"{path.relative_to(TOP)}: {key}"
        for path in FILES
        if path.suffix in {".py", ".toml"} and TOP / "src" in path.parents
        for key in KEY.findall(path.read_text(encoding="utf-8"))
        if key not in known
    }
    assert cited == set()


def test_bibliography_is_sorted_and_has_no_key_twice() -> None:
    keys = bibliography_keys()
    assert keys == sorted(set(keys), key=str.lower)


def locked(kind: str) -> dict[str, set[str]]:
    text = (TOP / "requirements" / f"{kind}.txt").read_text(encoding="utf-8")
    pins: dict[str, set[str]] = {}
    for name, version in re.findall(r"^([\w.-]+)==([^\s;\\]+)", text, re.MULTILINE):
        pins.setdefault(name.lower().replace("_", "-"), set()).add(version)
    return pins


def declared() -> dict[str, set[str]]:
    """Names of the libraries in pyproject.toml, for running and for testing."""
    project = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    lists = {"run": project["dependencies"], "test": project["optional-dependencies"]["test"]}
    return {kind: {re.split(r"[<>=~; ]", line)[0].lower() for line in lines} for kind, lines in lists.items()}


def imported(path: Path) -> set[str]:
    """Top names of what a module imports anywhere in it, without Python's own and ours."""
    names = set()
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.Import):
            names |= {alias.name.partition(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and not node.level:
            names.add((node.module or "").partition(".")[0])
    return names - sys.stdlib_module_names - {"benchmarks", "bibula"}


def libraries(path: Path) -> set[str]:
    """The distributions a module imports from, our tests' own helpers left out; an unknown name stands for itself."""
    return {
        owner.lower().replace("_", "-") for name in imported(path) - HELPERS for owner in OWNERS.get(name, [name])[:1]
    }


def test_locks_hold_every_dependency() -> None:
    assert declared()["run"] - locked("run").keys() == set()
    assert declared()["test"] - locked("test").keys() == set()


def test_what_is_imported_is_declared() -> None:
    known = declared()
    undeclared = {
        f"{path.relative_to(TOP)}: {name}"
        for path in MODULES
        for name in libraries(path) - known["run"]
        if (path in SOURCES and "checks" not in path.parts) or name not in known["test"]
    }
    assert undeclared == set()


def test_test_lock_holds_the_run_lock() -> None:
    test = locked("test")
    assert {name: versions for name, versions in locked("run").items() if test.get(name) != versions} == {}


@pytest.mark.parametrize("kind", ["run", "test"])
def test_every_locked_version_has_hashes(kind: str) -> None:
    text = (TOP / "requirements" / f"{kind}.txt").read_text(encoding="utf-8")
    blocks = re.split(r"^(?=[\w.-]+==)", text, flags=re.MULTILINE)[1:]
    assert [block.split()[0] for block in blocks if "--hash=sha256:" not in block] == []
