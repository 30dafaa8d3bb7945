"""Every check row of every topic, as `bibula verify` shows them."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from bibula.checks import collect
from bibula.checks.rows import CheckRow

DOCS = Path(__file__).resolve().parents[2] / "docs"
BIBLIOGRAPHY = DOCS / "references.bib"
_found: dict[str, list[CheckRow]] = {}


def rows_of(topic: str) -> list[CheckRow]:
    """Rows are computed when a test asks, not when pytest collects, and once only."""
    if topic not in _found:
        _found[topic] = collect.topic_rows(topic)
    return _found[topic]


@pytest.mark.parametrize("topic", collect.topics())
def test_every_row_is_within_its_tolerance(topic: str, subtests: pytest.Subtests) -> None:
    rows = rows_of(topic)
    assert rows
    for row in rows:
        with subtests.test(row.name):
            assert row.ok, f"ours {row.ours!r}, theirs {row.theirs!r}, tolerance {row.tolerance!r}: {row.source}"


@pytest.mark.parametrize("topic", collect.topics())
def test_every_row_says_where_its_value_and_its_tolerance_come_from(topic: str) -> None:
    for row in rows_of(topic):
        assert row.source.strip(), row.name
        assert row.reason.strip(), row.name
        assert row.tolerance >= 0.0, row.name


@pytest.mark.parametrize("topic", collect.topics())
def test_names_are_unique_within_a_topic(topic: str) -> None:
    names = [row.name for row in rows_of(topic)]
    assert len(names) == len(set(names))


@pytest.mark.parametrize("topic", collect.topics())
def test_cited_keys_stand_in_the_bibliography(topic: str) -> None:
    keys = set(re.findall(r"^@\w+\{([^,]+),", BIBLIOGRAPHY.read_text(encoding="utf-8"), re.MULTILINE))
    cited = {
        key for row in rows_of(topic) for key in re.findall(r"\b[A-Z][a-z][A-Za-z]*(?:1[89]|20)\d\d\b", row.source)
    }
    assert cited <= keys


def names_on_the_page() -> dict[str, list[str]]:
    """First cells of the tables in docs/checks.md, by topic."""
    parts = re.split(r"^## (.+)\n", (DOCS / "checks.md").read_text(encoding="utf-8"), flags=re.MULTILINE)[1:]
    topics = [title.lower().replace(" ", "_") for title in parts[::2]]
    cells = [re.findall(r"^\| (.*?) (?<!\\)\|", part, re.MULTILINE)[2:] for part in parts[1::2]]
    return {topic: [cell.replace("\\|", "|") for cell in part] for topic, part in zip(topics, cells, strict=True)}


@pytest.mark.parametrize("topic", collect.topics())
def test_the_page_of_checks_names_the_current_rows(topic: str) -> None:
    """Where it does not: python -m bibula verify --markdown > docs/checks.md."""
    assert names_on_the_page()[topic] == [row.name for row in rows_of(topic)]


def test_the_page_of_checks_has_no_other_topic_and_no_failed_row() -> None:
    page = (DOCS / "checks.md").read_text(encoding="utf-8")
    assert list(names_on_the_page()) == collect.topics()
    assert "all within tolerance" in page
    assert "| FAILS |" not in page
