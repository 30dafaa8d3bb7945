"""Makes the demo studio's invented files anew: for developers, `python -m bibula.demo.make_studio`.

The weighings are what the model shows for the materials of `truth`, with the errors of a real
balance and a real hand: a last digit of 0.01 g, water that clings or drips, a stopwatch read late.
"""

from __future__ import annotations

import sys
import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bibula.cards.library import starting_cards
from bibula.cards.priors import spread_of
from bibula.demo import dialects, observed
from bibula.demo.descriptions import DESCRIPTIONS, PAPER, PAPER_AREA_M2, PRESSURE_PA, Described
from bibula.demo.truth import ROOM_C, ROOM_RH, SEED, true_values
from bibula.evidence.bench_base import SeriesTest
from bibula.evidence.bench_tests import AirDryingTest, ContactTest, UptakeTest
from bibula.evidence.pieces import Piece, Sheet, Surroundings
from bibula.evidence.pretend import pretend_conditioning, pretend_rest

Array = NDArray[np.float64]

STUDIO = Path(__file__).parent / "studio"
SURFACE_FACTOR = 1.1
"""Convection of the invented studio over that of still air."""
FILM_KG_M2 = 0.018
"""Water that clings to a face lifted out of the dish."""
UPTAKE_S = {
    "slab": (0, 5, 10, 15, 20, 30, 45, 60, 90, 150, 300),
    "blotter": (0, 15, 30, 60, 120, 180, 300, 450),
    "felt": (0, 15, 30, 60, 120, 240, 480, 900, 1500, 2400),
}
CONTACT_S = (0, 15, 30, 60, 120, 240, 480, 900, 1800)
DRYING_S = {
    "slab": tuple(3600 * h for h in (0, 1, 3, 6, 10, 24, 30, 34, 48, 72, 96, 120)),
    "blotter": tuple(60 * m for m in (0, 15, 30, 60, 90, 120, 180, 240, 300, 420, 600)),
    "felt": tuple(3600 * h for h in (0, 1, 2, 4, 8, 12, 20, 24, 30, 36, 44)),
    "interleaf": tuple(60 * m for m in (0, 3, 6, 10, 14, 18, 24, 30, 40, 55, 75)),
}
REST_KG_M2 = (0.15, 0.30, 0.60)
WET_SHEET = 2.25
"""Mass of the wet test sheet over its dry mass."""
CONDITIONED = (0.35, 0.55, 0.80)


def make(folder: Path) -> list[Path]:
    """Write every generated file below `folder`; those written by hand are left alone.

    Returns:
        The paths written.
    """
    written = []
    for name, described in DESCRIPTIONS.items():
        target = folder / "materials" / described.folder
        target.mkdir(parents=True, exist_ok=True)
        for file, data in material_files(name, described).items():
            (target / file).write_bytes(data)
            written.append(target / file)
    plans = folder / "plans"
    plans.mkdir(parents=True, exist_ok=True)
    (plans / "room-log.csv").write_bytes(room_log())
    (plans / "etching-observations.toml").write_bytes(observed.observations(STUDIO / "plans" / "etching.toml"))
    return [*written, plans / "room-log.csv", plans / "etching-observations.toml"]


def material_files(name: str, described: Described) -> dict[str, bytes]:
    """File name -> bytes, for one material: its weighing files and its description."""
    values = true_values(name)
    kind = described.kind
    rng = np.random.default_rng([SEED, zlib.crc32(name.encode())])
    length, width = described.size_mm
    piece = Piece(length / 1e3, width / 1e3, values["thickness_m"], _dry_kg(values, length, width))
    around = Surroundings(surface_factor=SURFACE_FACTOR, film_kg_m2=FILM_KG_M2)
    files: dict[str, bytes] = {}
    numbers: dict[str, str] = {"dry_mass_g": f"{1e3 * piece.mass_kg:.2f}"}
    for test, writer in described.files.items():
        grams = _readings(test, described, piece, values, around, rng)
        times = {"uptake": UPTAKE_S, "drying": DRYING_S}.get(test, {}).get(kind, CONTACT_S)
        files[described.file_name(test)] = writer(times, [round(1e3 * float(m), 2) for m in grams])
    if described.rest:
        rest = pretend_rest(piece, _sheet(), np.array(REST_KG_M2) * PAPER_AREA_M2, values, Surroundings(), rng)
        numbers["rest_points"] = ", ".join(
            f"{{ sheet_mass_g = {1e3 * a:.2f}, piece_mass_g = {1e3 * b:.2f} }}"
            for a, b in zip(rest.sheet_kg, rest.piece_kg, strict=True)
        )
        air = pretend_conditioning(piece, np.array(CONDITIONED), values, rng)
        numbers["conditioning_points"] = ", ".join(
            f"{{ rh_percent = {100 * h:.0f}, mass_g = {1e3 * m:.2f} }}"
            for h, m in zip(CONDITIONED, air.mass_kg, strict=True)
        )
    files["material.toml"] = described.text(name, numbers).encode("utf-8")
    return files


def _dry_kg(values: dict[str, float], length_mm: float, width_mm: float) -> float:
    return round(values["density_kg_m3"] * values["thickness_m"] * length_mm * width_mm / 1e6, 5)


def _sheet() -> Sheet:
    """The test sheet as it is, of an area and dry mass the descriptions name."""
    values, card = true_values(PAPER.card), starting_cards()[PAPER.card]
    spreads = {k: spread_of(k, v) for k, v in card.values.items()}
    dry = PAPER.dry_g / 1e3
    return Sheet(PAPER.card, values, spreads, dry, PAPER_AREA_M2, PAPER.thickness_mm / 1e3)


def _readings(
    test: str, described: Described, piece: Piece, values: Mapping[str, float], around: Surroundings,
    rng: np.random.Generator,
) -> Array:  # fmt: skip
    """What the balance shows, kg: every reading a little late or early, with its own error of mass."""
    made, start = _test(test, described, piece, values)
    if described.handling_g_m2 is not None:
        made = replace(made, error=replace(made.error, handling_kg_m2=described.handling_g_m2 / 1e3))
    late = made.error.time_sigma(made.x) * rng.standard_normal(len(made.x))
    curve = made.reading_curve(values, around, np.maximum(made.x + late, 0.2 * made.x))
    noise = made.error.sigma(made.wetted_m2) * rng.standard_normal(len(made.x))
    return np.concatenate([[start], (start if test == "uptake" else 0.0) + curve + noise])


def _test(test: str, described: Described, piece: Piece, values: Mapping[str, float]) -> tuple[SeriesTest, float]:
    """A test with stand-in masses, and its first mass, kg."""
    if test == "uptake":
        times, start = UPTAKE_S[described.kind], piece.air_dry_kg(values, ROOM_RH)
    elif test == "contact":
        times, start = CONTACT_S, _sheet().dry_kg * WET_SHEET
    else:
        full = values["capacity_kg_m3"] * piece.volume_m3
        times, start = DRYING_S[described.kind], piece.mass_kg + full
    trend = 1e-4 if test == "uptake" else -1e-4
    common: dict[str, Any] = {
        "name": test,
        "piece": piece,
        "temperature_c": ROOM_C,
        "rh": ROOM_RH,
        "time_s": np.array(times, dtype=float),
        "mass_kg": start * (1.0 + trend * np.arange(len(times))),
    }
    if test == "uptake":
        return UptakeTest(**common, pose=described.pose), start
    if test == "contact":
        return ContactTest(**common, sheet=_sheet(), pressure_pa=PRESSURE_PA), start
    return AirDryingTest(**common, air="still"), start


def room_log() -> bytes:
    """A night's climate every ten minutes: the heating goes down at 18:00 and up at 6:00."""
    rng = np.random.default_rng([SEED, 7])
    rows = [f"# {dialects.INVENTED}", "Date;Time;Temperature [°C];Relative humidity [%]"]
    begin = dialects.START.replace(hour=9, minute=0)
    warm, damp = ROOM_C + 0.5, 100 * ROOM_RH - 1.0
    for i in range(26 * 6 + 1):
        stamp = begin + timedelta(minutes=10 * i)
        night = stamp.hour >= 18 or stamp.hour < 6
        warm += ((17.2 if night else 20.5) - warm) * 0.08
        damp += ((55.0 if night else 49.0) - damp) * 0.06
        t, rh = warm + 0.05 * rng.standard_normal(), damp + 0.3 * rng.standard_normal()
        rows.append(f"{stamp:%d.%m.%Y};{stamp:%H:%M};{dialects.comma(t, 1)};{dialects.comma(rh, 1)}")
    return ("\n".join(rows) + "\n").encode("utf-8")


def main(arguments: Sequence[str], say: Callable[[str], None] = print) -> int:
    """Write into the folder named, or over the files of this package."""
    for path in make(Path(arguments[0]) if arguments else STUDIO):
        say(str(path))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
