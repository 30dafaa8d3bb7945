"""(d) What a user waits for: the help, and the first forecast of a fresh process."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from benchmarks.ensembles import OBJECT, STAGE
from benchmarks.measure import Figure, median_s

FIRST = """
import sys
from bibula.cards.library import starting_cards
from bibula.forecast.forecast import make_forecast
from bibula.plan.files import read_plan
make_forecast(read_plan(sys.argv[1]), starting_cards(), members=20)
"""


def figures() -> Iterator[Figure]:
    """Whole processes, compiled code already in the cache."""

    def call(*words: str) -> None:
        subprocess.run([sys.executable, *words], check=True, stdout=subprocess.DEVNULL)

    yield Figure("(d) bibula --help", median_s(lambda: call("-m", "bibula", "--help"), 5), "s", 0.3)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "plan.toml"
        layers = '{card = "slab (starting card)"}, {card = "interleaf (starting card)"}, '
        path.write_text(OBJECT + STAGE.format(name="day", duration="24 h", below=layers, above=""), encoding="utf-8")
        seconds = median_s(lambda: call("-c", FIRST, str(path)), 5)
        yield Figure("(d) first forecast of a fresh process, 20 members", seconds, "s", 1.5)
