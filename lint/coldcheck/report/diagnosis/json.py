"""Readings and diagnosis as JSON.

Schema ``coldcheck.readings/1``. Volts and ohms; ``"infinite"`` stands for no path, ``null`` for
what has no number. ``share`` is of the belief among the suspects, ``null`` of one that the readings
refute, ``outside`` that it is none of them, ``likelihood`` over that of the
suspect the readings speak for most.
"""

from __future__ import annotations

import json
from math import inf
from typing import TYPE_CHECKING, Any

from coldcheck.bench.diagnosis.readings import OHM
from coldcheck.report.diagnosis.words import CAUTION, LIMITS, check
from coldcheck.report.shared.conditions import as_data

if TYPE_CHECKING:
    from coldcheck.bench.diagnosis.account import Account, Leading
    from coldcheck.bench.diagnosis.judged import Judged
    from coldcheck.bench.diagnosis.ranked import Next, Ranked, Weighed

SCHEMA = "coldcheck.readings/1"


def render(account: Account) -> str:
    """The whole account."""
    found = {
        "schema": SCHEMA,
        "file": account.file,
        "title": account.title,
        "live_common": account.live,
        "conditions": None if account.conditions is None else as_data(account.conditions),
        "readings": [_judged(j) for j in account.judged],
        "no_diagnosis": account.reason or None,
        "explained": account.explained,
        "outside": _number(account.beyond),
        "groups": [_group(g, account) for g in account.leading],
        "next": [_next(n) for n in account.following],
        "not_used": [{"point": r.point, "kind": r.kind, "state": r.state} for r in account.unused],
        "unseen": [s.key for s in account.unseen],
        "not_solved": [{"suspect": words, "reason": why} for words, why in account.unsolved],
        "limits": LIMITS,
        "caution": CAUTION,
    }
    return json.dumps(found, indent=2, ensure_ascii=False) + "\n"


def _number(value: float | None) -> float | str | None:
    if value is None:
        return None
    return "infinite" if value == inf else float(f"{value:.6g}")


def _judged(judged: Judged) -> dict[str, Any]:
    r = judged.reading
    return {
        "point": r.point, "kind": r.kind, "state": r.state, "value": _number(r.value),
        "expected": _number(judged.expected), "low": _number(judged.low),
        "high": _number(judged.high), "loading": _number(judged.loading),
        "verdict": judged.verdict, "reason": judged.reason or None,
        "from": r.other, "perhaps_meant": _number(judged.meant),
    }  # fmt: skip


def _group(leading: Leading, account: Account) -> dict[str, Any]:
    told = account.explained and not leading.refuted
    return {
        "share": _number(leading.share) if told else None,
        "refuted": leading.refuted,
        "sound": leading.sound,
        "suspects": [_ranked(r, told=told) for r in leading.members],
        "readings": [_weighed(w) for w in leading.weighed],
        "lost_reference": list(leading.lost),
        "check": check(leading.members[0].suspect) or None,
    }


def _ranked(ranked: Ranked, *, told: bool) -> dict[str, Any]:
    return {
        "suspect": ranked.suspect.key, "kind": ranked.suspect.kind,
        "parts": list(ranked.suspect.parts), "said": ranked.said,
        "share": _number(ranked.share) if told and not ranked.refuted else None,
        "likelihood": _number(ranked.likelihood), "misfit": _number(ranked.misfit),
        "size": _number(ranked.size) if ranked.suspect.sized else None,
    }  # fmt: skip


def _weighed(weighed: Weighed) -> dict[str, Any]:
    return {
        "point": weighed.point, "kind": weighed.kind, "value": _number(weighed.value),
        "expected": _number(weighed.expected), "deviations": _number(weighed.off),
        "supports": weighed.supports, "contradicts": weighed.contradicts,
    }  # fmt: skip


def _next(following: Next) -> dict[str, Any]:
    return {
        "point": following.channel.point,
        "kind": following.channel.kind,
        "power": "off" if following.channel.kind == OHM else "on",
        "bits": _number(following.bits),
        "would_show": [
            {"suspect": s.key, "expected": _number(mean), "give_or_take": _number(off)}
            for s, mean, off in following.telling
        ],
    }
