"""The sources a sheet prints are those of the bibliography."""

import runpy
from pathlib import Path

import pytest

from bibula.report.references import reference, references

TOOL = runpy.run_path(str(Path(__file__).resolve().parents[3] / "tools" / "references.py"))


def test_the_list_is_made_from_the_bibliography_as_it_is_now():
    assert TOOL["TARGET"].read_text(encoding="utf-8") == TOOL["made"](), "run tools/references.py"


def test_every_source_has_a_title():
    assert all(len(work) > 10 for work, _ in references().values())


@pytest.mark.parametrize(
    ("field", "text"),
    [
        ("Doe, A. and Roe, B.", "Doe, A.; Roe, B."),
        ("Doe, A. and others", "Doe, A. and others"),
        ("{{Board of This and That}}", "Board of This and That"),
        (r"K{\"u}nzel, H.", "Künzel, H."),
    ],
)
def test_authors_are_read(field, text):
    assert TOOL["authors"](field) == text


def test_an_entry_without_author_has_its_year_at_the_end():
    entry = {"title": "{ABC} 12", "institution": "ABC", "year": "2020"}
    assert TOOL["printed"](entry) == ("ABC 12.", "ABC, 2020.")


def test_what_is_no_key_is_given_back():
    assert str(reference("measured by hand")) == "measured by hand"
