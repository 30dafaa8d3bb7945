"""Draws and ensembles: margins, correlations, ranges; seeds, bands, lost members."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from bench_plans import BLOTTER, SLAB, cards, ensemble, laid, narrowed, rack, template, thing

from bibula.cards.model import PROPERTIES
from bibula.cards.priors import spread_of
from bibula.forecast.draws import DRYING_SHARE_LOW, cards_used, members, nominal
from bibula.forecast.ensemble import estimate, quantile, run_ensemble
from bibula.forecast.forecast import assemble, starting_water
from bibula.forecast.inputs import warnings
from bibula.quantities.errors import ValidityError

PAPER = "rag paper (starting card)"


def drawn(n: int = 400, seed: int = 3, known=None):
    a_laid = laid(rack(), known)
    return members(a_laid, starting_water(a_laid), n, seed)


def column(numbers, key: str, card: str = PAPER) -> np.ndarray:
    return np.array([m.cards[card][key] for m in numbers])


@pytest.mark.parametrize("key", ["gab_monolayer_kg_kg", "density_kg_m3"])
def test_margins_have_the_cards_median_and_spread(key: str) -> None:
    values, told = np.log(column(drawn(), key)), cards()[PAPER].values[key]
    assert np.median(values) == pytest.approx(np.log(told.value), abs=0.02)
    assert values.std() == pytest.approx(spread_of(key, told), rel=0.1)


def test_every_draw_is_within_its_propertys_range() -> None:
    wide = {n: c.with_values(gab_k=replace(c.values["gab_k"], u=0.4)) for n, c in cards().items()}
    values = column(drawn(known=wide), "gab_k")
    assert values.max() == PROPERTIES["gab_k"].high
    assert values.min() >= PROPERTIES["gab_k"].low


def test_correlations_of_a_card_are_drawn() -> None:
    pair = ("capacity_kg_m3", "absorption_kg_m2s05")
    known = {**cards(), PAPER: replace(cards()[PAPER], correlations={pair: 0.9})}
    numbers = drawn(known=known)
    found = np.corrcoef(*(np.log(column(numbers, k)) for k in pair))[0, 1]
    assert found == pytest.approx(0.9, abs=0.05)


def test_the_room_and_the_branch_are_drawn_as_told() -> None:
    numbers = drawn()
    assert np.std([m.room_shift_rh for m in numbers]) == pytest.approx(0.03, rel=0.1)
    shares = [m.drying_share for m in numbers]
    assert DRYING_SHARE_LOW < min(shares) < DRYING_SHARE_LOW + 0.01 < 0.99 < max(shares) < 1.0


def test_a_start_without_uncertainty_is_the_same_in_all() -> None:
    dry = thing(start={"state": "measured", "water_content": 1.1, "u_water_content": 0.0})
    a_laid = laid(rack(object_=dry))
    assert {m.water_content for m in members(a_laid, starting_water(a_laid), 20, 1)} == {(1.1,)}


def test_only_cards_that_lie_in_a_stack_are_drawn() -> None:
    a_laid = laid(template("slab-both"))
    assert set(cards_used(a_laid)) == {SLAB, "interleaf (starting card)", PAPER}
    assert BLOTTER not in nominal(a_laid, starting_water(a_laid)).cards


def test_an_air_dry_start_is_in_balance_with_the_room() -> None:
    weighed_elsewhere = {"air_dry_mass_g": 18.0, "air_dry_rh_percent": 80.0}
    dry, moved = (thing(start={"state": "air-dry"}, **more) for more in ({}, weighed_elsewhere))
    assert starting_water(laid(rack(object_=dry))) == starting_water(laid(rack(object_=moved)))


def test_the_same_seed_gives_the_same_answer() -> None:
    one, two, other = (ensemble(rack("1 h"), 6, seed=s).traces for s in (1, 1, 2))
    assert all((a.water == b.water).all() for a, b in zip(one, two, strict=True))
    assert not (one[0].water == other[0].water).all()


def test_the_band_holds_the_nominal_member() -> None:
    run = ensemble(rack("3 h"), 40)
    band = run.band(lambda t: t.water, "kg/m2")
    assert ((band.low <= run.nominal.water) & (run.nominal.water <= band.high)).all()
    assert (band.low <= band.median).all()


def test_more_uncertainty_gives_a_wider_band() -> None:
    widths = []
    for share in (0.2, 1.0):
        band = ensemble(template("blotters"), 30, known=narrowed(share)).band(lambda t: t.water, "kg/m2")
        widths.append(float((band.high - band.low).mean()))
    assert widths[0] < 0.7 * widths[1]


def broken(n: int, of: int):
    """Members of which some start with less than no water: the model refuses them."""
    a_laid = laid(rack("30 min"))
    numbers = members(a_laid, starting_water(a_laid), of, 1)
    bad = [replace(m, water_content=(-1.0,)) for m in numbers[:n]]
    return run_ensemble(a_laid, starting_water(a_laid), of, 1, numbers=[*bad, *numbers[n:]])


def test_a_lost_member_is_said() -> None:
    run = broken(1, 20)
    assert (run.lost, len(run.traces), len(run.numbers)) == (1, 19, 19)
    said = [w for w in warnings(run) if "left out" in w]
    assert said == ["1 members of the ensemble lay outside the model's range and are left out."]
    assert said[0] in assemble(run, ()).warnings


def test_too_many_lost_members_are_refused() -> None:
    with pytest.raises(ValidityError, match="5 of 20 members"):
        broken(5, 20)


def test_quantiles_of_times_never_reached_stay_at_the_end() -> None:
    times = np.array([1.0, 2.0, 3.0, np.inf, np.inf])
    assert quantile(times, 0.3) == 2.0
    assert np.isinf(estimate(list(times)).high)
    assert estimate(list(times)).median == 3.0
