"""The steps of DEVELOPERS.md, done in a copy.

A kind of part, a rule, a tube, a statement, a report form, a command.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from tests.extending.copies import CODE, copied

from coldcheck.solve.tubes.fit import MARK

if TYPE_CHECKING:
    from pathlib import Path

    from tests.extending.copies import Copy

HEATED = """mains 230 V 50 Hz
transformer T1
    primary pri 230 V 12 ohm
    winding warm {volts} V {amps} A
tube V1 {name} heater T1.warm
T1.warm.1 -- gnd
"""
SUPPLY = "B1 --+[E1 250 V]-- gnd\nB1 --[R1 {ohms}]-- gnd\n"


def test_the_copy_is_what_runs(tmp_path: Path) -> None:
    copy = copied(tmp_path, "Adding a command")
    done = copy.python("-c", "import coldcheck, coldcheck.grammar as g; print(g.__file__)")
    assert done.stdout.startswith(str(tmp_path)), done.stderr


CASE = re.compile(r"(?:\bcase [^:]*?|\| |^ +)(PartKind\.THERMISTOR)(?=[ |:)\n])", re.MULTILINE)


def decided(source: str) -> str:
    """A module with the new kind in every case that has its nearest kin."""
    return CASE.sub(lambda m: f"{m[0]} | PartKind.GLOBAR", source)


def test_a_kind_of_part(tmp_path: Path) -> None:
    """One that conducts as a thermistor does; what mypy names is held by test_kinds.py."""
    copy = copied(tmp_path, "Adding a kind of part")
    copy.insert("drawing/kinds.py", '^    LAMP = "lamp"', '    GLOBAR = "globar"\n')
    assert "`circuit/kinds.py`" in copy.steps
    for path in (tmp_path / CODE).rglob("*.py"):
        source = path.read_text("utf-8")
        if "PartKind.THERMISTOR" in source:
            path.write_text(decided(source), "utf-8")
    copy.program("coldcheck.serve.textmate")
    assert "globar" in (tmp_path / "grammar" / "coldcheck.tmLanguage.json").read_text("utf-8")

    wires = "B1 --[RT1 10k {} 5 W]-- MID\nMID --[R1 10k 5 W]-- gnd\nB1 --+[E1 100 V]-- gnd\n"
    ask = "import coldcheck; print(coldcheck.review('a.tube').warm['MID'].dc)"
    volts = []
    for word in ("thermistor", "globar"):
        (tmp_path / "a.tube").write_text(wires.format(word))
        volts.append(copy.python("-c", ask))
        done = copy.coldcheck("review", "a.tube")
        assert done.returncode in (0, 1), done.stdout + done.stderr
        assert "drawing.not-supported" not in done.stdout
    assert float(volts[1].stdout) == pytest.approx(50, rel=1e-3)
    assert float(volts[0].stdout) > 90  # hot, as no other kind is


RULE = '''"""Resistors whose power a drawing has to state."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.judge.rule import rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.judge.finding import Outcome


@rule(
    "resistor.power-not-stated",
    title="Resistor across a supply without its power",
    level="notice",
    states="none: the drawing alone",
    needs="a resistor",
    criterion="A resistor whose power is not written beside its value.",
    why="Stores have the same values in four sizes, and whoever fetches the part goes by what "
    "the drawing says.",
    source="common practice",
    limits="Only resistors named R99 are looked at.",
)
def power_not_stated(case: Case) -> Iterator[Outcome]:
    """The resistor R99."""
    for branch in case.circuit.branches.values():
        if branch.name == "R99" and branch.part is not None and branch.part.power is None:
            yield power_not_stated.finding(
                case,
                (branch.name,),
                "R99 has no power",
                "Write it beside its value",
                certainty="certain",
            )


RULES = (power_not_stated,)
'''
WRONG = """# The size of a resistor is part of what a drawing has to say.
drawing "Bench Load"
B1 --+[E1 10 V]-- gnd
B1 --[R99 100k]-- gnd
"""
CHECKED = """
from coldcheck.verdict.check import check
from coldcheck.verdict.pairs import pairs
from coldcheck.verdict.registry import rule_by_id
print(check(rule_by_id("resistor.power-not-stated"), pairs()))
"""


def test_a_rule(tmp_path: Path) -> None:
    copy = copied(tmp_path, "Adding a rule")
    name = "resistor.power-not-stated"
    copy.write("rules/resistor/", "stated.py", RULE)
    module = "from coldcheck.rules.resistor import stated as resistor_stated\n"
    copy.insert("verdict/registry.py", "from coldcheck.rules.resistor import value", module)
    copy.insert("verdict/registry.py", "^    resistor_value,$", "    resistor_stated,\n")
    pair = copy.path("samples/mistakes/<identifier>/").with_name(name)
    pair.mkdir()
    (pair / "wrong.tube").write_text(WRONG)
    (pair / "right.tube").write_text(
        WRONG.partition("\n")[2].replace("100k]-- gnd", "100k 1 W]-- gnd  # mended")
    )
    copy.program("coldcheck.report.pages.reference")
    assert f"### {name}\n" in copy.path("samples/mistakes/README.md").read_text("utf-8")
    done = copy.coldcheck("review", str(pair / "wrong.tube"), "--report", "annotations")
    assert (done.returncode, len(done.stdout.splitlines())) == (1, 1), done.stdout + done.stderr
    assert copy.coldcheck("review", str(pair / "right.tube")).returncode == 0
    assert copy.python("-c", CHECKED).stdout == "[]\n"
    assert "Stores have the same values" in copy.coldcheck("why", name).stdout


def data(copy: Copy) -> dict[str, str]:
    """The files of the tube library."""
    folder = copy.path("circuit/data/")
    return {p.name: p.read_text("utf-8") for p in folder.glob("*.toml")}


@pytest.mark.parametrize(
    ("like", "wires"),
    [
        ("6C4", "B1 --+[E1 100 V]-- gnd\nB1 --[R1 10k 2 W]-- V1.plate\nV1.grid -- gnd\n"
                "V1.cathode --[R2 1k 1 W]-- gnd\n"),
        ("EL84", "B1 --+[E1 250 V]-- gnd\nB1 --[R1 1k 5 W]-- V1.plate\nB1 -- V1.screen\n"
                 "V1.grid -- gnd\nV1.cathode --[R2 150 5 W]-- gnd\n"),
        ("EZ80", "A --+[E1 100 V]-- gnd\nA -- V1.plate1\nA -- V1.plate2\n"
                 "V1.cathode --[R2 10k 5 W]-- gnd\n"),
    ],
    ids=["triode", "pentode", "rectifier"],
)  # fmt: skip
def test_a_tube(tmp_path: Path, like: str, wires: str) -> None:
    copy = copied(tmp_path, "Adding a tube")
    before = data(copy)
    old = before[f"{like}.toml"]
    new = re.sub(r"^also = .*$", "also = []", old.partition(MARK)[0], flags=re.MULTILINE)
    new = new.replace(f'name = "{like}"', 'name = "LANTERN9"')
    kind = re.search(r'^kind = "\w+"$', old, re.MULTILINE)[0]
    copy.write("circuit/data/", "LANTERN9.toml", f'{new}[[section]]\nnames = [""]\n{kind}\n')

    printed = copy.program("coldcheck.solve.tubes.fit", "LANTERN9")
    assert printed.startswith("LANTERN9")
    copy.program("coldcheck.circuit.tubes_index")
    after = data(copy)
    words = re.compile("^[a-z-]+ =", re.MULTILINE)  # the figures themselves: test_fit.py
    law, ours = (t.partition(MARK)[2] for t in (after["LANTERN9.toml"], old))
    assert words.findall(law) == words.findall(ours)
    changed = {n for n in after if after[n] != before.get(n)}
    assert changed == {"LANTERN9.toml", "index.toml"}
    assert "LANTERN9" in copy.coldcheck("tubes", "LANTERN9").stdout

    drawing = tmp_path / "a.tube"
    drawing.write_text(HEATED.format(volts=6.3, amps=2, name="LANTERN9") + wires)
    ask = "import coldcheck; print(coldcheck.review('a.tube').warm['V1.cathode'].dc)"
    volts = copy.python("-c", ask)
    assert volts.stderr == ""
    drawing.write_text(drawing.read_text().replace("LANTERN9", like))
    assert float(volts.stdout) == pytest.approx(float(copy.python("-c", ask).stdout), rel=1e-3)
    assert float(volts.stdout) > 1


def test_a_statement(tmp_path: Path) -> None:
    copy = copied(tmp_path, "Adding a statement")
    copy.insert("grammar/netlist.lark", r" \| chain$", " | remark")
    copy.insert("grammar/netlist.lark", "^transformer:", 'remark: "remark" STRING\n')
    copy.insert("drawing/lines.py", '^    "mains": ', '    "remark": \'remark "text"\',\n')
    shape = (
        "@dataclass(frozen=True, slots=True)\nclass Remark:\n"
        '    """``remark "text"``: a sentence of its own."""\n\n    text: str\n    span: Span\n\n\n'
    )
    copy.insert("drawing/model.py", "^Statement: TypeAlias", shape)
    copy.insert("drawing/model.py", r"^    \| Title$", "    | Remark\n")
    method = (
        "    def _remark(self, tree: Tree[Token]) -> model.Remark:\n"
        '        return model.Remark(str(first_of(tree, "STRING"))[1:-1], self.line.whole())\n\n'
    )
    copy.insert("drawing/statements.py", "^    def _mains", method)
    copy.insert("drawing/instances.py", r"^            case model.Title\(\)",
                "            case model.Remark():\n                return line\n")  # fmt: skip
    copy.program("coldcheck.drawing.tables")
    copy.insert("serve/textmate.py", r'"signal", "sheet"\)', '"remark", ')
    copy.program("coldcheck.serve.textmate")
    assert "remark" in (tmp_path / "grammar" / "coldcheck.tmLanguage.json").read_text("utf-8")

    stored = "from coldcheck.drawing import tables as t; t.build = None; t.load()"
    assert copy.python("-c", stored).stderr == ""
    (tmp_path / "part.tube").write_text('remark "inside"\nA --[R2 100k 5 W]-- gnd\n')
    (tmp_path / "a.tube").write_text(
        'remark "looked at twice"\n' + SUPPLY.format(ohms="100k 5 W")
        + 'sheet "part.tube" as P joining A = B1\n'
    )  # fmt: skip
    read = (
        "from pathlib import Path; from coldcheck.drawing import read_drawing\n"
        "d = read_drawing(Path('a.tube')); print([s.text for s in d.statements "
        "if type(s).__name__ == 'Remark'], d.problems)"
    )
    assert copy.python("-c", read).stdout == "['looked at twice', 'inside'] ()\n"
    done = copy.coldcheck("review", "a.tube")
    assert done.returncode == 0, done.stdout + done.stderr
    (tmp_path / "b.tube").write_text('remrk "x"\n')
    assert 'Did you mean "remark"?' in copy.coldcheck("review", "b.tube").stdout


def test_a_report_form(tmp_path: Path) -> None:
    """The form of the annotations again, under another name and with another sign."""
    copy = copied(tmp_path, "Adding a report form")
    model = (copy.path("report/review/") / "annotations.py").read_text("utf-8")
    assert 'f"::{word} ' in model
    copy.write("report/review/", "listed.py", model.replace('f"::{word} ', 'f"@@{word} '))
    copy.insert("cli/__init__.py", r', "html"\)$', ', "listed"')
    source = copy.path("cli/reports.py").read_text("utf-8")
    (block,) = re.findall(r'^    if form == "annotations":\n(?:        .*\n|\n)+', source, re.M)
    copy.insert("cli/reports.py", '^    if form == "annotations":',
                block.replace("annotations", "listed"))  # fmt: skip
    copy.program("coldcheck.report.pages.commands")
    assert "annotations, listed, html" in (tmp_path / "samples/guide/commands.md").read_text()

    (tmp_path / "a.tube").write_text(SUPPLY.format(ohms="1k 0.5 W"))
    done = copy.coldcheck("review", "a.tube", "--report", "listed", "--report", "json=a.json")
    assert done.returncode == 1
    assert done.stdout.startswith("@@error file=a.tube"), done.stdout + done.stderr
    assert copy.coldcheck("review", "a.tube", "--report", "listed=a.txt").stdout == ""
    assert (tmp_path / "a.txt").read_text() == done.stdout
    assert "did you mean listed" in copy.coldcheck("review", "a.tube", "--report", "listd").stderr


COMMAND = '''"""``coldcheck count``: how many statements a drawing has."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli import OK

if TYPE_CHECKING:
    from argparse import Namespace


def run(options: Namespace) -> int:
    """Print the number."""
    from coldcheck.drawing import read_drawing

    print(len(read_drawing(Path(options.file)).statements))
    return OK
'''
PARSED = """def _add_count(commands: argparse._SubParsersAction[Parser]) -> None:
    command = _command(commands, "count", "how many statements a drawing has")
    command.add_argument("file", metavar="FILE", help="a drawing")


"""


def test_a_command(tmp_path: Path) -> None:
    copy = copied(tmp_path, "Adding a command")
    assert "`cli/`" in copy.steps
    (tmp_path / CODE / "cli" / "count.py").write_text(COMMAND, "utf-8")
    copy.insert("cli/__init__.py", "^def _add_serve", PARSED)
    copy.insert("cli/__init__.py", r"_add_serve\),$", "_add_count, ")
    copy.program("coldcheck.report.pages.commands")
    assert "## count\n" in (tmp_path / "samples/guide/commands.md").read_text("utf-8")
    (tmp_path / "a.tube").write_text(SUPPLY.format(ohms="1k"))
    done = copy.coldcheck("count", "a.tube")
    assert (done.returncode, done.stdout, done.stderr) == (0, "2\n", "")
    assert "how many statements" in copy.coldcheck("--help").stdout
    assert copy.coldcheck("count").returncode == 3
