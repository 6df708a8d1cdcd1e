"""A package with a rule and a tube type: installed, found, run, shown, and held to our checks."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
PAIR = HERE / "house_rules" / "mistakes" / "house.power-not-stated"
RULE = "house.power-not-stated"

RAISES = """
from dataclasses import replace
from house_rules.good import power_not_stated
RULES = [replace(power_not_stated, judge=lambda case: 1 / 0)]
"""

CHECKS = """
from pathlib import Path
import house_rules
from coldcheck.extending import check, pairs_in
from house_rules.powers import RULES
pairs = pairs_in(Path(house_rules.__file__).parent / "mistakes")
print([check(rule, pairs) for rule in RULES])
"""


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The example installed as anyone would, into a folder of its own, without a network."""
    source = tmp_path_factory.mktemp("source") / "plugin"
    shutil.copytree(HERE, source, ignore=shutil.ignore_patterns("__pycache__", "test_*"))
    target = tmp_path_factory.mktemp("installed")
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "install", "--quiet"]
    options = ["--no-deps", "--no-build-isolation", "--no-index", "--target", str(target)]
    subprocess.run([*pip, *options, str(source)], check=True, capture_output=True, timeout=300)
    return target


def ran(installed: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """A process that has the package."""
    environment = {**os.environ, "PYTHONPATH": str(installed)}
    return subprocess.run(
        [sys.executable, *arguments],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env=environment,
        cwd=installed,
        check=False,
    )


def test_its_rule_runs_on_its_tube_type(installed: Path) -> None:
    done = ran(
        installed, *("-m", "coldcheck", "review", "--report", "json"),
        *(str(PAIR / "wrong.tube"), str(PAIR / "right.tube")),
    )  # fmt: skip
    assert done.stderr == ""
    assert done.returncode == 1
    wrong, right = json.loads(done.stdout)["drawings"]
    counting = [f for f in wrong["findings"] if f["level"] != "advice"]
    assert [(f["rule"], f["at"], f["line"]) for f in counting] == [(RULE, ["R1"], 8)]
    assert wrong["states"]["warm"]["tubes"]["V1"]["plate_ma"] > 0.1
    assert right["verdict"] == "let through"


def test_its_rule_is_listed_explained_and_known_to_the_reports(installed: Path) -> None:
    listed = ran(installed, "-m", "coldcheck", "why")
    assert RULE in listed.stdout
    page = ran(installed, "-m", "coldcheck", "why", RULE)
    assert page.returncode == 0
    for said in ("house-rules 1.0", "R1 is on a plate", "R1 100k 0.5 W", "four sizes"):
        assert said in page.stdout, said
    wrong = str(PAIR / "wrong.tube")
    sarif = ran(installed, "-m", "coldcheck", "review", "--report", "sarif", wrong)
    rules = json.loads(sarif.stdout)["runs"][0]["tool"]["driver"]["rules"]
    assert next(r["help"]["text"] for r in rules if r["id"] == RULE).startswith("looks for: ")
    junit = ran(installed, "-m", "coldcheck", "review", "--report", "junit", wrong)
    assert 'name="house"' in junit.stdout


def test_its_tube_type_is_listed_with_its_source(installed: Path) -> None:
    assert "LANTERN7" in ran(installed, "-m", "coldcheck", "tubes").stdout
    assert (
        "made up for this example"
        in ran(installed, "-m", "coldcheck", "tubes", "lamplighter").stdout
    )


def test_it_may_be_turned_off_and_its_findings_waived(installed: Path, tmp_path: Path) -> None:
    text = (PAIR / "wrong.tube").read_text("utf-8")
    waived = tmp_path / "waived.tube"
    waived.write_text(text + f'\naccept {RULE} at R1 because "it is an ornament"\n', "utf-8")
    assert ran(installed, "-m", "coldcheck", "review", str(waived)).returncode == 0
    (tmp_path / "off").mkdir()
    off = tmp_path / "off" / "off.tube"
    off.write_text(text, "utf-8")
    (tmp_path / "off" / "coldcheck.toml").write_text('off.house = "not our workshop"', "utf-8")
    assert ran(installed, "-m", "coldcheck", "review", str(off)).returncode == 0


def test_it_passes_the_checks_our_own_rules_pass(installed: Path) -> None:
    done = ran(installed, "-c", CHECKS)
    assert done.stdout == "[[]]\n", done.stderr


def test_without_it_neither_rule_nor_type_is_known(tmp_path: Path) -> None:
    done = ran(tmp_path, "-m", "coldcheck", "review", str(PAIR / "wrong.tube"))
    assert done.returncode == 1  # read as it is wired: undecided
    assert "LANTERN7 is not on file" in done.stdout
    assert "house" not in ran(tmp_path, "-m", "coldcheck", "why").stdout.casefold().split()


def test_a_rule_that_raises_is_told_with_its_package(installed: Path, tmp_path: Path) -> None:
    broken = tmp_path / "broken"
    shutil.copytree(installed, broken)
    (broken / "house_rules" / "powers.py").rename(broken / "house_rules" / "good.py")
    (broken / "house_rules" / "powers.py").write_text(RAISES, "utf-8")
    done = ran(broken, "-m", "coldcheck", "review", str(PAIR / "wrong.tube"))
    assert done.returncode == 3
    assert "the rule failed: ZeroDivisionError" in done.stdout
    assert "verdict:" in done.stdout
    assert "it comes with house-rules 1.0" in done.stderr
    assert "fault of the package" in done.stderr
    assert "Traceback" not in done.stdout + done.stderr


def test_a_package_that_cannot_be_imported_takes_nothing_down(
    installed: Path, tmp_path: Path
) -> None:
    broken = tmp_path / "broken"
    shutil.copytree(installed, broken)
    (broken / "house_rules" / "powers.py").write_text("raise SystemExit('no')", "utf-8")
    done = ran(broken, "-m", "coldcheck", "review", str(PAIR / "right.tube"))
    assert done.returncode == 3
    assert "the rules of house-rules 1.0 failed: SystemExit: no" in done.stdout
    assert "verdict: undecided — a package could not be read: mend that" in done.stdout
    assert "currents balance at every point" in done.stdout
    assert ran(broken, "-m", "coldcheck", "--help").returncode == 0
    assert ran(broken, "-m", "coldcheck", "why").returncode == 0


def test_help_asks_no_package(installed: Path) -> None:
    code = "import sys; from coldcheck.cli import main; main(['--help']); print(*sys.modules)"
    done = ran(installed, "-c", code)
    assert "house_rules" not in done.stdout.split()
