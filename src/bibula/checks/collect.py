"""All check rows of all topic modules, and what to say when a topic cannot be run at all."""

from __future__ import annotations

import importlib
import importlib.util
import pkgutil
from collections.abc import Callable
from importlib.abc import InspectLoader
from types import ModuleType

from bibula import checks
from bibula.checks.rows import CheckRow

FUNCTIONS = ("rows", "library_rows")


def topics() -> list[str]:
    """Names of the topic modules of this package, sorted: those whose source defines `rows`.

    Reads their text and imports none of them, so that it is quick and a broken one is still listed.
    """
    return sorted(m.name for m in pkgutil.iter_modules(checks.__path__) if not m.ispkg and _defines_rows(m.name))


def _module(topic: str) -> str:
    return f"{checks.__name__}.{topic}"


def _load(topic: str) -> ModuleType:
    return importlib.import_module(_module(topic))


def _defines_rows(name: str) -> bool:
    spec = importlib.util.find_spec(_module(name))
    loader = spec.loader if spec else None
    source = loader.get_source(_module(name)) if isinstance(loader, InspectLoader) else None
    return source is None or "\ndef rows(" in source


def failed_row(topic: str, error: BaseException) -> CheckRow:
    """The row that stands for a topic that could not be run; never ok."""
    said = " ".join(f"{type(error).__name__}: {error}".split())
    return CheckRow(
        f"{topic}: cannot be run ({said})", "this run", "computed", float("nan"), 0.0, 0.0, "an error is a failure"
    )


def topic_rows(topic: str, libraries: bool = True) -> list[CheckRow]:
    """Rows of one topic, an error as a failed row.

    Args:
        topic: one of `topics()`.
        libraries: also the rows that ask other libraries, where those are installed.
    """
    out: list[CheckRow] = []
    for function in FUNCTIONS if libraries else FUNCTIONS[:1]:
        try:
            found: Callable[[], list[CheckRow]] | None = getattr(_load(topic), function, None)
            if found is not None:
                out += found()
        except Exception as error:  # noqa: BLE001 - a check that breaks is shown, whatever broke it
            out.append(failed_row(f"{topic}.{function}", error))
    return out


def all_rows(progress: Callable[[str, int, int], None] | None = None) -> list[CheckRow]:
    """Every row of every topic, in the order of the topics' names.

    Args:
        progress: called before each topic with its name, its number from 1, and how many there are.
    """
    out: list[CheckRow] = []
    names = topics()
    for number, name in enumerate(names, start=1):
        if progress is not None:
            progress(name, number, len(names))
        out += topic_rows(name)
    return out
