"""``python -m coldcheck``: the same as the ``coldcheck`` command."""

from coldcheck.cli import process

if __name__ == "__main__":
    process()
