"""How the demo studio describes its invented materials and tests: the text of every material.toml."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from bibula.demo import dialects
from bibula.demo.dialects import Writer


@dataclass(frozen=True)
class TestPaper:
    """The test sheet used against every material."""

    __test__ = False
    card: str = "rag paper (starting card)"
    length_mm: float = 90.0
    width_mm: float = 90.0
    thickness_mm: float = 0.40
    dry_g: float = 1.94


PAPER = TestPaper()
PRESSURE_PA = 500.0
PAPER_AREA_M2 = PAPER.length_mm * PAPER.width_mm / 1e6
HEAD = "# INVENTED EXAMPLE. The material, its lot and every weighing are made up; nothing was weighed.\n"
ENDINGS: Mapping[Writer, str] = {
    dialects.workbook: "xlsx",
    dialects.tabs_stopwatch: "tsv",
    dialects.units_in_cells: "txt",
}


@dataclass(frozen=True)
class Described:
    """One material of the studio.

    Attributes:
        folder: below materials/.
        kind: of the card.
        lot: as the card has it.
        size_mm: length and width of the test piece.
        files: test ("uptake", "contact", "drying") -> how its weighing file is written.
        pose: of the piece in the uptake.
        thickness_u_mm: standard uncertainty of its thickness.
        handling_g_m2: error of one weighing by what clings or drips, per area; as usual if None.
        rest: also a sealed rest and a conditioning, their few numbers in the description itself.
        note: one sentence for the card.
    """

    folder: str
    kind: Literal["slab", "blotter", "felt", "interleaf"]
    lot: str
    size_mm: tuple[float, float]
    files: Mapping[str, Writer]
    pose: Literal["lying", "standing"] = "lying"
    thickness_u_mm: float = 0.1
    handling_g_m2: float | None = None
    rest: bool = False
    note: str = ""

    def file_name(self, test: str) -> str:
        """Name of a test's weighing file."""
        return f"{test}.{ENDINGS.get(self.files[test], 'csv')}"

    def text(self, name: str, numbers: Mapping[str, str]) -> str:
        """The text of material.toml; `numbers` as make_studio.material_files fills it in."""
        from bibula.demo.truth import true_values

        notes = [x for x in ("INVENTED example, nothing was weighed.", self.note) if x]
        parts = [
            HEAD + "[material]",
            f'name = "{name}"',
            f'kind = "{self.kind}"',
            f'lot = "{self.lot}"',
            "date = 2031-03-14",
            f"length_mm = {self.size_mm[0]:g}",
            f"width_mm = {self.size_mm[1]:g}",
            f"thickness_mm = {1e3 * true_values(name)['thickness_m']:g}",
            f"thickness_u_mm = {self.thickness_u_mm:g}",
            f"dry_mass_g = {numbers['dry_mass_g']}",
            "balance_resolution_g = 0.01",
            "notes = [" + ", ".join(f'"{note}"' for note in notes) + "]",
        ]
        for test in self.files:
            parts += ["", *_TESTS[test](self)]
        if self.rest:
            parts += ["", *_rest(numbers["rest_points"]), "", *_conditioning(numbers["conditioning_points"])]
        return "\n".join(parts) + "\n"


def _uptake(d: Described) -> list[str]:
    how = "One face in the water" if d.pose == "lying" else "On its short edge in the water"
    pose = [] if d.pose == "lying" else ['pose = "standing"']
    named = f'file = "{d.file_name("uptake")}"'
    return [f"# {how}, taken out and weighed.", "[[test]]", 'kind = "uptake"', 'name = "uptake"', named, *pose]


def _contact(d: Described) -> list[str]:
    return [
        "# A wet test sheet between two pieces, taken out and weighed.",
        "[[test]]",
        'kind = "contact"',
        'name = "contact"',
        f'file = "{d.file_name("contact")}"',
        f"pressure_pa = {PRESSURE_PA:g}",
        *_sheet_lines(),
    ]


def _drying(d: Described) -> list[str]:
    room = ["temperature_c = 20", "rh_percent = 50", 'air = "still"']
    named = f'file = "{d.file_name("drying")}"'
    return [
        "# A wet piece on a rack.",
        "[[test]]",
        'kind = "air drying"',
        'name = "drying"',
        named,
        *room,
        "soaked = true",
        *_handling(d),
    ]


def _handling(d: Described) -> list[str]:
    return [] if d.handling_g_m2 is None else [f"handling_g_m2 = {d.handling_g_m2:g}"]


def _sheet_lines() -> list[str]:
    return [
        f'sheet_card = "{PAPER.card}"',
        f"sheet_length_mm = {PAPER.length_mm:g}",
        f"sheet_width_mm = {PAPER.width_mm:g}",
        f"sheet_thickness_mm = {PAPER.thickness_mm:g}",
        f"sheet_dry_mass_g = {PAPER.dry_g:g}",
    ]


def _rest(points: str) -> list[str]:
    head = "# Wet sheet and piece wrapped together until the next day."
    return [head, "[[test]]", 'kind = "sealed rest"', 'name = "rest"', *_sheet_lines(), f"points = [{points}]"]


def _conditioning(points: str) -> list[str]:
    head = "# The piece in the moist box, from dry to damp."
    return [head, "[[test]]", 'kind = "conditioning"', 'name = "moist box"', f"points = [{points}]"]


_TESTS = {"uptake": _uptake, "contact": _contact, "drying": _drying}

DESCRIPTIONS: Mapping[str, Described] = {
    "Reach slab, lot 1 (invented)": Described(
        "slab-lot-1", "slab", "RS 31-1", (100.0, 100.0),
        {"uptake": dialects.semicolons, "contact": dialects.tabs_stopwatch, "drying": dialects.workbook},
        rest=True,
        note="The slabs the studio works with every day.",
    ),
    "Reach slab, lot 2 (invented)": Described(
        "slab-lot-2", "slab", "RS 31-2", (100.0, 100.0),
        {"uptake": dialects.units_in_cells, "contact": dialects.wide_letters},
        note="A new lot, a little heavier and slower: the two tests that tell lots apart.",
    ),
    "Osier blotter (invented)": Described(
        "blotter", "blotter", "OB 7", (60.0, 150.0),
        {"uptake": dialects.blanks, "contact": dialects.semicolons, "drying": dialects.past_midnight},
        pose="standing",
        thickness_u_mm=0.01,
    ),
    "Weir felt (invented)": Described(
        "felt", "felt", "WF 2", (120.0, 120.0), {"uptake": dialects.french, "drying": dialects.dates}
    ),
    "Sallow interleaf (invented)": Described(
        "interleaf", "interleaf", "SI 4", (250.0, 250.0), {"drying": dialects.milligrams},
        thickness_u_mm=0.002, handling_g_m2=0.3,
    ),
}  # fmt: skip
"""Name of the card -> its description."""
