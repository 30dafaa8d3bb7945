"""Lets Bibula start as `python -m bibula`."""

import sys

from bibula.cli.main import main

if __name__ == "__main__":
    sys.exit(main())
