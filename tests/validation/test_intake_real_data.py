"""Files that other people recorded, read by our readers.

Expected numbers were read in the files themselves by eye; counts are lines of the files less the header.
Sources: leaf drying, R package pvldcurve 1.2.6 (A. Raesch, MIT); sand column, Iden, Diamantopoulos & Durner 2021,
doi 10.1029/2020WR028514 (CC BY 4.0); filter paper, PyPI frontx 0.1.3 (Apache-2.0), after Gerlero et al. 2022.
"""

from __future__ import annotations

import numpy as np
import pytest

from bibula.intake import Wanted, read_columns, read_room_log, read_weighing_groups
from bibula.quantities.errors import InputError

pytestmark = pytest.mark.needs_shared_data


@pytest.fixture
def leaves(shared_data):
    path = shared_data / "leaf_drying.csv"
    return read_weighing_groups(path, by=["treatment", "sample"], mass_column="fresh.weight", mass_unit="g")


def test_leaves_are_twelve_series_of_172_weighings(leaves):
    assert len(leaves) == 12
    assert sum(len(series.time_s) for series in leaves.values()) == 172
    assert sorted(len(series.time_s) for series in leaves.values()) == [13] * 10 + [21] * 2


@pytest.mark.parametrize(("row", "hours", "grams"), [(0, 0.0, 6.0317), (17, 4.57, 5.0552), (20, 11.18, 4.8347)])
def test_first_leaf_has_its_published_weights(leaves, row, hours, grams):
    leaf = leaves["10% / 1"]
    # Tolerance: the hours are quoted to 0.01 h; the grams are exact but for binary rounding.
    assert leaf.time_s[row] / 3600 == pytest.approx(hours, abs=0.005)
    assert leaf.mass_kg[row] * 1000 == pytest.approx(grams, rel=1e-12)


def test_leaf_keeps_start_area_and_plateau_marks(leaves):
    leaf = leaves["10% / 1"]
    assert leaf.start == "2019-03-26T08:48:00+00:00"
    assert (leaf.numbers["leaf.area"] == 115).all()
    assert leaf.texts["fw.plateau"][:5] == ("yes", "yes", "yes", "yes", "no")


def test_every_leaf_only_loses_water(leaves):
    assert all((np.diff(series.mass_kg) <= 0).all() for series in leaves.values())


def test_four_weight_columns_are_refused_by_name(shared_data):
    with pytest.raises(InputError, match=r"'dry\.weight'.*'fresh\.weight'.*mass_column"):
        read_weighing_groups(shared_data / "leaf_drying.csv", by="sample", mass_unit="g")


def test_room_of_the_leaves(shared_data):
    log = read_room_log(shared_data / "leaf_drying_room.csv")
    assert len(log.time_s) == 253
    assert log.start == "2019-03-24T23:00:00+00:00"
    assert log.time_s[1] == 900
    assert (log.temperature_c[0], log.temperature_c[-1]) == (19.22, 22.65)
    assert (log.humidity[0], log.humidity[-1]) == pytest.approx((0.603, 0.4995), rel=1e-12)
    assert any("°C" in note for note in log.notes)


def test_sand_column_flux(shared_data):
    wanted = {"time_s": Wanted(role="time", file_unit="s"), "flux_m_s": Wanted(role="flux", file_unit="m/s", low=0)}
    got = read_columns(shared_data / "sand_evaporation.csv", wanted)
    assert got["time_s"].shape == got["flux_m_s"].shape == (61,)
    assert (got["time_s"][0], got["time_s"][-1]) == (0.0, 1200450.24)
    assert got["flux_m_s"][26] == 7.53125e-8
    assert got["flux_m_s"][0] == 1.16273148148148e-07


def test_filter_paper_profile(shared_data):
    got = read_columns(shared_data / "paper_imbibition.csv", {"o": "o", "intensity": "I", "std": 3})
    assert {len(values) for values in got.values()} == {141}
    assert got["o"][0] == 0.00019879247128475156
    assert got["intensity"][-1] == -0.002731556016185013
    assert (got["std"] > 0).all()


def test_one_paper_out_of_a_wide_spectra_table(shared_data):
    got = read_columns(shared_data / "paper_ftir.csv", {"wavenumber": "wavenumber", "office": "OFF 10-506"})
    assert len(got["office"]) == 3351
    assert (got["wavenumber"][0], got["office"][0]) == (4000, 0.000281311)
