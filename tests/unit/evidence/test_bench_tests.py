"""The forward models against the full grid, and what a test refuses."""

from __future__ import annotations

import numpy as np
import pytest

from bibula.checks.card_recovery import draw_case, invented_tests
from bibula.evidence.bench_tests import AirDryingTest, ConditioningTest, SealedRestTest, UptakeTest
from bibula.evidence.pieces import Piece, Surroundings, WeighingError
from bibula.physics.stack import film_at
from bibula.quantities.errors import InputError

PIECE = Piece(0.1, 0.1, 0.011, 0.1298)


@pytest.fixture(scope="module", params=[1, 4])
def case_and_tests(request):
    case = draw_case("slab", np.random.default_rng(request.param), exact=True)
    return case, invented_tests(case, None, rest=True)


@pytest.mark.parametrize("which", [0, 1, 2])
def test_quick_models_stay_within_a_third_of_the_weighing_error_of_the_full_grid(case_and_tests, which):
    case, tests = case_and_tests
    test = tests[which]
    quick = test.predict(case.values, case.surroundings)
    fine = test.predict(case.values, case.surroundings, fine=True)
    sigma = test.sigma(case.values, case.surroundings)
    span = float(np.ptp(np.append(fine, test.mass_kg[0] if which else 0.0)))
    # a third of one weighing's error, or 0.4 % of all the water that moved, whichever is more
    assert np.all(np.abs(quick - fine) < np.maximum(sigma / 3.0, 4e-3 * span))


def test_an_uptake_is_the_root_of_time_until_the_piece_is_full():
    case = draw_case("slab", np.random.default_rng(1), exact=True)
    uptake = invented_tests(case, None)[0]
    v, film = case.values, case.surroundings.film_kg_m2
    gain = uptake.predict(v, case.surroundings) / uptake.wetted_m2 - film
    free = gain < 0.7 * gain.max()
    # A_w by definition, from the start at 50 % RH; 1 % for the coarse grid
    assert free.any()
    assert gain[free] == pytest.approx(v["absorption_kg_m2s05"] * np.sqrt(uptake.x[free]), rel=0.01)


def test_a_sealed_rest_conserves_the_water_and_shares_it_at_one_suction(case_and_tests):
    case, tests = case_and_tests
    rest = next(t for t in tests if isinstance(t, SealedRestTest))
    drier = rest.predict(
        {**case.values, "median_suction_pa": 4.0 * case.values["median_suction_pa"]}, case.surroundings
    )
    assert np.all(drier < rest.predict(case.values, case.surroundings))
    assert rest.predict(case.values, case.surroundings) == pytest.approx(rest.sheet_kg, rel=1e-9)


def test_conditioning_is_the_isotherm(case_and_tests):
    case, tests = case_and_tests
    conditioning = next(t for t in tests if isinstance(t, ConditioningTest))
    water = conditioning.predict(case.values) / case.piece.mass_kg - 1.0
    v, a = case.values, conditioning.humidity
    x = v["gab_k"] * a
    gab = v["gab_monolayer_kg_kg"] * v["gab_c"] * x / ((1 - x) * (1 - x + v["gab_c"] * x))
    # the pores' tail adds a little, most in the moistest air
    assert water == pytest.approx(gab, rel=0.03)


def test_timing_counts_most_where_the_piece_drinks_fastest():
    error = WeighingError(1e-5, 0.0, 1.0)
    assert error.sigma(0.01, np.array([1e-3]))[0] == pytest.approx(1e-3, rel=1e-3)
    assert error.sigma(0.01, np.array([0.0]))[0] == pytest.approx(1e-5 / np.sqrt(6.0))


def test_a_piece_cannot_start_its_drying_above_full():
    full = 480.0 * PIECE.volume_m3
    films = 2.0 * PIECE.face_m2 * float(film_at(np.zeros(1))[0])
    start = PIECE.mass_kg + full + films
    test = AirDryingTest(
        name="d", piece=PIECE, time_s=np.array([0, 1e3, 2e3]), mass_kg=start - np.array([0, 1e-3, 2e-3])
    )
    assert test.limits({"capacity_kg_m3": 480.0})[0] == pytest.approx(0.0, abs=1e-9)
    assert test.limits({"capacity_kg_m3": 450.0})[0] > 3.0


def _uptake(times, masses, piece=PIECE):
    return UptakeTest(name="u", piece=piece, time_s=np.array(times, float), mass_kg=np.array(masses, float))


def test_milligrams_for_grams_is_refused():
    with pytest.raises(InputError, match="check the unit of the masses"):
        _uptake([0, 5, 10], [129.8, 140.0, 145.0])


def test_a_dry_piece_heavier_than_wet_is_refused():
    with pytest.raises(InputError, match="heavier than it is later"):
        _uptake([0, 5, 10], [0.145, 0.140, 0.130])


def test_times_that_do_not_rise_are_refused():
    with pytest.raises(InputError, match="order of time"):
        _uptake([0, 10, 5], [0.1298, 0.145, 0.140])


def test_more_water_than_volume_is_refused():
    with pytest.raises(InputError, match="more than its own volume"):
        _uptake([0, 5, 10], [0.1298, 0.14, 0.26])


def test_a_piece_lighter_than_air_is_refused():
    with pytest.raises(InputError, match=r"would have 1\.18 kg/m3"):
        Piece(0.1, 0.1, 0.011, 1.298e-4).check(_uptake([0, 5, 10], [0.1298, 0.14, 0.145]).place())


def test_a_drying_that_gains_is_refused():
    with pytest.raises(InputError, match="order of the rows"):
        AirDryingTest(name="d", piece=PIECE, time_s=np.array([0, 1.0, 2.0]), mass_kg=np.array([0.13, 0.15, 0.18]))


def test_moister_air_must_make_it_heavier():
    with pytest.raises(InputError, match="no more in the moister air"):
        ConditioningTest(name="c", piece=PIECE, humidity=np.array([0.33, 0.75]), mass_kg=np.array([0.133, 0.131]))


def test_surroundings_default_to_the_plain_room():
    assert Surroundings().surface_factor == 1.0
