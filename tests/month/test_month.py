"""A few days of the month that ``python -m tests.month`` lives through whole."""

from tests.month.__main__ import lived


def test_a_few_days(capsys):
    counts, wrong = lived(drawings=12, days=3, seed=2)
    told = capsys.readouterr().out
    assert wrong == 0, told
    assert counts == {"passed": 3, "stopped": 3}, told
