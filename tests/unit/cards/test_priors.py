"""Class priors: every kind has every property, and filling a card is marked."""

from typing import get_args

import pytest

from bibula.cards.library import starting_cards
from bibula.cards.model import PROPERTIES, Card, Kind
from bibula.cards.priors import class_priors, complete, prior_value, spread_of, suction_of_radius
from bibula.quantities.values import Value

KINDS = get_args(Kind)


@pytest.mark.parametrize("kind", KINDS)
def test_priors_are_complete_and_allowed(kind):
    priors = class_priors(kind)
    assert list(priors) == list(PROPERTIES)
    assert all(prior.spread > 0 for prior in priors.values())
    Card("x", kind, {key: prior_value(kind, key) for key in PROPERTIES})  # refuses what is out of range


@pytest.mark.parametrize("kind", KINDS)
def test_complete_fills_and_marks(kind):
    mine = Value(0.01, "m", 1e-4, "measured", "calliper")
    card = complete(Card("x", kind, {"thickness_m": mine}))
    assert list(card.values) == list(PROPERTIES)
    assert card.values["thickness_m"] == mine
    assert all(card.values[key].origin == "assumed" for key in PROPERTIES if key != "thickness_m")
    assert "density_kg_m3" in card.notes[-1]
    assert "thickness_m" not in card.notes[-1]
    assert complete(card) is card


@pytest.mark.parametrize("kind", KINDS)
def test_spread_goes_there_and_back(kind):
    for key, prior in class_priors(kind).items():
        expected = 0.0 if prior.median == 0.0 else prior.spread
        assert spread_of(key, prior_value(kind, key)) == pytest.approx(expected)


def test_absorbing_kinds_hold_more_than_they_sorb():
    for kind in KINDS:
        if kind == "film":
            continue
        p = {key: prior.median for key, prior in class_priors(kind).items()}
        m, c, k = p["gab_monolayer_kg_kg"], p["gab_c"], p["gab_k"]
        sorbed = m * c * k / ((1 - k) * (1 - k + c * k))  # GAB at a relative humidity of one
        assert p["capacity_kg_m3"] > 1.2 * p["density_kg_m3"] * sorbed


def test_starting_cards_agree_with_the_priors_of_their_kind():
    """Within three spreads; acrylic, glass and air are far apart on purpose, so films are left out."""
    for card in starting_cards().values():
        if card.kind == "film":
            continue
        for key, prior in class_priors(card.kind).items():
            low, high = prior.median * (1 - 3 * prior.spread), prior.median * 2.718 ** (3 * prior.spread)
            assert low <= card[key] <= high, (card.name, key)


def test_suction_of_one_micrometre():
    """145.5 kPa, computed independently with a surface tension of 0.07275 N/m; 0.2 % for the rounding to 0.0728."""
    assert suction_of_radius(1e-6) == pytest.approx(145.5e3, rel=2e-3)
