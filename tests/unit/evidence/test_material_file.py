"""The description file: what it reads, and one clear sentence for every slip."""

from __future__ import annotations

import numpy as np
import pytest

from bibula.cards.files import read_card
from bibula.checks.card_recovery import draw_case, invented_tests
from bibula.cli import cards as cards_command
from bibula.cli import fit as fit_command
from bibula.cli.main import main
from bibula.evidence.bench_tests import AirDryingTest, ConditioningTest, ContactTest, SealedRestTest, UptakeTest
from bibula.evidence.material_file import read_material
from bibula.quantities.errors import InputError

DESCRIPTION = """
[material]
name = "Invented slab"
kind = "slab"
lot = "A"
date = 2026-11-25
length_mm = 100
width_mm = 100
thickness_mm = 11
dry_mass_g = {dry}
balance_resolution_g = 0.01

[[test]]
kind = "uptake"
file = "uptake.csv"
rh_percent = 50

[[test]]
kind = "contact"
name = "between two"
file = "contact.csv"
sheet_card = "rag paper (starting card)"
sheet_dry_mass_g = 1.5
sheet_length_mm = 100
sheet_width_mm = 100
weight_kg = 0.5
[test.read]
mass_column = "sheet"

[[test]]
kind = "air drying"
file = "drying.csv"
room_file = "room.csv"
soaked = true

[[test]]
kind = "sealed rest"
sheet_card = "rag paper (starting card)"
sheet_dry_mass_g = 1.5
sheet_length_mm = 100
sheet_width_mm = 100
points = [{{ sheet_mass_g = 1.7, piece_mass_g = 133.0 }}, {{ sheet_mass_g = 1.8, piece_mass_g = 135.0 }}]

[[test]]
kind = "conditioning"
points = [{{ rh_percent = 33, mass_g = 131.9 }}, {{ rh_percent = 75, mass_g = 133.4 }}]
"""


@pytest.fixture
def folder(tmp_path):
    case = draw_case("slab", np.random.default_rng([20251125, 3]), exact=True)
    case.values.update(thickness_m=0.011, density_kg_m3=1180.0)
    (tmp_path / "material.toml").write_text(DESCRIPTION.format(dry=129.8))
    (tmp_path / "uptake.csv").write_text(
        "time [s];mass [g]\n"
        + "".join(f"{t};{m}\n" for t, m in zip([0, 5, 10, 20, 40, 60], [132.5, 150, 158, 169, 185, 186], strict=True))
    )
    (tmp_path / "contact.csv").write_text(
        "time [s];sheet [g];slab [g]\n0;3.45;132\n10;3.2;132.2\n60;2.6;132.8\n600;1.9;133.5\n"
    )
    (tmp_path / "drying.csv").write_text("time [h];mass [g]\n0;180\n6;171\n24;145\n48;133\n96;132.4\n")
    (tmp_path / "room.csv").write_text("time [h];temperature [C];RH [%]\n0;20;50\n48;21;48\n96;20;52\n")
    return tmp_path


def _change(folder, old, new, name="material.toml"):
    file = folder / name
    text = file.read_text()
    assert old in text
    file.write_text(text.replace(old, new, 1))


def test_all_five_tests_are_read(folder):
    material, tests = read_material(folder / "material.toml")
    assert (material.name, material.kind, material.date) == ("Invented slab", "slab", "2026-11-25")
    assert [type(t) for t in tests] == [UptakeTest, ContactTest, AirDryingTest, SealedRestTest, ConditioningTest]
    uptake, contact, drying = tests[:3]
    assert uptake.observed[0] == pytest.approx(0.0175)
    assert len(uptake.origin.sha256) == 64
    assert contact.pressure_pa == pytest.approx(490.33, rel=1e-4)
    assert contact.name == "between two"
    assert drying.soaked
    assert drying.weather.shape == (3, 4)
    assert drying.time_s[1] == 21600.0


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        (
            "thickness_mm = 11",
            "thicknes_mm = 11",
            r"line \d+, column 1, field 'thicknes_mm'.*did you mean 'thickness_mm'",
        ),
        ('kind = "uptake"', 'kind = "uptak"', "did you mean 'uptake'"),
        ('kind = "slab"', 'kind = "slap"', "did you mean 'slab'"),
        ("dry_mass_g = 129.8", "dry_mass_g = 0.1298", "check the units of size and mass"),
        ("dry_mass_g = 129.8", 'dry_mass_g = "129.8"', "must be a number"),
        ("dry_mass_g = 129.8", "", "the mass of the piece is missing"),
        ("weight_kg = 0.5", "", "pressure_pa is missing"),
        ("weight_kg = 0.5", "pose = 'lying'", "a test of kind 'contact' has no 'pose'"),
        ("sheet_dry_mass_g = 1.5", "sheet_dry_mass_g = 1500", "check the sheet's sizes and mass"),
        ("rag paper (starting", "rage paper (starting", "did you mean 'rag paper"),
        ("rh_percent = 50", "rh_percent = 0.5", "outside 0 to 60 °C or 5 to 99 % RH"),
        ("mass_g = 133.4", "mass_g = 131.4", "no more in the moister air"),
        ("soaked = true", 'soaked = "yes"', "must be true or false"),
        ("date = 2026-11-25", 'date = "25.11.2025"', "is not a date"),
        ('mass_column = "sheet"', 'mass_colum = "sheet"', "option of the weighing reader is not known"),
        ("[material]", "[materials]", "did you mean 'material'"),
    ],
)
def test_a_slip_gets_one_sentence_with_its_place(folder, old, new, says):
    _change(folder, old, new)
    with pytest.raises(InputError, match=says) as caught:
        read_material(folder / "material.toml")
    assert caught.value.place.file or caught.value.place.line


def test_a_wrong_unit_in_a_weighing_file_is_told(folder):
    _change(folder, "mass [g]", "mass [mg]", "uptake.csv")
    with pytest.raises(InputError, match=r"uptake\.csv.*check the unit of the masses"):
        read_material(folder / "material.toml")


def test_swapped_times_in_a_weighing_file_are_told(folder):
    _change(folder, "10;158\n20;169", "20;169\n10;158", "uptake.csv")
    with pytest.raises(InputError, match=r"uptake\.csv, line 5"):
        read_material(folder / "material.toml")


def test_a_dry_piece_heavier_than_the_wet_one_is_told(folder):
    _change(folder, "0;132.5", "0;192.5", "uptake.csv")
    with pytest.raises(InputError, match=r"uptake\.csv.*heavier than it is later"):
        read_material(folder / "material.toml")


def test_no_test_is_told(folder):
    text = (folder / "material.toml").read_text()
    (folder / "material.toml").write_text(text[: text.index("[[test]]")])
    with pytest.raises(InputError, match="there is no test"):
        read_material(folder / "material.toml")


def test_the_command_fits_prints_and_writes(folder, capsys):
    _change(
        folder, DESCRIPTION.format(dry=129.8)[DESCRIPTION.format(dry=129.8).index('[[test]]\nkind = "contact"') :], ""
    )
    out, page = folder / "card.toml", folder / "card.html"
    code = main(["fit", str(folder / "material.toml"), "--out", str(out), "--html", str(page)])
    printed = capsys.readouterr().out
    assert code == 0
    assert "STAYED ASSUMED" in printed
    assert "ISO 15148" in printed
    card = read_card(out)
    assert card.values["absorption_kg_m2s05"].source == "uptake 1 (uptake.csv)"
    assert "<svg" in page.read_text()
    assert main(["cards", "--from", str(out)]) == 0
    assert "4 of 17 values measured" in capsys.readouterr().out


def test_a_missing_description_is_a_sentence(tmp_path, capsys):
    assert main(["fit", str(tmp_path / "none.toml")]) == 2
    assert "the description cannot be read" in capsys.readouterr().err


def test_starting_cards_are_listed_and_shown(capsys):
    assert main(["cards"]) == 0
    assert "slab (starting card)" in capsys.readouterr().out
    assert main(["cards", "slab (starting card)"]) == 0
    assert "absorption A_w" in capsys.readouterr().out
    assert main(["cards", "slab (startng card)"]) == 2
    assert "did you mean" in capsys.readouterr().err


def test_a_card_can_be_printed_as_a_file(capsys):
    assert main(["cards", "slab (starting card)", "--toml"]) == 0
    assert 'format = "bibula card 1"' in capsys.readouterr().out


def test_both_commands_have_the_two_functions():
    for module in (fit_command, cards_command):
        assert callable(module.add_arguments)
        assert callable(module.run)


def test_the_helper_case_is_a_slab():
    case = draw_case("slab", np.random.default_rng(1))
    assert len(invented_tests(case, np.random.default_rng(1))) == 4
