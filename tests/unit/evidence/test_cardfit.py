"""A fit finds the truth it was given, says what it does not know, and keeps errors honest."""

from __future__ import annotations

import numpy as np
import pytest

from bibula.cards.files import card_from_text, card_to_text
from bibula.cards.model import Card
from bibula.cards.priors import class_priors
from bibula.checks.card_recovery import compare, draw_case, invented_tests
from bibula.evidence.cardfit import FLOOR_SHARE, fit_card
from bibula.evidence.fit_parameters import Material
from bibula.quantities.errors import InputError

SEED = 20251125
CLEAN = 3


@pytest.fixture(scope="module")
def clean():
    """Noise-free readings of a slab that fills within the series."""
    case = draw_case("slab", np.random.default_rng([SEED, CLEAN]), exact=True)
    tests = invented_tests(case, None)
    return case, tests, fit_card(Material("invented", "slab", case.piece, date="2026-11-25"), tests)


@pytest.mark.parametrize("key", ["capacity_kg_m3", "absorption_kg_m2s05"])
def test_noise_free_readings_give_the_truth_back(clean, key):
    case, _, found = clean
    assert found.card[key] == pytest.approx(case.values[key], rel=0.01)


def test_noise_free_readings_are_fitted_within_their_errors(clean):
    _, _, found = clean
    assert found.result.chi2 < 0.2 * found.result.n_data
    assert found.error_scale == 1.0


def test_uptake_and_isotherm_are_measured_and_heat_stays_assumed(clean):
    _, _, found = clean
    assert {"capacity_kg_m3", "absorption_kg_m2s05", "gab_monolayer_kg_kg"} <= set(found.measured)
    assert {"conductivity_w_mk", "bridge_suction_pa", "median_suction_pa"} <= set(found.assumed)
    assert found.card.values["capacity_kg_m3"].source


def test_what_stays_assumed_keeps_its_width(clean):
    _, _, found = clean
    for key in ("median_suction_pa", "suction_spread"):
        value = found.card.values[key]
        assert value.u / value.value >= 0.999 * FLOOR_SHARE * class_priors("slab")[key].spread


def test_the_card_survives_its_file(clean):
    _, _, found = clean
    assert card_from_text(card_to_text(found.card)) == found.card


def test_the_sizes_of_the_piece_enter_the_uncertainties(clean):
    _, _, found = clean
    card = found.card
    assert card.values["thickness_m"].u == pytest.approx(1e-4)
    pairs = card.correlations
    assert pairs.get(("density_kg_m3", "thickness_m"), 0.0) < -0.5


@pytest.mark.parametrize("seed", [2, 12, 16])
def test_noisy_readings_of_a_material_from_the_priors_are_recovered(seed):
    rng = np.random.default_rng([SEED, seed])
    case = draw_case("slab", rng)
    found = fit_card(Material("invented", "slab", case.piece), invented_tests(case, rng))
    recovery = compare(case, found)
    # each within 3 standard errors: one case in some hundreds would not be
    assert abs(recovery.off["capacity_kg_m3"]) < 3.0
    assert abs(recovery.off["absorption_kg_m2s05"]) < 3.0
    assert recovery.time_ratio == pytest.approx(1.0, abs=0.3)


def test_a_sealed_rest_tells_the_suction():
    case = draw_case("slab", np.random.default_rng([SEED, CLEAN]), exact=True)
    uptake, _, _, conditioning, rest = invented_tests(case, None, rest=True)
    found = fit_card(Material("invented", "slab", case.piece), [uptake, conditioning, rest])
    without = fit_card(Material("invented", "slab", case.piece), [uptake, conditioning])
    i, j = found.result.index("median_suction_pa"), without.result.index("median_suction_pa")
    assert found.result.determined[i] > without.result.determined[j] + 0.1


def test_an_uptake_alone_says_what_is_missing():
    case = draw_case("slab", np.random.default_rng([SEED, CLEAN]), exact=True)
    found = fit_card(Material("invented", "slab", case.piece), invented_tests(case, None)[:1])
    assert any("No test tells of the contact with paper" in w for w in found.warnings)
    assert set(found.measured) == {"capacity_kg_m3", "absorption_kg_m2s05"}
    contact = found.card.values["contact_kg_m2spa"]
    assert (contact.value, contact.origin) == (class_priors("slab")["contact_kg_m2spa"].median, "assumed")


def test_a_piece_full_at_the_first_reading_only_bounds_a_w():
    case = draw_case("slab", np.random.default_rng([SEED, 22]), exact=True)
    assert case.values["absorption_kg_m2s05"] > 5.0
    found = fit_card(Material("invented", "slab", case.piece), invented_tests(case, None)[:1])
    value = found.card.values["absorption_kg_m2s05"]
    assert value.u / value.value > 0.2
    assert any("Weigh sooner" in w for w in found.warnings)


def test_a_wrong_reading_widens_the_errors_and_is_told():
    case = draw_case("slab", np.random.default_rng([SEED, CLEAN]), exact=True)
    test = invented_tests(case, None)[0]
    wrong = test.mass_kg.copy()
    wrong[-2] += 0.004
    object.__setattr__(test, "mass_kg", wrong)
    found = fit_card(Material("invented", "slab", case.piece), [test])
    assert found.error_scale > 1.5
    assert any("Look at the residuals" in w for w in found.warnings)


def test_profile_intervals_agree_with_the_standard_errors_where_all_is_straight(clean):
    case, tests, _ = clean
    found = fit_card(Material("invented", "slab", case.piece), [tests[0], tests[3]], profile=True)
    p = found.profiles["capacity_kg_m3"]
    sd = float(found.result.log_standard_errors[found.result.index("capacity_kg_m3")])
    assert np.log(p.high / p.low) == pytest.approx(2 * 1.96 * sd, rel=0.4)


def test_nothing_to_fit_is_said():
    case = draw_case("slab", np.random.default_rng(1), exact=True)
    with pytest.raises(InputError, match="no test"):
        fit_card(Material("x", "slab", case.piece), [])


def test_a_film_has_nothing_to_fit():
    case = draw_case("slab", np.random.default_rng(1), exact=True)
    with pytest.raises(InputError, match="takes no water"):
        fit_card(Material("x", "film", case.piece), invented_tests(case, None))


def test_two_tests_of_one_name_are_refused():
    case = draw_case("slab", np.random.default_rng(1), exact=True)
    uptake = invented_tests(case, None)[0]
    with pytest.raises(InputError, match="two tests are called"):
        fit_card(Material("x", "slab", case.piece), [uptake, uptake])


def test_an_earlier_card_is_the_prior():
    case = draw_case("slab", np.random.default_rng([SEED, CLEAN]), exact=True)
    tests = invented_tests(case, None)
    first = fit_card(Material("invented", "slab", case.piece), tests[:1])
    second = fit_card(Material("invented", "slab", case.piece, before=first.card), tests[3:])
    assert isinstance(second.card, Card)
    assert second.card["absorption_kg_m2s05"] == pytest.approx(first.card["absorption_kg_m2s05"])
    assert second.card.values["absorption_kg_m2s05"].origin == "measured"
