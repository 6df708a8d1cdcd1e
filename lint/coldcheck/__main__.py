"""``python -m coldcheck``: the same as the ``coldcheck`` command."""

import sys

from coldcheck.cli import main

if __name__ == "__main__":
    sys.exit(main())
