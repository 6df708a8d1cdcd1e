"""Every attempt of somebody who knows the code is held, or loud; a careless maintainer goes on."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import pytest
from tests.month.adversary import (
    ATTEMPTS,
    BAD,
    GOOD,
    REVERSED,
    SETTINGS,
    WAIVER,
    WRONG,
    Attempt,
    Ground,
    tried,
)  # fmt: skip

if TYPE_CHECKING:
    from pathlib import Path

LEAST = 30


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A repository with its first commit, to be copied."""
    folder = tmp_path_factory.mktemp("first")
    Ground(folder / "drawings").begin()
    return folder


@pytest.fixture
def ground(first: Path, tmp_path: Path) -> Ground:
    shutil.copytree(first, tmp_path / "copy", symlinks=True)
    return Ground(tmp_path / "copy" / "drawings")


def test_there_are_enough_attempts() -> None:
    assert len(ATTEMPTS) >= LEAST
    assert len({a.name for a in ATTEMPTS}) == len(ATTEMPTS)


@pytest.mark.parametrize("attempt", ATTEMPTS, ids=lambda a: a.name)
def test_an_attempt_is_held_or_loud(attempt: Attempt, ground: Ground) -> None:
    right, fate = tried(attempt, ground)
    assert right, f"status {fate.status}\n{fate.said[:2000]}"


def test_what_is_sound_goes_through(ground: Ground) -> None:
    """Or holding everything would do."""
    ground.write("amps/a.tube", GOOD + "# a remark\n")
    ground.write("amps/new.tube", GOOD)
    ground.move("amps/b.tube", "radios/b.tube")
    fate = ground.gated()
    assert fate.status == 0, fate.said


def test_links_that_lead_where_they_led_are_no_matter(ground: Ground) -> None:
    waiver = WAIVER.replace("C1", "H/C1")
    ground.write("parts/v1/part.tube", REVERSED)
    ground.link("amps/parts", "../parts/v1")
    uses = GOOD + 'sheet "parts/part.tube" as H joining IN = M\n' + waiver
    ground.write("amps/c.tube", uses)
    ground.write("zz/other.tube", GOOD + "# another\n")
    ground.link("amps/other.tube", "../zz/other.tube")
    ground.write("parts/v1/alone.tube", GOOD + 'sheet "part.tube" as H joining IN = M\n' + waiver)
    ground.commit("links")
    ground.write("amps/c.tube", uses + "# once more\n")
    ground.write("zz/other.tube", GOOD + "# another, once more\n")
    fate = ground.gated()
    assert fate.status == 0, fate.said
    assert "1 notice accepted in the drawing" in fate.said


# -- a careless maintainer ------------------------------------------------------------------


def merged(ground: Ground, *texts: str) -> None:
    """Branches that each take a drawing of their own into the ledger, merged."""
    for n, text in enumerate(texts):
        ground.git("checkout", "-qb", f"side{n}", "main")
        ground.write(f"amps/side{n}.tube", text)
        ground.update_ledger()
        ground.commit(f"side {n}")
    ground.git("checkout", "-q", "main")
    ground.git("merge", "-q", "side0")
    ground.run("git", "merge", "-q", "side1")


def test_a_conflict_of_ledgers_is_solved_by_keeping_both_sides(ground: Ground) -> None:
    merged(ground, BAD, BAD.replace("C1", "C2"))
    text = ground.read("ledger")
    if "<<<<<<<" in text:
        held = ground.run("./gate.sh")
        assert held.returncode == 3
        assert "keep the lines of both sides" in held.stderr
    lines = [t for t in text.splitlines() if not t.startswith(("<<<<", "====", ">>>>"))]
    ground.write("ledger", "\n".join([*reversed(lines), lines[-1], ""]))
    ground.commit("merged")
    done = ground.run("./gate.sh")
    assert done.returncode == 0, done.stdout
    ground.write("amps/side1.tube", BAD.replace("C1", "C2") + "B1 --[R3 100 0.5 W]-- gnd\n")
    assert ground.gated().status == 1


def test_a_branch_that_is_behind_is_judged_by_the_new_rules_until_it_is_rebased(
    ground: Ground,
) -> None:
    ground.write("coldcheck.toml", SETTINGS + '[off]\nsignal = "for now"\n')
    ground.commit("a rule turned off by whoever may")
    ground.git("checkout", "-qb", "behind")
    ground.write("amps/new.tube", GOOD)
    ground.commit("new")
    ground.git("checkout", "-q", "main")
    ground.write("coldcheck.toml", SETTINGS)
    ground.commit("and on again")
    ground.git("checkout", "-q", "behind")
    held = ground.run("./gate.sh")
    assert held.returncode == 1
    assert "change.rule-off" in held.stdout
    ground.git("rebase", "-q", "main")
    assert ground.run("./gate.sh").returncode == 0


def test_a_revert_brings_back_finding_and_line_and_is_held(ground: Ground) -> None:
    """What was mended once does not stand again because it stood before."""
    ground.write("amps/stands.tube", GOOD + "# mended\n")
    ground.update_ledger()
    ground.commit("mended")
    assert "stands.tube" not in ground.read("ledger")
    ground.git("checkout", "-qb", "revert")
    ground.git("revert", "--no-edit", "HEAD")
    assert "stands.tube" in ground.read("ledger")
    done = ground.run("./gate.sh")
    assert done.returncode == 1
    assert "change.ledger-grown" in done.stdout
    assert "capacitor.reversed" in done.stdout


def test_a_maintainer_may_decide_on_the_branch_that_is_trusted(ground: Ground) -> None:
    waiver = 'accept capacitor.reversed at C1 because "it is a dummy"\n'
    ground.write("amps/a.tube", GOOD + WRONG + waiver)
    assert ground.gated().status == 1
    ground.git("checkout", "-q", "main")
    ground.git("merge", "-q", "change")  # by whoever may
    ground.git("branch", "-qD", "change")
    ground.write("amps/a.tube", "# once more\n" + GOOD + WRONG + waiver)
    fate = ground.gated()
    assert fate.status == 0
    assert "1 notice accepted in the drawing" in fate.said


def test_a_merge_of_main_into_a_branch_changes_nothing(ground: Ground) -> None:
    ground.git("checkout", "-qb", "long")
    ground.write("amps/long.tube", GOOD)
    ground.commit("long")
    ground.git("checkout", "-q", "main")
    ground.move("amps/stands.tube", "radios/stands.tube")
    ground.update_ledger()
    ground.commit("moved")
    ground.git("checkout", "-q", "long")
    ground.git("merge", "-q", "--no-edit", "main")
    done = ground.run("./gate.sh")
    assert done.returncode == 0, done.stdout
