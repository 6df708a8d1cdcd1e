"""A month's changes: what each does to the repository, and whether it has to be stopped."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from tests.month.repository import STANDING, Repository
from tests.planted.record import explained

from coldcheck.drawing import parse_drawing
from coldcheck.drawing.tidy import tidied
from coldcheck.teach.clean import Clean
from coldcheck.teach.plants import plants
from coldcheck.verdict.engine import review_drawing

if TYPE_CHECKING:
    import random
    from collections.abc import Callable, Iterator
    from pathlib import Path

CHANGES_A_DAY = 2


@dataclass(frozen=True)
class Change:
    """One change, made already; ``bad`` ones have to be stopped.

    ``waiver``: it is a waiver that is new. The hook takes it, the gate leaves it to whoever may
    decide it.
    """

    what: str
    bad: bool
    waiver: bool = False


def month(repository: Repository, days: int) -> Iterator[Change]:
    """Make one change after another; each is to be submitted before the next is asked for."""
    good: list[Callable[[Repository], Change]] = [
        remark, laid_out, renamed_point, other_load, other_order, other_name, new_drawing,
        left_out, mended, remark_on_a_standing_one, sheet_remark, sheet_value,
    ]  # fmt: skip
    bad: list[Callable[[Repository], Change]] = [
        planted_in_a_stage, planted_in_a_set, planted_in_a_set, planted_in_a_set,
        another_finding, accepted, expired, new_bad_drawing, sheet_mistake, misspelt,
        unexplained_setting,
    ]  # fmt: skip
    careless: list[Callable[[Repository], Change]] = [
        ledger_in_another_order, ledger_doubled, ledger_of_two_sides, taken_back, from_behind,
    ]  # fmt: skip
    for n in range(days * CHANGES_A_DAY):
        kinds = bad if n % 3 == 2 else careless if n % 6 == 3 else good
        yield one_of(repository, kinds)


def one_of(repository: Repository, kinds: list[Callable[[Repository], Change]]) -> Change:
    """A change of a kind that there is still a drawing for."""
    while True:
        try:
            return repository.chance.choice(kinds)(repository)
        except NoDrawingError:
            continue


# -- by somebody careless -------------------------------------------------------------------


def lines_of(repository: Repository) -> list[str]:
    """The lines of the ledger; raises NoDrawingError where nothing stands in it."""
    lines = (repository.folder / "ledger").read_text().splitlines()
    if len(lines) < 3:
        raise NoDrawingError
    return lines


def ledger_in_another_order(repository: Repository) -> Change:
    heading, *lines = lines_of(repository)
    text = "\n".join([mark(repository).strip(), *reversed(lines), heading, ""])
    (repository.folder / "ledger").write_text(text)
    return Change("the ledger in another order", bad=False)


def ledger_doubled(repository: Repository) -> Change:
    """As a merge that keeps both sides leaves it."""
    lines = lines_of(repository)
    text = "\n".join([*lines, mark(repository).strip(), *lines[1:], ""])
    (repository.folder / "ledger").write_text(text)
    return Change("the lines of the ledger twice", bad=False)


def ledger_of_two_sides(repository: Repository) -> Change:
    """A conflict that was committed as it was: the ledger cannot be read."""
    lines = lines_of(repository)
    marks = ("<<<<<<< HEAD", *lines[1:2], "=======", *lines[2:], ">>>>>>> other")
    (repository.folder / "ledger").write_text("\n".join([lines[0], *marks, ""]))
    return Change("the marks of a merge left in the ledger", bad=True)


def taken_back(repository: Repository) -> Change:
    """The last change that went through is reverted, where it only edited drawings."""
    listed = repository.run("git", "diff", "--name-status", "HEAD~1", "HEAD").stdout.splitlines()
    if not listed or any(not t.startswith("M\t") for t in listed):
        raise NoDrawingError
    repository.run("git", "revert", "--no-commit", "HEAD")
    repository.run("git", "revert", "--quit")
    return Change(f"a change taken back: {', '.join(t[2:] for t in listed)}", bad=False)


def from_behind(repository: Repository) -> Change:
    """A branch that began some changes ago, and does not know them."""
    repository.run("git", "checkout", "-q", "--detach", "HEAD~3")
    there = [p for p in repository.drawings if p.exists()]
    if repository.run("git", "rev-parse", "HEAD").stdout == repository.tip or not there:
        repository.run("git", "checkout", "-q", "main")
        raise NoDrawingError
    name = edited(repository.chance.choice(there), lambda t: t + mark(repository))
    return Change(f"a remark on a branch that is behind: {name}", bad=False)


class NoDrawingError(Exception):
    """No drawing is left that a change fits."""


def edited(path: Path, change: Callable[[str], str]) -> str:
    """Rewrite a file; returns its name. Raises AssertionError where nothing changes."""
    old = path.read_text()
    new = change(old)
    assert new != old, path.name
    path.write_text(new)
    return path.name


def any_of(repository: Repository, files: list[Path], fits: Callable[[str], bool]) -> Path:
    """One of the drawings whose text fits; raises NoDrawingError where there is none."""
    fitting = [p for p in files if fits(p.read_text())]
    if not fitting:
        raise NoDrawingError
    return repository.chance.choice(fitting)


def mark(repository: Repository) -> str:
    """Something no other change wrote."""
    return f"# looked at, {repository.chance.randrange(10**9)}\n"


def remark(repository: Repository) -> Change:
    name = edited(repository.chance.choice(repository.drawings), lambda t: t + mark(repository))
    return Change(f"a remark: {name}", bad=False)


def remark_on_a_standing_one(repository: Repository) -> Change:
    file = any_of(repository, repository.stages, lambda t: STANDING in t)
    return Change(f"a remark beside a standing finding: {edited(file, top(repository))}", bad=False)


def top(repository: Repository) -> Callable[[str], str]:
    """A remark above everything: every line has another number."""
    return lambda text: mark(repository) + text


def laid_out(repository: Repository) -> Change:
    file = any_of(repository, repository.drawings, lambda t: tidied(t) != t)
    return Change(f"laid out: {edited(file, tidied)}", bad=False)


def renamed_point(repository: Repository) -> Change:
    file = any_of(repository, repository.stages, lambda t: bool(re.search(r"\bOUT\b", t)))
    return Change(f"a point renamed: {edited(file, lambda t: t.replace('OUT', 'NEXT'))}", bad=False)


def other_load(repository: Repository) -> Change:
    value = repository.chance.choice(("820k", "680k", "470k"))
    file = any_of(repository, repository.stages, lambda t: "R4 1M" in t)
    return Change(
        f"another load: {edited(file, lambda t: t.replace('R4 1M', f'R4 {value}'))}", False
    )


def other_order(repository: Repository) -> Change:
    file = any_of(repository, repository.stages, lambda t: shuffled(repository.chance, t) != t)
    return Change(f"lines in another order: {edited(file, lambda t: moved(repository, t))}", False)


def moved(repository: Repository, text: str) -> str:
    """The wires in an order that differs."""
    new = text
    while new == text:
        new = shuffled(repository.chance, text)
    return new


def shuffled(chance: random.Random, text: str) -> str:
    """The wires in another order; declarations stay where they are."""
    lines = text.splitlines()
    places = [n for n, t in enumerate(lines) if "--[" in t and not t.startswith(" ")]
    order = places[:]
    chance.shuffle(order)
    kept = dict(zip(places, [lines[n] for n in order], strict=True))
    return "\n".join(kept.get(n, t) for n, t in enumerate(lines)) + "\n"


def other_name(repository: Repository) -> Change:
    """A drawing renamed, also one whose findings stand: they go with it."""
    n = repository.chance.randrange(len(repository.stages))
    old = repository.stages[n]
    repository.stages[n] = old.rename(
        old.with_name(f"renamed-{repository.chance.randrange(10**6)}.tube")
    )
    return Change(f"a drawing renamed: {old.name}", bad=False)


def new_drawing(repository: Repository) -> Change:
    text = any_of(repository, repository.stages, lambda t: STANDING not in t).read_text()
    path = repository.folder / f"new-{repository.chance.randrange(10**6)}.tube"
    path.write_text(text + mark(repository))
    repository.stages.append(path)
    return Change(f"a new drawing: {path.name}", bad=False)


def left_out(repository: Repository) -> Change:
    path = repository.stages.pop(repository.chance.randrange(len(repository.stages)))
    path.unlink()
    return Change(f"a drawing taken out: {path.name}", bad=False)


def mended(repository: Repository) -> Change:
    """A standing finding mended: it is gone, and that stops nothing."""
    file = any_of(repository, repository.stages, lambda t: STANDING in t)
    return Change(
        f"a standing finding mended: {edited(file, lambda t: t.replace(STANDING, ''))}", False
    )


def accepted(repository: Repository) -> Change:
    """A mistake that was judged and accepted with a reason, by whom it is not for."""
    file = any_of(repository, repository.stages, lambda t: "C91" not in t and STANDING not in t)
    lines = (
        'B1 --[C91 100 nF 100 V]-- gnd\naccept capacitor.over-voltage at C91 because "a dummy"\n'
    )
    name = edited(file, lambda t: t + lines)
    return Change(f"a finding accepted: {name}", bad=True, waiver=True)


def sheet_remark(repository: Repository) -> Change:
    return Change(f"a remark in a sheet: {edited(repository.sheet, top(repository))}", False)


def sheet_value(repository: Repository) -> Change:
    """A coupling capacitor of another size in the sheet, for better or worse sound."""
    swap = {"22 nF": "33 nF", "33 nF": "22 nF"}
    name = edited(
        repository.sheet, lambda t: re.sub(r"(C1 )(22 nF|33 nF)", lambda m: m[1] + swap[m[2]], t)
    )
    return Change(f"another value in a sheet: {name}", bad=False)


def planted_in_a_stage(repository: Repository) -> Change:
    file = any_of(repository, repository.stages, lambda t: STANDING not in t and "accept" not in t)
    return planted(repository, file)


def planted_in_a_set(repository: Repository) -> Change:
    return planted(repository, repository.chance.choice(repository.copies))


def planted(repository: Repository, file: Path) -> Change:
    """Any mistake ``coldcheck drill`` knows, anywhere it applies and the study says it is found."""
    text = file.read_text()
    clean = Clean.of(file.name, text, review_drawing(parse_drawing(text), date.today()))
    sample, missed = file.stem.rpartition("-")[0], explained()
    every = [p for p in plants(clean) if (sample, p.kind, p.plant.place) not in missed]
    found = repository.chance.choice(every)
    file.write_text(found.plant.text)
    return Change(f"{found.kind} ({found.plant.place}): {file.name}", bad=True)


def another_finding(repository: Repository) -> Change:
    """A second mistake in a drawing whose first one stands in the ledger."""
    file = any_of(repository, repository.stages, lambda t: STANDING in t)
    name = edited(file, lambda t: t.replace("C2 47 uF 450 V", "C2 47 uF 160 V"))
    return Change(f"a second finding beside a standing one: {name}", bad=True)


def expired(repository: Repository) -> Change:
    """An acceptance whose end is over."""
    file = any_of(repository, repository.stages, lambda t: "C91" not in t and STANDING not in t)
    line = (
        "B1 --[C91 100 nF 100 V]-- gnd\n"
        'accept capacitor.over-voltage at C91 because "until spring" until 2026-03-01\n'
    )
    return Change(f"an acceptance that is over: {edited(file, lambda t: t + line)}", bad=True)


def new_bad_drawing(repository: Repository) -> Change:
    text = any_of(repository, repository.stages, lambda t: STANDING not in t).read_text()
    path = repository.folder / f"bad-{repository.chance.randrange(10**6)}.tube"
    path.write_text(
        text.replace("RES --+[C1", "gnd --+[C1", 1).replace("450 V]-- gnd", "450 V]-- RES", 1)
    )
    return Change(f"a new drawing with an electrolytic turned round: {path.name}", bad=True)


def sheet_mistake(repository: Repository) -> Change:
    """A grid leak taken out of the shared sheet: every drawing that uses it is hit."""
    name = edited(repository.sheet, lambda t: t.replace("--[R2 470k 0.5 W]-- gnd", ""))
    return Change(f"a grid leak left out of a sheet: {name}", bad=True)


def misspelt(repository: Repository) -> Change:
    file = any_of(repository, repository.stages, lambda t: "12AX7" in t)
    return Change(
        f"a type misspelt: {edited(file, lambda t: t.replace('12AX7', '12XA7'))}", bad=True
    )


def unexplained_setting(repository: Repository) -> Change:
    """A rule switched off without a reason: nothing is reviewed, by hook and gate."""
    (repository.folder / "coldcheck.toml").write_text('[off]\n"supply.no-bleeder" = ""\n')
    return Change("a rule switched off without a reason: coldcheck.toml", bad=True)
