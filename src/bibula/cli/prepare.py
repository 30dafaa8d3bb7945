"""`bibula prepare`: compiles the numerical core once, so that later starts are quick."""

from __future__ import annotations

import argparse
import importlib
import importlib.util


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take no arguments of its own.

    Args:
        parser: the parser of this command.
    """


def run(args: argparse.Namespace) -> int:
    """Fill the compiler's cache.

    Args:
        args: nothing is read from it.

    Returns:
        0.
    """
    if importlib.util.find_spec("bibula.physics.prepare") is None:
        print("Nothing to compile.")
        return 0
    importlib.import_module("bibula.physics.prepare").prepare()
    print("Compiled.")
    return 0
