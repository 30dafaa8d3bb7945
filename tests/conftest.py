"""Fixtures for all tests."""

from __future__ import annotations

import os
from pathlib import Path

import pytest


def shared_data_folder() -> Path:
    """The folder of open data files: BIBULA_SHARED_DATA, else ../shared/data beside the repository."""
    named = os.environ.get("BIBULA_SHARED_DATA")
    return Path(named) if named else Path(__file__).resolve().parents[2] / "shared" / "data"


class SharedData:
    """The folder of open data; a test that asks for a file that is not there is skipped, naming it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __truediv__(self, name: str) -> Path:
        path = self.folder / name
        if not path.is_file():
            pytest.skip(f"the data file {name} is not at hand (set BIBULA_SHARED_DATA to its folder)")
        return path


@pytest.fixture(scope="session")
def shared_data() -> SharedData:
    """Open data files that are no part of this repository: `shared_data / "leaf_drying.csv"`."""
    return SharedData(shared_data_folder())
