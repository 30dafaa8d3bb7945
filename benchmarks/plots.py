"""Cost against nodes, stages and members, as one picture."""

from __future__ import annotations

from pathlib import Path

from benchmarks import ensembles, stage


def draw(folder: Path) -> Path:
    """Measure and draw `cost.svg` into a folder; returns its path."""
    from matplotlib.figure import Figure

    parts = (
        ("nodes of one stage", "ms", stage.cost_of_nodes()),
        ("stages, 100 members", "s", ensembles.cost_of_stages()),
        ("members, one stage of a day", "s", ensembles.cost_of_members()),
    )
    picture = Figure(figsize=(10, 3.2), layout="constrained")
    for axes, (label, unit, points) in zip(picture.subplots(1, 3), parts, strict=True):
        axes.plot([x for x, _ in points], [y for _, y in points], "o-", color="#1d3557")
        axes.set_xlabel(label)
        axes.set_ylabel(unit)
        axes.set_xlim(left=0)
        axes.set_ylim(bottom=0)
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "cost.svg"
    picture.savefig(path)
    return path
