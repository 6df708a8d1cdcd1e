"""``python -m tests.readme``: the review in README.md written anew."""

from tests.readme.shown import write

write()
