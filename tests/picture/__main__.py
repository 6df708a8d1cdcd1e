"""``python -m tests.picture``: the samples' figures recorded anew."""

from tests.picture.measured import record

record()
