"""The command line of plans."""

from __future__ import annotations

import argparse

import pytest

from bibula.cli import plan as command
from bibula.plan.files import read_plan
from bibula.quantities.errors import InputError


def call(*words):
    parser = argparse.ArgumentParser()
    command.add_arguments(parser)
    return command.run(parser.parse_args(list(words)))


def test_templates_are_listed(capsys):
    assert call("templates") == 0
    assert "between blotters under weight" in capsys.readouterr().out


def test_new_then_check(tmp_path, capsys):
    out = str(tmp_path / "p.toml")
    assert call("new", "--template", "felts", "--out", out, "--medium", "printing ink", "--feature", "plate mark") == 0
    assert read_plan(out).object.features[0].what == "plate mark"
    assert call("check", out) == 0
    said = capsys.readouterr().out
    assert "OBJECT, recto up" in said
    assert "the responsible conservator decides" in said


def test_check_of_a_forbidden_plan_leaves_with_two(tmp_path, capsys):
    out = str(tmp_path / "p.toml")
    call("new", "--template", "damp-chamber", "--out", out, "--medium", "iron-gall ink")
    assert call("check", out) == 2
    assert "Rule: iron-gall-damp" in capsys.readouterr().out


def test_an_old_file_is_kept(tmp_path):
    out = tmp_path / "p.toml"
    out.write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match="already there"):
        call("new", "--template", "felts", "--out", str(out))
    assert out.read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize(
    ("option", "value", "words"),
    [
        ("--size", "420 x 297", "is not a size"),
        ("--humidity", "0.5", "write 50"),
        ("--feature", "plate mrk", "did you mean 'plate mark'"),
        ("--start", "dripping", "choose one of"),
        ("--grammage", "-3", "outside"),
    ],
)
def test_wrong_options_are_sentences(tmp_path, option, value, words):
    with pytest.raises(InputError, match=words):
        call("new", "--template", "felts", "--out", str(tmp_path / "p.toml"), option, value)
