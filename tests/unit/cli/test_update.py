"""`bibula update`: the file of observations, what is printed, what is refused."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from bibula.cards.library import starting_cards
from bibula.cli.main import main
from bibula.forecast.bench import BRANCH_SHARE, GRAMMAGE_SHARE, bench_observations, dry_mass_kg
from bibula.forecast.laying import lay
from bibula.plan.files import read_plan
from bibula.plan.observed import NEEDED, parse_observed

FEW = ["--members", "20"]
HEAD = '[[observation]]\nat = "10 min"\n'


def observed(plan: Path, text: str):
    return bench_observations(read_plan(plan), starting_cards(), parse_observed(HEAD + text))


def test_the_corrected_times_stand_beside_the_former(
    plan: Path, seen: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["update", str(plan), str(seen), *FEW, "--out", str(tmp_path / "sheets")]) == 0
    out = capsys.readouterr().out
    assert "INVENTED" in out
    assert "This run fits the model" in out
    assert "Handleable: about" in out
    assert out.count("\n      before: ") == 8
    assert len(list((tmp_path / "sheets").iterdir())) == 2


def test_a_run_that_does_not_fit_is_doubted(plan: Path, seen: Path, capsys: pytest.CaptureFixture[str]) -> None:
    seen.write_text(seen.read_text(encoding="utf-8").replace("7.4", "16.5"), encoding="utf-8")
    assert main(["update", str(plan), str(seen), *FEW]) == 0
    assert "CAUTION: This run does not fit the model" in " ".join(capsys.readouterr().out.split())


def test_object_weight_is_told_against_the_air_dry_weight(plan: Path) -> None:
    """So the isotherm's own error cancels; which branch the object lay on before is left, as a width."""
    (found,), remarks = observed(plan, 'what = "object weight"\ngrams = 7.4\nu_grams = 0.1\n')
    laid = lay(read_plan(plan), starting_cards())
    dry, _, remark = dry_mass_kg(read_plan(plan), laid)
    assert 5.5e-3 < dry < 5.8e-3
    assert found.value == pytest.approx((7.4e-3 - 6.0e-3) / 0.06)
    assert found.u == pytest.approx(((0.1e-3) ** 2 + (BRANCH_SHARE * (6.0e-3 - dry)) ** 2) ** 0.5 / 0.06)
    assert found.air_dry_rh == 0.5
    assert (remark, remarks) == ("", ())


def test_without_an_air_dry_mass_the_grammage_must_do_and_it_is_said(plan: Path) -> None:
    text = plan.read_text(encoding="utf-8").replace("air_dry_mass_g = 6.0\nair_dry_rh_percent = 50\n", "")
    plan.write_text(text, encoding="utf-8")
    (found,), remarks = observed(plan, 'what = "object weight"\ngrams = 7.4\nu_grams = 0.01\n')
    laid = lay(read_plan(plan), starting_cards())
    assert found.u == pytest.approx(GRAMMAGE_SHARE * laid.dry_kg_m2, rel=0.01)
    assert "grammage" in remarks[0]


@pytest.mark.parametrize(
    ("text", "value", "u"),
    [
        ('what = "absorbent weight"\nlayer = "b1"\ngrams_before = 20\ngrams = 23\nu_grams = 0.03\n', 0.05, 0.000707),
        ('what = "witness sheet"\ngrams = 3\ndry_grams = 2\nu_grams = 0.02\n', 0.5, 0.01),
        ('what = "surface temperature"\ncelsius = 17.5\nreference_celsius = 19.5\nu_k = 0.4\n', -2.0, 0.4),
        ('what = "seen"\nstage = "onset of distortion"\n', 0.587, 0.1),
    ],
)
def test_every_kind_is_read(plan: Path, text: str, value: float, u: float) -> None:
    (found,), _ = observed(plan, text)
    assert found.value == pytest.approx(value)
    assert found.u == pytest.approx(u, rel=1e-3)
    assert found.time_s == 600.0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (HEAD + 'what = "object weight"\n', ["line 3", "needs grams"]),
        (HEAD + 'what = "objekt weight"\ngrams = 7\n', ["line 3", "object weight"]),
        (HEAD + 'what = "object weight"\ngram = 7\n', ["did you mean 'grams'"]),
        (HEAD + 'what = "seen"\nstage = "white"\ngrams = 7\n', ["line 5", "takes no grams"]),
        (HEAD + 'what = "object weight"\ngrams = 3\n', ["line 4", "dry"]),
        (HEAD + 'what = "absorbent weight"\nlayer = "x"\ngrams_before = 1\ngrams = 2\n', ["line 4", "b1"]),
        (HEAD + 'what = "absorbent weight"\nlayer = "b3"\ngrams_before = 1\ngrams = 2\n', ["line 2", "does not lie"]),
        ('[[observation]]\nat = "40 h"\nwhat = "seen"\nstage = "white"\n', ["line 2", "after the end"]),
        ('[[observation]]\nat = 40\nwhat = "seen"\nstage = "white"\n', ["line 2", "no unit"]),
        ('title = "nothing"\n', ["no observation"]),
        ("[[observation\n", ["line 1", "TOML"]),
    ],
)
def test_a_mistake_is_one_sentence_with_its_place(
    plan: Path, seen: Path, capsys: pytest.CaptureFixture[str], text: str, words: list[str]
) -> None:
    seen.write_text(text, encoding="utf-8")
    assert main(["update", str(plan), str(seen), *FEW]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert [word for word in ["seen.toml", *words] if word not in err] == []


def test_the_example_of_the_docs_is_read() -> None:
    page = (Path(__file__).parents[3] / "docs" / "observations.md").read_text(encoding="utf-8")
    (example,) = re.findall(r"```toml\n(.*?)```", page, re.DOTALL)
    assert {o.what for o in parse_observed(example).observations} == set(NEEDED)
