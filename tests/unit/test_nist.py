"""NIST's reference sets: read as published, reached from both starts, to at least six digits."""

import pytest

from bibula.checks import drying_models, nist


@pytest.mark.parametrize("name", nist.MODELS)
@pytest.mark.parametrize("start", [1, 2])
def test_certified_values_are_reached_to_six_digits(name, start):
    data, result = nist.read_reference(name), nist.fit_reference(name, start)
    assert result.converged
    worst = min(nist.matching_digits(ours, theirs) for ours, theirs in zip(result.estimates, data.values, strict=True))
    assert worst > 6.0


def test_files_are_read_whole():
    counts = {name: (len(nist.read_reference(name).x), len(nist.read_reference(name).values)) for name in nist.MODELS}
    assert counts == {
        "Misra1a": (14, 2),
        "BoxBOD": (6, 2),
        "MGH09": (11, 4),
        "Rat42": (9, 3),
        "DanWood": (6, 2),
        "Thurber": (37, 7),
    }
    assert nist.read_reference("BoxBOD").starts == ((1.0, 1.0), (100.0, 0.75))


def test_matching_digits_counts_digits():
    assert nist.matching_digits(1.001, 1.0) == pytest.approx(3.0)
    assert nist.matching_digits(2.5, 2.5) == 15.0


def test_every_row_holds_and_none_is_named_twice():
    rows = nist.rows() + drying_models.rows()
    assert [row.name for row in rows if not row.ok] == []
    assert len({row.name for row in rows}) == len(rows)


def test_a_wrong_fit_would_be_seen():
    data = nist.read_reference("Rat42")
    from bibula.statistics.fitting import Guess, fit_curve

    spoiled = data.y.copy()
    spoiled[3] += 0.01
    result = fit_curve(nist.MODELS["Rat42"], data.x, spoiled, {"b1": Guess(75.0), "b2": Guess(2.5), "b3": Guess(0.07)})
    assert nist.matching_digits(result["b1"], data.values[0]) < 6.0
