"""The front door of the command line: finds the command, runs it, turns errors into sentences.

Nothing heavy is imported here. Each command is a module of this folder with
`add_arguments(parser)` and `run(args) -> int`, imported only when it is called for.
"""

from __future__ import annotations

import argparse
import importlib
import os
import sys
from collections.abc import Sequence
from importlib.metadata import version
from types import ModuleType

from bibula.quantities.errors import BibulaError

COMMANDS: dict[str, tuple[str, str]] = {
    "demo": ("bibula.cli.demo", "show the whole way on an invented example"),
    "fit": ("bibula.cli.fit", "make a material card from weighings"),
    "cards": ("bibula.cli.cards", "list the cards, or show one"),
    "plan": ("bibula.cli.plan", "check a plan and show its stack and stages"),
    "propose": ("bibula.cli.propose", "propose stacks for an object from the cards at hand"),
    "forecast": ("bibula.cli.forecast", "say how a planned treatment will go, with its band"),
    "update": ("bibula.cli.update", "correct a forecast with what was seen at the bench"),
    "sheet": ("bibula.cli.sheet", "make the bench sheet of a plan to print"),
    "verify": ("bibula.cli.verify", "recompute the published check values and show the differences"),
    "prepare": ("bibula.cli.prepare", "compile the numerical core once, so that later starts are quick"),
}
"""Command -> (its module, one line of help), in the order of the work."""

INTERRUPTED = 130
"""Exit code after Ctrl-C: 128 + the number of the signal, as shells have it."""


def build_parser(argv: Sequence[str]) -> tuple[argparse.ArgumentParser, ModuleType | None]:
    """The parser for one call, and the module of the command it names.

    Only that command's module is imported; the others appear with their line of help alone.

    Args:
        argv: the arguments, without the program's name.

    Returns:
        The parser, and the command's module or None where argv starts with no known command.
    """
    parser = argparse.ArgumentParser(
        prog="bibula",
        description="Know an absorbent material, plan and forecast how wet paper dries against it.",
        epilog="'bibula COMMAND --help' explains a command.",
    )
    parser.add_argument("--version", action="version", version=f"bibula {version('bibula')}")
    named = next((word for word in argv if not word.startswith("-")), None)
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    module = None
    for name, (path, line) in COMMANDS.items():
        command = commands.add_parser(name, help=line, description=line[0].upper() + line[1:] + ".")
        if name == named:
            module = importlib.import_module(path)
            module.add_arguments(command)
    return parser, module


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command.

    Args:
        argv: the arguments; those of the process if None.

    Returns:
        0 on success, else the exit code of the error met: 2 for input a user can mend.
    """
    words = list(sys.argv[1:] if argv is None else argv)
    try:
        parser, module = build_parser(words)
        args = parser.parse_args(words)
        code = int(module.run(args)) if module else 0
        sys.stdout.flush()
    except BibulaError as error:
        print(error.sentence(), file=sys.stderr)
        return error.exit_code
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        # Whoever read our output closed it, as `head` does. Without this, Python complains again at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    return code
