"""The demo studio on the user's disk: copied once, never over anything of hers; its materials fitted."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path

from bibula.cards.files import write_card
from bibula.demo.truth import true_values
from bibula.evidence.cardfit import CardFit, fit_card
from bibula.evidence.material_file import read_material
from bibula.quantities.errors import InputError, Place
from bibula.report.write import write_whole
from bibula.statistics.costly import Progress

MARK = "READ-ME-FIRST.txt"
FIRST_LINE = "INVENTED EXAMPLE"
MADE = ("materials", "plans")
"""A folder that holds these and the mark is a demo folder."""
MATERIALS = ("slab-lot-1", "slab-lot-2", "blotter", "felt", "interleaf")
MAIN_PLAN = "etching.toml"
OTHER_PLANS = ("letter.toml", "map.toml", "poster.toml")
REFUSED_PLAN = "letter-damp-chamber-refused.toml"
OBSERVATIONS = "etching-observations.toml"


def shipped() -> dict[str, bytes]:
    """Every file of the studio, by its path with forward slashes."""

    def walk(folder: Traversable, path: str) -> Iterator[tuple[str, bytes]]:
        for item in sorted(folder.iterdir(), key=lambda item: item.name):
            name = f"{path}{item.name}"
            if item.is_dir():
                yield from walk(item, name + "/")
            else:
                yield name, item.read_bytes()

    return dict(walk(resources.files("bibula.demo") / "studio", ""))


def copy_studio(folder: Path) -> tuple[str, ...]:
    """Put the studio into a folder: a new one, an empty one, or a demo folder of before.

    Returns:
        The files that were there already with other content, and stay as they are.

    Raises:
        InputError: the folder holds something else, lies inside the package, or cannot be written.
    """
    target = folder.resolve()
    package = Path(str(resources.files("bibula"))).resolve()
    if target == package or package in target.parents:
        raise InputError("this folder belongs to Bibula itself", "choose another one with --data", Place(str(folder)))
    if target.exists() and not _is_ours(target):
        what = "this folder is not empty and was not made by the demo, so it is left alone"
        raise InputError(what, "name another one with --data", Place(str(folder)))
    wanted = {target / name: data for name, data in shipped().items()}
    kept = [path for path, data in wanted.items() if path.exists() and _differs(path, data)]
    write_whole({path: data for path, data in wanted.items() if not path.exists()})
    return tuple(path.relative_to(target).as_posix() for path in kept)


def _is_ours(folder: Path) -> bool:
    if not folder.is_dir():
        return False
    if not any(folder.iterdir()):
        return True
    mark = folder / MARK
    return mark.is_file() and mark.read_bytes().startswith(FIRST_LINE.encode())


def _differs(path: Path, data: bytes) -> bool:
    try:
        return path.read_bytes() != data
    except OSError as error:
        what = f"this file cannot be read ({error.strerror or error})"
        raise InputError(what, "choose another folder with --data", Place(str(path))) from None


@dataclass(frozen=True)
class Fitted:
    """One fitted material: its folder's name, the fit, how many readings, the card file, and what was put in."""

    folder: str
    fit: CardFit
    readings: int
    card_file: Path
    truth: dict[str, float]


def fit_material(studio: Path, name: str, progress: Progress | None = None) -> Fitted:
    """Fit one material of the studio and write its card.

    Args:
        studio: the demo folder.
        name: folder of the material, below materials/.
        progress: as for fit_card.
    """
    material, tests = read_material(studio / "materials" / name / "material.toml")
    found = fit_card(material, tests, progress)
    card_file = studio / "cards" / f"{name}.toml"
    card_file.parent.mkdir(parents=True, exist_ok=True)
    write_card(found.card, card_file)
    try:
        truth = true_values(found.card.name)
    except KeyError:  # the user has renamed it
        truth = {}
    return Fitted(name, found, sum(len(t.x) for t in found.tests), card_file, truth)
