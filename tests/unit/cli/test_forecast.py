"""`bibula forecast` and `bibula sheet`: what they print and write, and what they refuse."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bibula.cli.main import main
from bibula.report.formatting import about, duration

FEW = ["--members", "20"]


def refused(words: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    """The one sentence with which a call is refused."""
    assert main(words) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    assert err.count("\n") == 1
    return err


def change(plan: Path, old: str, new: str) -> Path:
    text = plan.read_text(encoding="utf-8")
    assert old in text
    plan.write_text(text.replace(old, new, 1), encoding="utf-8")
    return plan


def test_the_printed_times_are_those_of_the_json(
    plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "numbers" / "all.json"
    assert main(["forecast", str(plan), *FEW, "--json", str(file)]) == 0
    out = capsys.readouterr().out
    numbers = json.loads(file.read_text(encoding="utf-8"))
    assert numbers["members"] == 20
    assert "INVENTED" in out
    plain = " ".join(out.split())
    for m in numbers["milestones"]:
        assert f"{m['label']}: {about(m['time_s'], m['low_s'], m['high_s'])}" in plain
    assert duration(numbers["times_s"][-1]) in out


def test_json_carries_curves_with_units(plan: Path, tmp_path: Path) -> None:
    file = tmp_path / "all.json"
    main(["forecast", str(plan), *FEW, "--json", str(file)])
    numbers = json.loads(file.read_text(encoding="utf-8"))
    band = numbers["sheet_water_g_m2"]
    assert band["unit"] == "g/m2"
    assert len(band["median"]) == len(numbers["times_s"])
    assert all(a <= b <= c for a, b, c in zip(band["low"], band["median"], band["high"], strict=True))


def test_the_number_of_workers_changes_nothing(plan: Path, tmp_path: Path) -> None:
    texts = []
    for count in ("1", "2"):
        file = tmp_path / f"{count}.json"
        main(["forecast", str(plan), *FEW, "--workers", count, "--json", str(file)])
        texts.append({k: v for k, v in json.loads(file.read_text(encoding="utf-8")).items() if k != "made"})
    assert texts[0] == texts[1]


def test_sheet_writes_two_files_and_says_where(plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sheet", str(plan), *FEW, "--out", str(tmp_path / "sheets"), "--units", "inch"]) == 0
    written = sorted(path.suffix for path in (tmp_path / "sheets").iterdir())
    assert written == [".html", ".pdf"]
    assert capsys.readouterr().out.count("Written: ") == 2


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("grammage_g_m2", "gramage_g_m2", ["line 7", "grammage_g_m2"]),
        ('"blotter (starting card)", id = "b3"', '"bloter (starting card)", id = "b3"', ["line 31", "blotter (st"]),
        ('duration = "16 h"', "duration = 16", ["line 29", "unit"]),
        ('fibre = "rag"', 'fibre = "rag"\nmedia = [{ what = "verdigris", where = "recto" }]', ["copper-green-wet"]),
        ('title = "Two', 'cards = ["none"]\ntitle = "Two', ["none"]),
    ],
)
def test_a_mistake_is_one_sentence_with_its_place(
    plan: Path, capsys: pytest.CaptureFixture[str], old: str, new: str, words: list[str]
) -> None:
    err = refused(["forecast", str(change(plan, old, new)), *FEW], capsys)
    assert [word for word in words if word not in err] == []
    assert str(plan.parent) in err


def test_a_stop_is_refused_with_its_source_and_nothing_is_written(
    plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    change(plan, 'fibre = "rag"', 'fibre = "rag"\nmedia = [{ what = "iron-gall ink", where = "both" }]')
    out = tmp_path / "sheets"
    err = refused(["forecast", str(plan), *FEW, "--out", str(out), "--json", str(tmp_path / "a.json")], capsys)
    assert "iron-gall-wet" in err
    assert "irongallink.org" in err
    assert sorted(path.name for path in tmp_path.iterdir()) == ["plan.toml"]


@pytest.mark.parametrize(
    ("words", "hint"),
    [
        (["forecast", "nowhere.toml"], "nowhere.toml"),
        (["sheet", "nowhere.toml"], "nowhere.toml"),
        (["update", "nowhere.toml", "seen.toml"], "nowhere.toml"),
    ],
)
def test_a_missing_file_is_named(words: list[str], hint: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert hint in refused(words, capsys)


@pytest.mark.parametrize("option", [["--members", "3"], ["--workers", "0"], ["--begin", "2031-04-02 09:00"]])
def test_an_option_that_makes_no_sense_is_named(
    plan: Path, capsys: pytest.CaptureFixture[str], option: list[str]
) -> None:
    assert option[0] in refused(["forecast", str(plan), *option], capsys)


def test_a_card_file_of_ones_own_is_taken(plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from dataclasses import replace

    from bibula.cards.files import write_card
    from bibula.cards.library import starting_cards

    own = replace(starting_cards()["blotter (starting card)"], name="Own blotter")
    (tmp_path / "cards").mkdir()
    write_card(own, tmp_path / "cards" / "own.toml")
    change(plan, '"blotter (starting card)", id = "b3"', '"Own blotter", id = "b3"')
    assert main(["forecast", str(plan), *FEW, "--cards", str(tmp_path / "cards")]) == 0
    assert "Own blotter" in capsys.readouterr().out


def test_a_room_log_shorter_than_the_plan_is_remarked(
    plan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = ["time,temperature [°C],humidity [%]"] + [f"2031-04-02T{h:02d}:00:00,20,50" for h in range(8, 14)]
    (tmp_path / "log.csv").write_text("\n".join(rows), encoding="utf-8")
    change(plan, "temperature_c = 20", 'temperature_c = 20\nlogger = "log.csv"')
    assert main(["forecast", str(plan), *FEW, "--begin", "2031-04-02 09:30"]) == 0
    assert "covers 3.5 h of the plan's 16.3 h" in capsys.readouterr().err
    assert "ends before the plan" in refused(["forecast", str(plan), *FEW, "--begin", "2031-04-03 09:30"], capsys)
    assert "write it as" in refused(["forecast", str(plan), *FEW, "--begin", "nine o'clock"], capsys)
