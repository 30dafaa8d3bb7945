"""The description of a material and its bench tests: one TOML file beside the weighing files it names."""

from __future__ import annotations

from pathlib import Path
from typing import Any, get_args

import numpy as np

from bibula.cards.files import read_card
from bibula.cards.library import find, starting_cards
from bibula.cards.model import Card, Kind
from bibula.cards.priors import complete, spread_of
from bibula.evidence.bench_base import USUAL_ERRORS, BenchTest
from bibula.evidence.bench_models import equilibrium_water
from bibula.evidence.bench_tests import (
    AirDryingTest,
    ConditioningTest,
    ContactTest,
    SealedRestTest,
    UptakeTest,
)
from bibula.evidence.fields import Fields
from bibula.evidence.fit_parameters import Material
from bibula.evidence.pieces import Origin, Piece, Sheet, WeighingError
from bibula.formulas.moist_air import GRAVITY, saturation_pressure_pa
from bibula.intake.room_log import read_room_log
from bibula.intake.weighings import read_weighings
from bibula.physics.surroundings import CONVECTION_W_M2K
from bibula.quantities.errors import InputError, Place
from bibula.quantities.toml_places import parse_toml

KINDS = ("uptake", "contact", "sealed rest", "air drying", "conditioning")
PIECE_KEYS = (
    "length_mm", "width_mm", "thickness_mm", "dry_mass_g", "air_dry_mass_g", "air_dry_rh_percent", "length_u_mm",
    "thickness_u_mm",
)  # fmt: skip
ERROR_KEYS = ("balance_resolution_g", "handling_g_m2", "time_u_s", "pace_u_percent")
MATERIAL_KEYS = (*PIECE_KEYS, "name", "kind", "lot", "date", "notes", "card", "balance_resolution_g")
SHEET_KEYS = (
    "sheet_card", "sheet_dry_mass_g", "sheet_air_dry_mass_g", "sheet_length_mm", "sheet_width_mm", "sheet_thickness_mm",
)  # fmt: skip
SERIES_KEYS = ("file", "read")
COMMON_KEYS = (*PIECE_KEYS, *ERROR_KEYS, "kind", "name", "temperature_c", "rh_percent")
OWN_KEYS: dict[str, tuple[str, ...]] = {
    "uptake": (*SERIES_KEYS, "pose", "area_cm2", "blotted"),
    "contact": (*SERIES_KEYS, *SHEET_KEYS, "pressure_pa", "weight_kg", "both_faces"),
    "air drying": (*SERIES_KEYS, "both_faces", "open_edges", "air", "soaked", "room_file", "room_read"),
    "sealed rest": (*SHEET_KEYS, "pieces", "points"),
    "conditioning": ("points", "humidity_u_percent"),
}


def read_material(path: str | Path) -> tuple[Material, list[BenchTest]]:
    """A material and its tests, with all readings, from a description file.

    Weighing files are named relative to the description. Each test is a table `[[test]]`; options of
    the weighing reader go into `[test.read]`, those of the room log into `[test.room_read]`.

    Raises:
        InputError: one sentence with file, line and field on what cannot be read or does not fit together.
    """
    file = Path(path)
    try:
        text = file.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise InputError("the file is not UTF-8 text", "save it as UTF-8", Place(str(path))) from None
    except OSError as error:
        what = f"the description cannot be read ({error.strerror or error})"
        raise InputError(what, "check the path", Place(str(path))) from None
    data = parse_toml(text, str(path))
    top = Fields(data, text, str(path), ())
    top.only(("material", "test"))
    about = top.table("material")
    about.only(MATERIAL_KEYS)
    rows = top.tables("test")
    if not rows:
        raise top.error("test", "there is no test", "add at least one [[test]]")
    material = _material(about, file.parent)
    return material, [_test(row, i, material, about, file.parent) for i, row in enumerate(rows)]


def _material(about: Fields, folder: Path) -> Material:
    kind = about.choice("kind", get_args(Kind))
    before = _card(about, "card", folder) if "card" in about.data else None
    piece = _piece(about, None)
    piece.check(about.place("thickness_mm"))
    return Material(
        name=about.text("name", required=True), kind=kind, piece=piece, lot=about.text("lot"), date=about.date("date"),
        before=before, notes=about.texts("notes"),
    )  # fmt: skip


def _piece(fields: Fields, usual: Piece | None) -> Piece:
    """The piece of a table; what a test's table leaves out is the material's."""
    if usual is not None and not any(key in fields.data for key in PIECE_KEYS):
        return usual
    sizes = [
        fields.number(f"{n}_mm", 1e-3, default=getattr(usual, f"{n}_m", None)) for n in ("length", "width", "thickness")
    ]
    if "dry_mass_g" in fields.data:
        mass, rh = fields.number("dry_mass_g", 1e-3), 0.0
    elif "air_dry_mass_g" in fields.data:
        mass = fields.number("air_dry_mass_g", 1e-3)
        rh = fields.number(
            "air_dry_rh_percent", 1e-2, default=None if usual is None or usual.mass_rh <= 0 else usual.mass_rh
        )
    elif usual is not None:
        mass, rh = usual.mass_kg, usual.mass_rh
    else:
        raise fields.error(
            "dry_mass_g",
            "the mass of the piece is missing",
            "give dry_mass_g, or air_dry_mass_g with air_dry_rh_percent",
        )
    fallback = usual or Piece(1.0, 1.0, 1.0, 1.0)
    return Piece(
        sizes[0], sizes[1], sizes[2], mass, rh,
        fields.number("length_u_mm", 1e-3, default=fallback.length_u_m),
        fields.number("thickness_u_mm", 1e-3, default=fallback.thickness_u_m),
    )  # fmt: skip


def _test(row: Fields, index: int, material: Material, about: Fields, folder: Path) -> BenchTest:
    kind = row.choice("kind", KINDS)
    row.only((*COMMON_KEYS, *OWN_KEYS[kind]), f"a test of kind '{kind}'")
    piece = _piece(row, material.piece)
    piece.check(row.place("thickness_mm"))
    common: dict[str, Any] = {
        "name": row.text("name") or f"{kind} {index + 1}",
        "piece": piece,
        "temperature_c": row.number("temperature_c", default=20.0),
        "rh": row.number("rh_percent", 1e-2, default=0.5),
        "error": _error(row, about, kind),
        "origin": Origin(row.file or ""),
    }
    if not 0.0 < common["temperature_c"] < 60.0 or not 0.05 <= common["rh"] <= 0.99:
        raise row.error("rh_percent", "the room is outside 0 to 60 °C or 5 to 99 % RH", "give the room of the test")
    try:
        return _MAKERS[kind](row, common, folder, material)
    except InputError as error:
        if error.place.line is None and not error.place.file:
            raise row.error("kind", error.what, error.mend) from None
        raise


def _error(row: Fields, about: Fields, kind: str) -> WeighingError:
    usual = USUAL_ERRORS[kind]
    digit = about.number("balance_resolution_g", 1e-3, default=usual.resolution_kg)
    return WeighingError(
        row.number("balance_resolution_g", 1e-3, default=digit),
        row.number("handling_g_m2", 1e-3, default=usual.handling_kg_m2),
        row.number("time_u_s", default=usual.time_u_s),
        row.number("pace_u_percent", 1e-2, default=usual.pace_u),
    )


def _series(row: Fields, common: dict[str, Any], folder: Path) -> dict[str, Any]:
    name = row.text("file", required=True)
    options = dict(row.data.get("read", {}))
    try:
        series = read_weighings(folder / name, **options)
    except TypeError:
        raise row.error(
            "read", "an option of the weighing reader is not known", "see docs/fit.md for the options"
        ) from None
    times, masses = series.used
    if len(times) == 0:
        raise row.error("file", f"{name} holds no reading that can be used", "check the file")
    return {
        **common,
        "time_s": times - times[0],
        "mass_kg": masses,
        "origin": Origin(name, series.sha256),
    }


def _card(fields: Fields, key: str, folder: Path) -> Card:
    named = fields.text(key, required=True)
    path = folder / named
    if named.endswith(".toml"):
        return read_card(path)
    try:
        return find(starting_cards(), named)
    except InputError as error:
        raise fields.error(key, error.what, error.mend + ", or name a card file (*.toml)") from None


def _sheet(row: Fields, rh: float, folder: Path) -> Sheet:
    card = complete(_card(row, "sheet_card", folder))
    values = {k: v.value for k, v in card.values.items()}
    spreads = {k: spread_of(k, v) for k, v in card.values.items()}
    area = row.number("sheet_length_mm", 1e-3) * row.number("sheet_width_mm", 1e-3)
    if "sheet_dry_mass_g" in row.data:
        dry = row.number("sheet_dry_mass_g", 1e-3)
    else:
        air_dry = row.number("sheet_air_dry_mass_g", 1e-3)
        dry = air_dry / (1.0 + float(equilibrium_water(values, values["density_kg_m3"], np.array([rh]), 0.0)[0]))
    thickness = row.number("sheet_thickness_mm", 1e-3, default=dry / (area * values["density_kg_m3"]))
    sheet = Sheet(card.name, values, spreads, dry, area, thickness)
    if not 0.01 < dry / area < 5.0 or not 20.0 < sheet.density < 2000.0:
        what = f"the sheet would weigh {1e3 * dry / area:.4g} g/m2 at {sheet.density:.4g} kg/m3"
        raise row.error("sheet_length_mm", what, "check the sheet's sizes and mass, and their units")
    return sheet


def _uptake(row: Fields, common: dict[str, Any], folder: Path, material: Material) -> BenchTest:
    del material
    area = row.number("area_cm2", 1e-4) if "area_cm2" in row.data else None
    pose = row.choice("pose", ("lying", "standing"), default="lying")
    return UptakeTest(**_series(row, common, folder), pose=pose, area_m2=area, blotted=row.flag("blotted", False))  # type: ignore[arg-type]


def _contact(row: Fields, common: dict[str, Any], folder: Path, material: Material) -> BenchTest:
    del material
    sheet = _sheet(row, common["rh"], folder)
    if "weight_kg" in row.data:
        pressure = row.number("weight_kg") * GRAVITY / sheet.area_m2
    else:
        pressure = row.number("pressure_pa")
    both = row.flag("both_faces", True)
    return ContactTest(**_series(row, common, folder), sheet=sheet, pressure_pa=pressure, both_faces=both)


def _drying(row: Fields, common: dict[str, Any], folder: Path, material: Material) -> BenchTest:
    del material
    weather = None
    if "room_file" in row.data:
        log = read_room_log(folder / row.text("room_file"), **dict(row.data.get("room_read", {})))
        pressure = log.humidity * saturation_pressure_pa(log.temperature_c)
        weather = np.column_stack([log.time_s - log.time_s[0], log.temperature_c, pressure, np.ones(len(pressure))])
    return AirDryingTest(
        **_series(row, common, folder),
        both_faces=row.flag("both_faces", True),
        open_edges=row.flag("open_edges", True),
        air=row.choice("air", tuple(CONVECTION_W_M2K), default="still"),
        soaked=row.flag("soaked", False),
        weather=weather,
    )  # fmt: skip


def _rest(row: Fields, common: dict[str, Any], folder: Path, material: Material) -> BenchTest:
    del material
    points = row.tables("points")
    for point in points:
        point.only(("sheet_mass_g", "piece_mass_g"), "a point of a sealed rest")
    return SealedRestTest(
        **common, sheet=_sheet(row, common["rh"], folder), pieces=round(row.number("pieces", default=1.0)),
        sheet_kg=np.array([p.number("sheet_mass_g", 1e-3) for p in points]),
        piece_kg=np.array([p.number("piece_mass_g", 1e-3) for p in points]),
    )  # fmt: skip


def _conditioning(row: Fields, common: dict[str, Any], folder: Path, material: Material) -> BenchTest:
    del folder, material
    points = row.tables("points")
    for point in points:
        point.only(("rh_percent", "mass_g", "falling"), "a point of a conditioning")
    return ConditioningTest(
        **common, humidity=np.array([p.number("rh_percent", 1e-2) for p in points]),
        mass_kg=np.array([p.number("mass_g", 1e-3) for p in points]),
        falling=tuple(p.flag("falling", False) for p in points),
        humidity_u=row.number("humidity_u_percent", 1e-2, default=0.01),
    )  # fmt: skip


_MAKERS = {
    "uptake": _uptake, "contact": _contact, "air drying": _drying, "sealed rest": _rest, "conditioning": _conditioning,
}  # fmt: skip
