"""(c) A full card fit: the invented slab of the demo, its tests read from their files beforehand."""

from __future__ import annotations

import time
from collections.abc import Iterator
from importlib import resources
from pathlib import Path

from benchmarks.measure import Figure
from bibula.evidence.cardfit import fit_card
from bibula.evidence.material_file import read_material

REPEATS = 3


def figures() -> Iterator[Figure]:
    """Median of three fits after one that is not counted, for two materials."""
    for name in ("slab-lot-1", "blotter"):
        folder = Path(str(resources.files("bibula.demo"))) / "studio" / "materials" / name
        material, tests = read_material(next(folder.glob("*.toml")))
        fit_card(material, tests)
        times = []
        for _ in range(REPEATS):
            begun = time.perf_counter()
            fit_card(material, tests)
            times.append(time.perf_counter() - begun)
        yield Figure(f"(c) card fit of {name} from {len(tests)} tests", sorted(times)[REPEATS // 2], "s", 5.0)
