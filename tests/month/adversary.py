"""Somebody who knows the code and wants something through: ``python -m tests.month --adversary``.

Each attempt is a change in a small repository of its own, on a branch, gated as the guide says. It
is *held* where the gate stops it, and *loud* where it goes through and the report says what it did.
What is held has, but for what only loosens, a reversed electrolytic or worse in it, so that a gate
that looked away would let it pass.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.circuit import tubes

if TYPE_CHECKING:
    from collections.abc import Callable

COLDCHECK = str(Path(sys.executable).with_name("coldcheck"))
GATE = f"""\
#!/bin/sh
exec {COLDCHECK} review . --touched-since main --trusting main --ledger ledger \\
    --report annotations --report json=../report.json
"""
GOOD = "B1 --+[E1 24 V]-- gnd\nB1 --[R1 10k 0.5 W]-- M --[R2 10k 0.5 W]-- gnd\n"
WRONG = "gnd --+[C1 10 uF 50 V]-- M\n"
BAD = GOOD + WRONG
WORSE = BAD.replace("10 uF 50 V", "10 uF 3 V").replace("24 V", "240 V").replace("0.5 W", "5 W")
WAIVER = 'accept capacitor.reversed at C1 because "a dummy"\n'
SHOCK = (
    "mains 230 V 50 Hz\ntransformer T1\n    primary pri 230 V 12 ohm\n"
    "    winding ht 250 V 100 ohm\nline --[F1 fuse 0.5 A]-- T1.pri.1\nneutral -- T1.pri.2\n"
    "T1.ht.2 -- gnd -- chassis\nT1.ht.1 --[R1 100k 5 W]-- gnd\n"
)
STAGE = (
    "tube V1 MY7 heater T1.warm\nmains 230 V 50 Hz\ntransformer T1\n    primary pri 230 V 12 ohm\n"
    "    winding warm 6.3 V ct 1 A\nT1.warm.ct -- gnd\nB1 --+[E1 250 V]-- gnd\n"
    "B1 --[R1 100k 0.5 W]-- V1A.plate\nV1A.cathode --[R2 1k5]-- gnd\nV1A.grid --[R3 1M]-- gnd\n"
    "V1B.grid -- V1B.cathode -- gnd\n"
)
SETTINGS = 'data = ["tubes"]\n[folders.old]\ngate = "danger"\n'
USES = GOOD + 'sheet "half.tube" as H joining IN = M\n'
HALF = "IN --[R9 10k 0.5 W]-- gnd\n"
REVERSED = HALF + "gnd --+[C1 10 uF 50 V]-- IN\n"


def own_type() -> str:
    """Tube data of the repository: a type of its own name."""
    text = Path(tubes.__file__).with_name("data").joinpath("12AX7.toml").read_text("utf-8")
    text = "".join(t for t in text.splitlines(keepends=True) if not t.startswith("also ="))
    return text.replace('name = "12AX7"', 'name = "MY7"')


@dataclass(frozen=True)
class Tried:
    """What became of an attempt: the gate's status, and all that it said."""

    status: int
    said: str


@dataclass(frozen=True)
class Ground:
    """A repository to try something in; what is read and written is relative to its root."""

    root: Path

    def begin(self) -> None:
        """The first commit: sound drawings, one that stands, one that is waived, a sheet."""
        self.root.mkdir(parents=True)
        files = {
            "amps/a.tube": GOOD, "amps/b.tube": GOOD + "# the second\n",
            "amps/stands.tube": BAD + "# stands\n", "amps/waived.tube": BAD + WAIVER,
            "amps/uses.tube": USES, "amps/half.tube": HALF, "amps/stage.tube": STAGE,
            "old/o.tube": GOOD + "# old\n", "coldcheck.toml": SETTINGS,
            "tubes/MY7.toml": own_type(), "gate.sh": GATE,
        }  # fmt: skip
        for name, text in files.items():
            self.write(name, text)
        (self.root / "gate.sh").chmod(0o755)
        self.git("init", "-q", "-b", "main")
        self.update_ledger()
        self.commit("the collection")

    def write(self, name: str, text: str | bytes) -> None:
        """Write a file, and the folders to it."""
        path = self.root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))

    def read(self, name: str) -> str:
        """The text of a file."""
        return (self.root / name).read_text("utf-8")

    def link(self, name: str, to: str) -> None:
        """A link in the place of a file."""
        path = self.root / name
        path.unlink(missing_ok=True)
        path.symlink_to(to)

    def move(self, name: str, to: str) -> None:
        """Another name for a file."""
        (self.root / to).parent.mkdir(parents=True, exist_ok=True)
        (self.root / name).rename(self.root / to)

    def update_ledger(self) -> None:
        """Take in whatever there is."""
        self.run(COLDCHECK, "review", ".", "--ledger", "ledger", "--update-ledger")

    def commit(self, what: str) -> None:
        """All there is in the folder, also what is ignored."""
        self.git("add", "-A", "-f")
        self.git("commit", "-qm", what)

    def git(self, *arguments: str) -> str:
        """Run git; raises where it fails."""
        done = self.run("git", *arguments)
        if done.returncode:
            raise AssertionError(done.stderr)
        return done.stdout

    def run(self, *command: str) -> subprocess.CompletedProcess[str]:
        """Run in the repository, with nobody's configuration."""
        who = {f"GIT_{w}_{n}": "x@x" for w in ("AUTHOR", "COMMITTER") for n in ("NAME", "EMAIL")}
        env = {
            **os.environ, **who, "GIT_CONFIG_GLOBAL": os.devnull, "OPENBLAS_NUM_THREADS": "1",
            "XDG_CACHE_HOME": str(self.root.parent / "cache"),
        }  # fmt: skip
        return subprocess.run(
            command, cwd=self.root, env=env, capture_output=True, text=True,
            errors="backslashreplace", check=False,
        )  # fmt: skip

    def gated(self) -> Tried:
        """Commit what lies in the folder on a branch, and run the gate of main."""
        self.git("checkout", "-qb", "change")
        self.commit("a change")
        done = self.run(str(self.root / "gate.sh"))
        report = self.root.parent / "report.json"
        more = report.read_text("utf-8") if report.exists() else ""
        return Tried(done.returncode, done.stdout + done.stderr + more)


@dataclass(frozen=True)
class Attempt:
    """A way to get something through. ``loud``: it goes through, and these words are said."""

    name: str
    make: Callable[[Ground], None]
    loud: str = ""
    said: str = ""
    never: str = ""


ATTEMPTS: list[Attempt] = []


def held(said: str, never: str = "") -> Callable[[Callable[[Ground], None]], Attempt]:
    """An attempt that has to be stopped, with these words, and never with those."""
    return lambda make: _listed(Attempt(make.__name__, make, said=said, never=never))


def loud(words: str) -> Callable[[Callable[[Ground], None]], Attempt]:
    """An attempt that may go through as long as these words are said."""
    return lambda make: _listed(Attempt(make.__name__, make, loud=words))


def _listed(attempt: Attempt) -> Attempt:
    ATTEMPTS.append(attempt)
    return attempt


# -- names --------------------------------------------------------------------------------


@held("capacitor.reversed")
def named_like_an_option(at: Ground) -> None:
    at.write("--ledger=x.tube", BAD)


@held("capacitor.reversed")
def named_like_an_output(at: Ground) -> None:
    at.write("amps/--output=a.tube", BAD)


@held("capacitor.reversed", never="\n::stop-commands::")
def a_command_in_a_name(at: Ground) -> None:
    at.write("amps/x\n::stop-commands::x.tube", BAD)


@held("capacitor.reversed", never="\n::set-output")
def a_command_in_a_title(at: Ground) -> None:
    at.write("amps/x.tube", 'drawing "x\u2028::set-output name=a::b"\n' + BAD)


@held("capacitor.reversed", never="\u202e")
def a_name_that_is_read_backwards(at: Ground) -> None:
    at.write("amps/\u202eebut.doog.tube", BAD)


@held("capacitor.reversed")
def in_a_hidden_folder(at: Ground) -> None:
    at.write(".hidden/x.tube", BAD)


@held("capacitor.reversed")
def in_a_folder_named_like_a_drawing(at: Ground) -> None:
    at.write("amps/x.tube/y.tube", BAD)


@held("capacitor.reversed")
def ignored_and_added_all_the_same(at: Ground) -> None:
    at.write(".gitignore", "*.tube\n")
    at.write("amps/x.tube", BAD)


@loud("change.gone")
def a_drawing_of_another_ending(at: Ground) -> None:
    at.move("amps/a.tube", "amps/a.TUBE")
    at.write("amps/a.TUBE", BAD)


# -- links --------------------------------------------------------------------------------


@held("leads out of")
def a_link_out_of_the_repository(at: Ground) -> None:
    at.write("../outside.tube", GOOD)
    at.link("amps/a.tube", "../../outside.tube")


@held("leads out of")
def a_sheet_that_is_a_link_out(at: Ground) -> None:
    at.write("../half.tube", HALF)
    at.link("amps/half.tube", "../../half.tube")


@held("leads out of")
def settings_that_are_a_link_out(at: Ground) -> None:
    at.write("../loose.toml", 'gate = "danger"\n')
    at.link("coldcheck.toml", "../loose.toml")
    at.write("amps/a.tube", BAD)


@held("ledger")
def a_ledger_that_is_a_link_out(at: Ground) -> None:
    at.write("amps/a.tube", BAD)
    at.update_ledger()
    at.move("ledger", "../ledger")
    at.link("ledger", "../ledger")


# -- sheets and wrappers ------------------------------------------------------------------


@held("change.now-a-sheet")
def wrapped_where_the_gate_is_wide(at: Ground) -> None:
    at.write("amps/a.tube", BAD)
    at.write("old/wrapper.tube", GOOD + 'sheet "../amps/a.tube" as X joining gnd\n')


@held("drawing.")
def wrapped_in_what_cannot_be_read(at: Ground) -> None:
    at.write("amps/x.tube", BAD)
    at.write("amps/wrapper.tube", 'sheet "x.tube" as X joining gnd\nB1 == B2\n')


@held("capacitor.reversed")
def wrapped_by_a_remark(at: Ground) -> None:
    at.write("amps/x.tube", BAD)
    at.write("amps/wrapper.tube", GOOD + 'B1 -- M2 --\n# sheet "x.tube" as X joining gnd\n')


@held("a sheet inside itself")
def two_that_are_each_a_sheet_of_the_other(at: Ground) -> None:
    at.write("amps/x.tube", BAD + 'sheet "y.tube" as Y joining gnd\n')
    at.write("amps/y.tube", GOOD + 'sheet "x.tube" as X joining gnd\n')


@held("change.new-waiver")
def a_waiver_in_the_wrapper(at: Ground) -> None:
    at.write("amps/x.tube", BAD)
    waiver = 'accept capacitor.reversed at X/C1 because "fine"\n'
    at.write("amps/wrapper.tube", GOOD + 'sheet "x.tube" as X joining gnd\n' + waiver)


@held("capacitor.reversed")
def a_mistake_in_a_sheet(at: Ground) -> None:
    at.write("amps/half.tube", HALF + "gnd --+[C1 10 uF 50 V]-- IN\n")


@held("amps/half.tube")
def a_sheet_taken_away(at: Ground) -> None:
    (at.root / "amps/half.tube").unlink()


@held("nested 9 deep")
def sheets_nested_too_deep(at: Ground) -> None:
    for n in range(12):
        at.write(f"amps/n{n:02}.tube", f'sheet "n{n + 1:02}.tube" as N joining IN\nIN -- A{n}\n')
    at.write("amps/n12.tube", "IN --[R1 1k]-- gnd\n" + BAD)


# -- the ledger ---------------------------------------------------------------------------


@held("change.ledger-grown")
def a_finding_entered_in_the_ledger(at: Ground) -> None:
    at.write("amps/a.tube", BAD)
    at.update_ledger()


@held("change.ledger-grown")
def a_line_made_graver(at: Ground) -> None:
    at.write("ledger", re.sub(r"\tnotice\t[\d.]+\t", "\tdanger\t999\t", at.read("ledger")))
    at.write("amps/stands.tube", WORSE)


@held("worse than the ledger has it")
def what_stands_made_worse(at: Ground) -> None:
    at.write("amps/stands.tube", WORSE)


@held("change.ledger-grown")
def a_line_given_to_another_drawing(at: Ground) -> None:
    at.write("amps/stands.tube", GOOD)
    at.write("amps/a.tube", BAD)
    at.write("ledger", at.read("ledger").replace("amps/stands.tube", "amps/a.tube"))


@held("change.ledger-grown")
def a_line_for_later(at: Ground) -> None:
    """Nothing is wrong yet: the shape of something else is put under a line that stands."""
    at.write("ledger", re.sub(r"[0-9a-f]{16}$", "0" * 16, at.read("ledger"), flags=re.MULTILINE))


@held("capacitor.reversed")
def a_line_doubled_for_a_copy(at: Ground) -> None:
    at.write("amps/copy.tube", at.read("amps/stands.tube"))
    heading, *lines = at.read("ledger").splitlines()
    at.write("ledger", "\n".join([heading, *lines, *lines, ""]))


@held("the mark of a merge")
def marks_of_a_merge_in_the_ledger(at: Ground) -> None:
    at.write("ledger", "<<<<<<< HEAD\n" + at.read("ledger") + ">>>>>>> other\n")


@held("expected fingerprint")
def a_figure_that_covers_anything(at: Ground) -> None:
    at.write("ledger", re.sub(r"\tnotice\t[\d.]+\t", "\tdanger\tinf\t", at.read("ledger")))


@loud("change.touched")
def a_ledger_taken_away(at: Ground) -> None:
    (at.root / "ledger").unlink()


# -- settings and data --------------------------------------------------------------------


@held("change.rule-off")
def a_rule_turned_off(at: Ground) -> None:
    at.write("coldcheck.toml", SETTINGS + '[off]\n"capacitor.reversed" = "noise"\n')
    at.write("amps/a.tube", BAD)


@held("change.wider-gate")
def a_nearer_settings_file(at: Ground) -> None:
    at.write("amps/coldcheck.toml", 'data = ["../tubes"]\ngate = "danger"\n')
    at.write("amps/a.tube", BAD)


@held("change.wider-gate")
def settings_in_another_kind_of_file(at: Ground) -> None:
    at.write("amps/pyproject.toml", '[tool.coldcheck]\ndata = ["../tubes"]\ngate = "danger"\n')
    at.write("amps/a.tube", BAD)


@held("capacitor.reversed")
def settings_that_became_a_folder(at: Ground) -> None:
    (at.root / "coldcheck.toml").unlink()
    at.write("coldcheck.toml/x.toml", 'gate = "danger"\n')
    at.write("amps/a.tube", BAD)


@held("change.other-figures")
def tube_data_made_generous(at: Ground) -> None:
    at.write("tubes/MY7.toml", own_type().replace("value = 0.3,", "value = 0.31,"))


@held("change.other-figures")
def other_mains_for_those_that_do_not_say(at: Ground) -> None:
    at.write("coldcheck.toml", SETTINGS.replace("[folders", '[mains]\nvoltage = "12 V"\n'
                                                'frequency = "50 Hz"\n[folders'))  # fmt: skip


@held("a file that is too big")
def settings_of_a_few_megabytes(at: Ground) -> None:
    at.write("coldcheck.toml", SETTINGS + "# " + "x" * 3_000_000 + "\n")
    at.write("amps/a.tube", BAD)


# -- waivers ------------------------------------------------------------------------------


@held("change.new-waiver")
def a_danger_waived(at: Ground) -> None:
    shock = 'accept mains.no-earth at chassis because "never mind"\n'
    at.write("amps/a.tube", SHOCK + shock)


@held("change.new-waiver")
def a_danger_waived_where_the_gate_is_wide(at: Ground) -> None:
    shock = 'accept mains.no-earth at chassis because "never mind"\n'
    at.write("old/o.tube", SHOCK + shock)


@held("change.new-waiver")
def a_waiver_without_its_end(at: Ground) -> None:
    """Another day is another waiver; so is another reason."""
    at.write("amps/waived.tube", BAD + WAIVER.replace("a dummy", "a dummy load"))


@loud("accepted in the drawing")
def a_waiver_used_for_another_part(at: Ground) -> None:
    at.write("amps/waived.tube", BAD.replace("10 uF", "100 uF") + WAIVER)


@held("intent.accept-unmatched")
def a_waiver_of_a_look_alike(at: Ground) -> None:
    at.write("amps/a.tube", BAD + WAIVER.replace("C1", "C11"))


@held("change.new-waiver")
def a_waiver_carried_over_by_a_name(at: Ground) -> None:
    at.move("amps/waived.tube", "amps/moved.tube")
    at.write("amps/moved.tube", WORSE + WAIVER)


# -- signs --------------------------------------------------------------------------------


@held("Names are made of")
def a_homograph_of_gnd(at: Ground) -> None:
    at.write("amps/a.tube", GOOD.replace("R2 10k 0.5 W]-- gnd", "R2 10k 0.5 W]-- \u0261nd"))


@held("Names are made of")
def a_rail_in_another_alphabet(at: Ground) -> None:
    at.write("amps/a.tube", GOOD.replace("B1 --[R1", "\u04121 --[R1"))


@held("zero width space")
def a_sign_of_no_width_in_a_name(at: Ground) -> None:
    at.write("amps/a.tube", GOOD.replace("B1 --[R1", "B\u200b1 --[R1"))


@held("Names are made of")
def a_waiver_in_another_alphabet(at: Ground) -> None:
    at.write("amps/a.tube", BAD + WAIVER.replace("C1", "\u04211"))


@held("capacitor.reversed")
def line_ends_of_another_system(at: Ground) -> None:
    at.write("amps/a.tube", BAD.replace("\n", "\r").encode())


@held("zero byte")
def a_byte_that_ends_the_text(at: Ground) -> None:
    at.write("amps/a.tube", (GOOD + "\0" + WRONG).encode())


# -- size ---------------------------------------------------------------------------------


@held("too big")
def a_drawing_of_a_few_megabytes(at: Ground) -> None:
    at.write("amps/a.tube", ("# " + "x" * 1000 + "\n") * 3000 + BAD)


@held("at most 1500")
def a_drawing_of_too_many_parts(at: Ground) -> None:
    at.write("amps/a.tube", BAD + "".join(f"B1 --[R{n} 1M]-- gnd\n" for n in range(10, 9000)))


@held("nothing is drawn")
def a_drawing_that_is_empty(at: Ground) -> None:
    at.write("amps/a.tube", "")


# -- git and the machine ------------------------------------------------------------------


@held("capacitor.reversed")
def attributes_that_hide_a_difference(at: Ground) -> None:
    at.write(".gitattributes", "*.tube -diff -text binary export-ignore\n")
    at.write("amps/a.tube", BAD)


@held("capacitor.reversed", never="PLANTED")
def modules_of_the_names_we_import(at: Ground) -> None:
    for name in ("numpy", "lark", "coldcheck", "sitecustomize", "rich", "pint"):
        at.write(f"{name}.py", 'print("PLANTED")\n')
    for n in range(6):  # enough for other processes to be started
        at.write(f"amps/x{n}.tube", BAD + f"# {n}\n")


@held("capacitor.reversed")
def a_kept_document_under_another_key(at: Ground) -> None:
    """What is kept of a sound drawing is put in the place of every other document."""
    at.write("amps/a.tube", BAD)
    at.run("./gate.sh")
    folder = at.root.parent / "cache" / "coldcheck" / "documents"
    kept = sorted(folder.glob("*/*.json"))
    sound = next(p for p in kept if '"findings":[]' in p.read_text("utf-8"))
    for path in kept:
        path.write_text(sound.read_text("utf-8"), "utf-8")


@held("may be refs/tags/main or refs/heads/main")
def a_tag_of_the_name_of_the_branch(at: Ground) -> None:
    at.write("amps/a.tube", BAD)
    at.write("coldcheck.toml", SETTINGS + '[off]\n"capacitor.reversed" = "noise"\n')
    at.commit("what is to be trusted")
    at.git("tag", "main")
    at.git("reset", "-q", "--soft", "HEAD~1")


@loud("change.gone")
def a_folder_that_is_another_repository_now(at: Ground) -> None:
    commit = at.git("rev-parse", "HEAD").strip()
    shutil.rmtree(at.root / "amps")
    at.git("rm", "-rq", "--cached", "amps")
    at.git("update-index", "--add", "--cacheinfo", f"160000,{commit},amps")


@loud("change.gone")
def drawings_taken_out(at: Ground) -> None:
    (at.root / "amps/stands.tube").unlink()


# -- names that change --------------------------------------------------------------------


@held("capacitor.reversed")
def what_stands_renamed_and_made_worse(at: Ground) -> None:
    at.move("amps/stands.tube", "amps/other.tube")
    at.write("amps/other.tube", WORSE.replace("C1", "C7"))


@held("capacitor.reversed")
def two_drawings_that_change_names(at: Ground) -> None:
    stands, sound = at.read("amps/stands.tube"), at.read("amps/a.tube")
    at.write("amps/stands.tube", sound)
    at.write("amps/a.tube", stands)


# -- second round: from a reading of the code ---------------------------------------------


@held("capacitor.reversed", never="PLANTED")
def modules_that_start_a_process(at: Ground) -> None:
    """A new interpreter looks for its first modules where we stand, unless it is told not to."""
    for name in ("multiprocessing", "signal", "pickle", "threading", "struct", "runpy", "socket"):
        at.write(f"{name}.py", 'import os\nos.write(2, b"PLANTED")\nos._exit(0)\n')
    for n in range(6):
        at.write(f"amps/x{n}.tube", BAD + f"# {n}\n")


@held("capacitor.reversed")
def a_folder_with_a_main_of_its_own(at: Ground) -> None:
    """A submodule: nothing in it differs from what it calls main itself."""
    at.write("other/x.tube", BAD)
    at.git("init", "-q", "-b", "main", "other")
    at.git("-C", "other", "add", "-A")
    at.git("-C", "other", "commit", "-qm", "x")


@held("change.other-figures")
def data_for_a_type_that_is_on_file(at: Ground) -> None:
    """Nothing uses it differently yet; the next change will."""
    text = Path(tubes.__file__).with_name("data").joinpath("12AX7.toml").read_text("utf-8")
    at.write("tubes/12AX7.toml", text)


@held("change.ledger-grown")
def a_line_that_grows_by_less_than_a_tenth(at: Ground) -> None:
    """Once is nothing; with every change it has no end."""
    text = at.read("ledger")
    at.write("ledger", re.sub(r"\t([\d.]+)\t", lambda m: f"\t{float(m[1]) * 1.09:.3g}\t", text))


@held("change.wider-gate")
def a_folder_for_later(at: Ground) -> None:
    at.write("later/README", "nothing is here yet\n")
    at.write("coldcheck.toml", SETTINGS + '[folders.later]\ngate = "danger"\n')


@held("change.rule-off")
def settings_for_later(at: Ground) -> None:
    at.write("later/coldcheck.toml", '[off]\n"capacitor.reversed" = "noise"\n')


@held("change.wider-gate")
def settings_for_later_that_are_a_link(at: Ground) -> None:
    at.write("docs/loose.toml", 'gate = "danger"\n')
    at.link("amps/coldcheck.toml", "../docs/loose.toml")


@held("change.wider-gate")
def moved_to_where_the_gate_is_wide(at: Ground) -> None:
    at.move("amps/b.tube", "old/b.tube")


@held("change.wider-gate")
def moved_and_changed_to_where_the_gate_is_wide(at: Ground) -> None:
    at.move("amps/b.tube", "old/c.tube")
    at.write("old/c.tube", BAD + "# the third\n")


@held("its name is a link now")
def a_link_to_where_the_gate_is_wide(at: Ground) -> None:
    at.write("old/c.tube", BAD)
    at.link("amps/a.tube", "../old/c.tube")


@held("its name is a link now")
def a_folder_moved_behind_a_link(at: Ground) -> None:
    at.move("amps", "old/amps")
    at.link("amps", "old/amps")
    at.write("old/amps/a.tube", BAD)


@held("capacitor.reversed")
def a_line_of_a_drawing_that_is_gone(at: Ground) -> None:
    """Its mark fits any part of that name on points of these names."""
    (at.root / "amps/stands.tube").unlink()
    more = "M --[R3 5k 1 W]-- N --[R4 5k 1 W]-- gnd\n"
    at.write("amps/new.tube", BAD + more)


@held("capacitor.reversed", never="##[")
def a_command_of_the_older_form(at: Ground) -> None:
    """It is heard anywhere in a line of a log, also of a report in JSON."""
    at.write("amps/a.tube", 'drawing "##[stop-commands]y"\n' + BAD)
    at.write("amps/##[stop-commands]z.tube", BAD)


@held("capacitor.reversed")
def a_name_of_bytes_that_are_no_text(at: Ground) -> None:
    name = os.fsencode(at.root / "amps") + b"/x\xff.tube"
    Path(os.fsdecode(name)).write_text(BAD)


@held("expected")
def figures_of_another_script(at: Ground) -> None:
    at.write("amps/a.tube", GOOD.replace("10k", "\u0661\u0660k"))


@held("expected")
def figures_of_full_width(at: Ground) -> None:
    at.write("amps/a.tube", GOOD.replace("10k", "\uff11\uff10k"))


@held("gnd_ has only R2 on it")
def a_name_that_is_nearly_gnd(at: Ground) -> None:
    at.write("amps/a.tube", GOOD.replace("R2 10k 0.5 W]-- gnd", "R2 10k 0.5 W]-- gnd_"))


@held("a landmark in small letters")
def gnd_in_capitals(at: Ground) -> None:
    at.write("amps/a.tube", GOOD.replace("R2 10k 0.5 W]-- gnd", "R2 10k 0.5 W]-- GND"))


@held("capacitor.reversed")
def a_name_of_another_case(at: Ground) -> None:
    at.move("amps/a.tube", "amps/A.tube")
    at.write("amps/A.tube", BAD)


@held("capacitor.reversed")
def a_name_composed_otherwise(at: Ground) -> None:
    at.write("amps/\u00e9.tube", GOOD)
    at.write("amps/e\u0301.tube", BAD)


@held("expected")
def a_text_that_git_gives_out_otherwise(at: Ground) -> None:
    at.write(".gitattributes", "*.tube working-tree-encoding=UTF-16\n")
    at.write("amps/a.tube", BAD.encode("utf-16"))


@held("capacitor.reversed")
def a_filter_that_would_keep_it_elsewhere(at: Ground) -> None:
    at.write(".gitattributes", "*.tube filter=lfs diff=lfs merge=lfs -text\n")
    at.write("amps/a.tube", BAD)


@held("capacitor.reversed")
def another_work_tree_in_the_configuration(at: Ground) -> None:
    """Where git would look, main lies, and nothing in it is otherwise."""
    at.git("worktree", "add", "-q", "--detach", "../elsewhere", "main")
    at.git("config", "extensions.worktreeConfig", "true")
    set_it = "git config --worktree core.worktree $PWD/../elsewhere\n"
    at.write("gate.sh", GATE.replace("exec ", f"{set_it}exec "))
    at.write("amps/a.tube", BAD)


@held("capacitor.reversed")
def a_folder_of_sheets_that_is_a_link(at: Ground) -> None:
    """What a link leads to is another folder; none of the files has changed."""
    at.write("v1/part.tube", HALF)
    at.write("v2/part.tube", HALF + "gnd --+[C1 10 uF 50 V]-- IN\n")
    at.write("amps/c.tube", GOOD + 'sheet "../parts/part.tube" as H joining IN = M\n')
    at.write("v1/use.tube", GOOD + 'sheet "part.tube" as H joining IN = M\n')
    at.write("old/use.tube", GOOD + 'sheet "../v2/part.tube" as H joining IN = M\n')
    at.link("parts", "v1")
    at.commit("the first parts")
    at.link("parts", "v2")


@held("worse than what is waived in main")
def a_waiver_used_for_what_is_worse(at: Ground) -> None:
    at.write("amps/waived.tube", WORSE + WAIVER)


@held("main waives none there")
def a_waiver_that_was_put_there_for_later(at: Ground) -> None:
    """Where the gate is wide nobody minds a waiver that waives nothing yet."""
    waiver = 'accept mains.no-earth at chassis because "never mind"\n'
    at.write("old/o.tube", SHOCK.replace("gnd -- chassis", "gnd") + waiver)
    at.commit("a waiver of nothing")
    at.write("old/o.tube", SHOCK + waiver)


@held("capacitor.reversed")
def a_ledger_that_is_a_link_to_another(at: Ground) -> None:
    """To one that main has for something else, which knows more."""
    at.write("amps/a.tube", BAD)
    at.run(COLDCHECK, "review", ".", "--ledger", "others", "--update-ledger")
    at.write("amps/a.tube", GOOD)
    at.commit("the ledger of others")
    at.write("amps/a.tube", BAD)
    at.link("ledger", "others")


@held("change.ledger-grown")
def a_line_behind_a_sign_that_ends_a_line_elsewhere(at: Ground) -> None:
    heading, *lines = at.read("ledger").splitlines()
    at.write("amps/a.tube", BAD)
    at.update_ledger()
    more = next(t for t in at.read("ledger").splitlines() if "\tamps/a.tube\t" in t)
    at.write("ledger", "\n".join([f"{heading}\u2028{more}", *lines, f"# no more\r{more}", ""]))


@held("name one in full")
def a_tag_that_looks_like_the_number_of_a_commit(at: Ground) -> None:
    number = at.git("rev-parse", "--short=7", "main").strip()
    at.write("gate.sh", GATE.replace(" main", f" {number}"))
    at.write("coldcheck.toml", SETTINGS + '[off]\n"capacitor.reversed" = "noise"\n')
    at.write("amps/a.tube", BAD)
    at.commit("what is to be trusted")
    at.git("tag", number)
    at.git("reset", "-q", "--soft", "HEAD~1")


@held("it is not used")
def a_cache_in_the_checkout(at: Ground) -> None:
    at.write("gate.sh", GATE.replace("exec ", "XDG_CACHE_HOME=$PWD/.cache exec "))
    at.write("amps/a.tube", BAD)


@loud("is like 12AX7")
def a_type_of_the_drawing_that_stands_more(at: Ground) -> None:
    """The drawing says so, as it may say of any part what it is rated."""
    stage = at.read("amps/stage.tube").replace("V1 MY7", "V1 MY8")
    at.write("amps/stage.tube", stage + "type MY8 like 12AX7\n    rating plate-voltage 4000 V\n")


# -- third round: the newest code, links and waivers, signs in remarks --------------------


@held("change.wider-gate")
def settings_for_later_that_could_not_be_read(at: Ground) -> None:
    """What cannot be read holds nothing back; once it can, it is new."""
    at.write("later/coldcheck.toml", "gate =\n")
    at.commit("settings that nobody could use")
    at.write("later/coldcheck.toml", 'gate = "danger"\n')


@held("is reviewed as a sheet of old/wrapper.tube only as far as danger")
def a_new_drawing_that_only_a_wrapper_elsewhere_uses(at: Ground) -> None:
    at.write("amps/x.tube", BAD)
    at.write("old/wrapper.tube", GOOD + 'sheet "../amps/x.tube" as X joining gnd\n')


@held("is reviewed as a sheet of old/wrapper.tube only as far as danger")
def a_new_drawing_that_a_sheet_of_a_wrapper_elsewhere_uses(at: Ground) -> None:
    at.write("amps/x.tube", BAD)
    at.write("old/between.tube", 'sheet "../amps/x.tube" as X joining gnd\n')
    at.write("old/wrapper.tube", GOOD + 'sheet "between.tube" as Y joining gnd\n')


def parts_behind_a_link(at: Ground, second: str, waiver: str = "") -> None:
    """Two folders of parts, both of main, and a drawing that goes through a link to the first."""
    at.write("v1/part.tube", REVERSED)
    at.write("v2/part.tube", second)
    at.write("amps/c.tube", GOOD + 'sheet "../parts/part.tube" as H joining IN = M\n' + waiver)
    at.write("old/one.tube", GOOD + 'sheet "../v1/part.tube" as H joining IN = M\n')
    at.write("old/two.tube", GOOD + 'sheet "../v2/part.tube" as H joining IN = M\n')
    at.link("parts", "v1")
    at.commit("parts")


@held("worse than what is waived in main")
def a_waiver_for_what_a_link_led_to(at: Ground) -> None:
    """All files are as they were, and the drawing that has the waiver too."""
    worse = REVERSED.replace("10k", "1M")
    parts_behind_a_link(at, worse, WAIVER.replace("C1", "H/C1"))
    at.link("parts", "v2")


@held("capacitor.reversed")
def a_kept_document_of_where_a_link_led(at: Ground) -> None:
    """The first push of a change is sound, and what was found of it is kept."""
    parts_behind_a_link(at, REVERSED)
    at.git("checkout", "-qb", "first-push")
    at.write("v3/part.tube", HALF)
    at.link("parts", "v3")
    at.commit("sound")
    at.run("./gate.sh")
    at.link("parts", "v2")


@held("capacitor.reversed")
def a_kept_document_of_a_drawing_in_another_folder(at: Ground) -> None:
    """The same text, and beside it another sheet."""
    at.git("checkout", "-qb", "first-push")
    for folder, part in (("v1", HALF), ("v2", REVERSED)):
        at.write(f"{folder}/part.tube", part)
        at.write(f"{folder}/use.tube", GOOD + 'sheet "part.tube" as H joining IN = M\n')
    at.write("old/all.tube", 'sheet "../v2/use.tube" as U joining gnd\n')
    at.link("amps/now.tube", "../v1/use.tube")
    at.commit("sound")
    at.run("./gate.sh")
    (at.root / "v2/use.tube").rename(at.root / "v1/use.tube")
    (at.root / "v2/part.tube").rename(at.root / "v1/part.tube")


@held("change.new-waiver")
def a_waiver_whose_end_is_put_off(at: Ground) -> None:
    waiver = WAIVER.rstrip() + " until 2026-01-02\n"
    at.write("amps/over.tube", BAD + waiver)
    at.commit("waived for a while")
    at.write("amps/over.tube", BAD + waiver.replace("2026", "2096"))


@held("nested too deep", never="fault of coldcheck")
def settings_nested_without_end(at: Ground) -> None:
    at.write("coldcheck.toml", "x = " + "[" * 20000 + "]" * 20000 + "\n")


@held("too many digits", never="fault of coldcheck")
def settings_of_a_number_without_end(at: Ground) -> None:
    at.write("coldcheck.toml", "x = " + "1" * 20000 + "\n")


@held("nested too deep", never="fault of coldcheck")
def tube_data_nested_without_end(at: Ground) -> None:
    at.write("tubes/MY8.toml", "x = " + "[" * 20000 + "]" * 20000 + "\n")


@held("too many digits", never="fault of coldcheck")
def tube_data_of_a_number_without_end(at: Ground) -> None:
    at.write("tubes/MY8.toml", "x = " + "1" * 20000 + "\n")


@held("drawing.bad-value", never="fault of coldcheck")
def a_value_without_end(at: Ground) -> None:
    at.write("amps/a.tube", GOOD + "B1 --[R3 " + "1" * 1900 + "k]-- gnd\n")


@held("found no such rule")
def a_rule_in_another_alphabet(at: Ground) -> None:
    at.write("coldcheck.toml", SETTINGS + '[off]\n"capacitor.revers\u0435d" = "noise"\n')


@held("Names are made of")
def a_waiver_of_a_rule_in_another_alphabet(at: Ground) -> None:
    at.write("amps/a.tube", BAD + WAIVER.replace("reversed", "revers\u0435d"))


@held("U+202E right-to-left override", never="\u202e")
def a_remark_that_is_read_backwards(at: Ground) -> None:
    """Who looks at the change sees the resistor outside the remark, or inside."""
    at.write("amps/a.tube", GOOD + "# \u202edng --]W 01 k01 7R[-- 1B\n")


@held("U+2067 right-to-left isolate")
def a_reason_that_is_read_backwards(at: Ground) -> None:
    at.write("amps/waived.tube", BAD + WAIVER.replace("a dummy", "\u2067a dummy"))


@held("a carriage return alone")
def a_wire_behind_a_remark(at: Ground) -> None:
    """A program that shows the change has it in the line of the remark."""
    at.write("amps/a.tube", GOOD + "# a bleeder is not drawn\rB1 --[R7 10k 10 W]-- gnd\n")


@held("capacitor.reversed")
def a_folder_that_holds_itself(at: Ground) -> None:
    at.link("amps/loop", ".")
    at.write("amps/a.tube", BAD)


@held("capacitor.reversed")
def nested_deeper_than_a_name_may_be_long(at: Ground) -> None:
    folder = os.open(at.root, os.O_RDONLY)
    for _ in range(19):
        os.mkdir("d" * 200, dir_fd=folder)
        inner = os.open("d" * 200, os.O_RDONLY, dir_fd=folder)
        os.close(folder)
        folder = inner
    file = os.open("x.tube", os.O_WRONLY | os.O_CREAT, 0o644, dir_fd=folder)
    os.write(file, BAD.encode())
    os.close(file)
    os.close(folder)


@held("change.wider-gate")
def nearer_settings_that_say_nothing(at: Ground) -> None:
    at.write("coldcheck.toml", 'gate = "advice"\n' + SETTINGS)
    at.commit("a narrow gate")
    at.write("amps/coldcheck.toml", "")


@held("change.other-figures")
def data_by_another_name_of_a_type(at: Ground) -> None:
    other = own_type().replace('name = "MY7"', 'name = "MY8"\nalso = ["12AX7"]')
    at.write("tubes/MY8.toml", other)


@held("the file should be called")
def data_of_a_type_in_small_letters(at: Ground) -> None:
    at.write("tubes/12ax7.toml", own_type().replace('name = "MY7"', 'name = "12ax7"'))


@held("the file should be called")
def data_of_a_name_that_looks_alike(at: Ground) -> None:
    at.write("tubes/12AX7.toml", own_type().replace('name = "MY7"', 'name = "12\u0410X7"'))


@held("cannot read the ledger")
def a_mark_before_the_ledger(at: Ground) -> None:
    at.write("ledger", "\ufeff" + at.read("ledger"))


@held("a sheet inside itself")
def used_only_by_what_uses_itself(at: Ground) -> None:
    at.write("amps/x.tube", BAD)
    both = 'sheet "wrapper.tube" as W joining gnd\nsheet "x.tube" as X joining gnd\n'
    at.write("amps/wrapper.tube", GOOD + both)


def tried(attempt: Attempt, ground: Ground) -> tuple[bool, Tried]:
    """Make an attempt; whether it was held, or was loud, as it has to be."""
    attempt.make(ground)
    fate = ground.gated()
    silent = bool(attempt.never) and attempt.never in fate.said
    if attempt.loud:
        return fate.status == 0 and attempt.loud in fate.said and not silent, fate
    return fate.status != 0 and attempt.said in fate.said and not silent, fate


def main() -> int:
    """Make every attempt, each in a copy; returns 0 when all were held or loud."""
    wrong = 0
    with tempfile.TemporaryDirectory() as name:
        Ground(Path(name) / "first" / "drawings").begin()
        for attempt in ATTEMPTS:
            place = Path(name) / attempt.name
            shutil.copytree(Path(name) / "first", place, symlinks=True)
            right, fate = tried(attempt, Ground(place / "drawings"))
            wrong += not right
            word = "loud" if attempt.loud else "held"
            print(f"  {word}  {attempt.name.replace('_', ' ')}{'' if right else '   WRONG'}")
            if not right:
                print(f"status {fate.status}\n{fate.said[:1500]}")
            shutil.rmtree(place)
    print(f"{len(ATTEMPTS)} attempts, {wrong} neither held nor loud")
    return 1 if wrong else 0
