"""The collector of check rows and the command that prints them."""

from __future__ import annotations

import argparse
import json
from types import SimpleNamespace

import pytest

from bibula.checks import collect
from bibula.checks.rows import CheckRow
from bibula.cli import verify
from bibula.quantities.errors import InputError

GOOD = CheckRow("good", "a source", "computed", 1.0, 1.0, 0.1, "a reason")
SHARE = CheckRow("share | of", "a source", "memory", 101.0, 100.0, 0.02, "a reason", relative=True)
BAD = CheckRow("bad", "a source", "library", 2.0, 1.0, 0.1, "a reason")


def broken() -> list[CheckRow]:
    raise ZeroDivisionError("in the\nmiddle")


@pytest.fixture
def topics(monkeypatch: pytest.MonkeyPatch) -> dict[str, SimpleNamespace]:
    table = {"one": SimpleNamespace(rows=lambda: [GOOD, SHARE]), "two": SimpleNamespace(rows=lambda: [GOOD])}
    monkeypatch.setattr(collect, "topics", lambda: list(table))
    monkeypatch.setattr(collect, "_load", table.__getitem__)
    return table


def run(*words: str) -> int:
    parser = argparse.ArgumentParser()
    verify.add_arguments(parser)
    return verify.run(parser.parse_args(words))


def test_the_helpers_are_no_topics() -> None:
    found = collect.topics()
    assert {"psychrometrics", "sorptivity"} <= set(found)
    assert not {"rows", "collect"} & set(found)


def test_a_topic_that_breaks_becomes_a_failed_row(topics: dict[str, SimpleNamespace]) -> None:
    topics["two"].rows = broken
    (row,) = collect.topic_rows("two")
    assert not row.ok
    assert "ZeroDivisionError: in the middle" in row.name


def test_rows_that_ran_stay_when_library_rows_break(topics: dict[str, SimpleNamespace]) -> None:
    topics["one"].library_rows = broken
    assert [row.ok for row in collect.topic_rows("one")] == [True, True, False]


def test_library_rows_can_be_left_out(topics: dict[str, SimpleNamespace]) -> None:
    topics["one"].library_rows = broken
    assert all(row.ok for row in collect.topic_rows("one", libraries=False))


def test_all_rows_tells_where_it_is(topics: dict[str, SimpleNamespace]) -> None:
    told: list[tuple[str, int, int]] = []
    assert len(collect.all_rows(lambda *words: told.append(words))) == 3
    assert told == [("one", 1, 2), ("two", 2, 2)]


def test_all_within_tolerance_leaves_with_zero(
    topics: dict[str, SimpleNamespace], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run() == 0
    assert "3 checks, all within tolerance." in capsys.readouterr().out


def test_one_failure_leaves_with_one_and_says_so(
    topics: dict[str, SimpleNamespace], capsys: pytest.CaptureFixture[str]
) -> None:
    topics["two"].rows = lambda: [BAD]
    assert run() == 1
    out = capsys.readouterr().out
    assert "FAILS bad" in out
    assert "1 of 3 checks FAIL." in out


def test_only_the_named_topics_run(topics: dict[str, SimpleNamespace], capsys: pytest.CaptureFixture[str]) -> None:
    assert run("two") == 0
    assert "1 checks" in capsys.readouterr().out


def test_an_unknown_topic_is_one_sentence(topics: dict[str, SimpleNamespace]) -> None:
    with pytest.raises(InputError, match="no topic 'three'; use one of one, two"):
        run("three")


def test_json_has_the_agreed_keys_and_absolute_tolerances(
    topics: dict[str, SimpleNamespace], capsys: pytest.CaptureFixture[str]
) -> None:
    topics["two"].rows = broken
    assert run("--json") == 1
    good, share, failed = json.loads(capsys.readouterr().out)
    assert set(good) == {"name", "source", "origin", "ours", "theirs", "tolerance", "ok"}
    assert share["tolerance"] == pytest.approx(2.0)
    assert failed["ours"] is None
    assert failed["ok"] is False


def test_markdown_escapes_its_separators(
    topics: dict[str, SimpleNamespace], capsys: pytest.CaptureFixture[str]
) -> None:
    run("--markdown")
    out = capsys.readouterr().out
    assert "| share \\| of | 101 | 100 | 2 % | a reason | memory | a source | ok |" in out


@pytest.mark.parametrize("width", [60, 80, 132, 200])
def test_no_line_is_wider_than_the_terminal(width: int) -> None:
    rows = {"psychrometrics": collect.topic_rows("psychrometrics", libraries=False)}
    assert max(len(line) for line in verify.as_table(rows, width).splitlines()) <= width
