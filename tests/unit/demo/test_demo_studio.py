"""The demo studio: its files are invented, say so, repeat themselves, and carry the whole way."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from bibula.cards.library import load_cards, starting_cards
from bibula.cards.model import Card
from bibula.cli.running import read_logger
from bibula.demo import studio
from bibula.demo.descriptions import DESCRIPTIONS
from bibula.demo.make_studio import make
from bibula.demo.truth import TRUTH, true_values
from bibula.evidence.material_file import read_material
from bibula.forecast.bench import bench_observations
from bibula.forecast.forecast import make_forecast
from bibula.plan.files import read_plan
from bibula.plan.observed import read_observed
from bibula.plan.rules import refuse
from bibula.quantities.errors import InputError

PLANS = (studio.MAIN_PLAN, *studio.OTHER_PLANS)
NUMBER = re.compile(rb"\d+[.,]\d+|\d+")
LAST_DIGIT = {"materials/interleaf/drying.csv": 11.0}
"""How far a regenerated number may lie off: another processor may round the last digit (mg in one file) otherwise."""


@pytest.fixture(scope="module")
def fitted(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[studio.Fitted]]:
    """A copy of the studio with its cards fitted."""
    folder = tmp_path_factory.mktemp("demo") / "copy"
    studio.copy_studio(folder)
    return folder, [studio.fit_material(folder, name) for name in studio.MATERIALS]


def cards_of(folder: Path) -> dict[str, Card]:
    return {**starting_cards(), **load_cards([folder / "cards"])}


def test_every_text_file_says_that_it_is_invented() -> None:
    silent = []
    for name, data in studio.shipped().items():
        text = data.decode("utf-16" if data.startswith(b"\xff\xfe") else "latin-1")
        if "INVENTED" not in text[:4000]:
            silent.append(name)
    assert silent == []


def test_every_plan_and_every_name_says_so_too() -> None:
    for name in (*PLANS, studio.REFUSED_PLAN):
        plan = read_plan(studio_file("plans", name))
        assert plan.invented
        assert "(invented" in plan.object.name
    assert all("(invented)" in name for name in DESCRIPTIONS)


def studio_file(*parts: str) -> Path:
    return Path(studio.__file__).parent.joinpath("studio", *parts)


def test_the_files_are_those_the_script_makes(tmp_path: Path) -> None:
    for path in make(tmp_path):
        if path.suffix == ".xlsx":  # packed: see the next test
            continue
        name = path.relative_to(tmp_path).as_posix()
        ours, theirs = path.read_bytes(), studio.shipped()[name]
        assert NUMBER.sub(b"#", ours) == NUMBER.sub(b"#", theirs), name
        pairs = zip(NUMBER.findall(ours), NUMBER.findall(theirs), strict=True)
        away = max(abs(float(a.replace(b",", b".")) - float(b.replace(b",", b"."))) for a, b in pairs)
        assert away <= LAST_DIGIT.get(name, 0.011), name


def test_the_workbook_holds_what_the_script_makes(tmp_path: Path) -> None:
    from bibula.intake import read_weighings

    make(tmp_path)
    ours = read_weighings(tmp_path / "materials" / "slab-lot-1" / "drying.xlsx")
    theirs = read_weighings(studio_file("materials", "slab-lot-1", "drying.xlsx"))
    assert np.array_equal(ours.time_s, theirs.time_s)
    assert np.abs(ours.mass_kg - theirs.mass_kg).max() < 1.1e-5


def test_the_dialects_are_read_as_they_were_meant() -> None:
    _, tests = read_material(studio_file("materials", "slab-lot-2", "material.toml"))
    uptake = next(t for t in tests if t.kind == "uptake")
    assert list(uptake.x[:3]) == [5.0, 10.0, 15.0]  # the unsteady reading at 8 s is left out
    _, tests = read_material(studio_file("materials", "blotter", "material.toml"))
    drying = next(t for t in tests if t.kind == "air drying")
    assert drying.x[-1] == 10 * 3600.0  # over midnight
    _, tests = read_material(studio_file("materials", "interleaf", "material.toml"))
    assert [len(t.x) for t in tests] == [10]  # the reading without a mass is left out


def test_the_fits_find_what_was_put_in(fitted: tuple[Path, list[studio.Fitted]]) -> None:
    for one in fitted[1]:
        card, truth = one.fit.card, true_values(one.fit.card.name)
        for key in one.fit.measured:
            off = np.log(card[key] / truth[key]) / (card.values[key].u / card[key])
            assert abs(off) < 3.5, (card.name, key)
        assert "capacity_kg_m3" in one.fit.measured
        assert one.fit.error_scale == 1.0


def test_the_second_lot_is_found_to_be_slower(fitted: tuple[Path, list[studio.Fitted]]) -> None:
    first, second = (one.fit.card.values["absorption_kg_m2s05"] for one in fitted[1][:2])
    assert first.value - second.value > 3.0 * (first.u**2 + second.u**2) ** 0.5


@pytest.mark.parametrize("name", PLANS)
def test_every_plan_is_forecast(fitted: tuple[Path, list[studio.Fitted]], name: str) -> None:
    folder = fitted[0]
    file = folder / "plans" / name
    plan, cards = read_plan(file), cards_of(folder)
    refuse(plan, cards, str(file))
    logger, remarks = read_logger(plan, file, None)
    assert remarks == ()
    forecast = make_forecast(plan, cards, members=20, logger=logger)
    assert forecast.invented
    assert forecast.members == 20
    times = {m.key: m for m in forecast.milestones}
    assert times["release"].time_s is not None, "the plan is long enough to end in release"
    assert forecast.balance_water < 1e-8


def test_iron_gall_ink_in_a_damp_chamber_is_refused_with_its_source() -> None:
    file = studio_file("plans", studio.REFUSED_PLAN)
    with pytest.raises(InputError, match="iron-gall-damp") as refused:
        refuse(read_plan(file), starting_cards(), str(file))
    assert "irongallink.org" in refused.value.sentence()
    assert "Rouchon" in refused.value.sentence()


def test_the_map_is_larger_than_a_slab_and_has_two_layers() -> None:
    plan = read_plan(studio_file("plans", "map.toml"))
    assert plan.object.length_m > 0.6
    assert [layer.role for layer in plan.object.layers_or_sheet] == ["lining", "sheet"]


def test_the_observations_fit_their_plan(fitted: tuple[Path, list[studio.Fitted]]) -> None:
    folder = fitted[0]
    bench, _ = read_observed(folder / "plans" / studio.OBSERVATIONS)
    plan = read_plan(folder / "plans" / studio.MAIN_PLAN)
    found, _ = bench_observations(plan, cards_of(folder), bench)
    assert [o.kind for o in found] == ["object weight", "absorbent weight", "witness weight"]
    assert bench.invented


def test_the_truth_differs_from_what_a_fit_begins_with() -> None:
    for name, (_, own) in TRUTH.items():
        assert own, name
