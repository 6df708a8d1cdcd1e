"""The service as an editor has it: a process, spoken to over its standard input and output.

One server for all tests; each test has a text of its own in it.
"""

from __future__ import annotations

import subprocess
import sys
from typing import TYPE_CHECKING

import pytest
from lsprotocol import types
from pygls.exceptions import JsonRpcException
from tests.serve.client import Editor, applied
from tests.serve.texts import STAGE

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

BELL = "\N{BELL}"
BAD = STAGE.replace("B1 --[R1", "B1 --[[R1")


@pytest.fixture(scope="module")
def editor() -> Iterator[Editor]:
    made = Editor()
    yield made
    assert made.logged == []
    assert made.end() == 0


@pytest.fixture
def uri(request: pytest.FixtureRequest, editor: Editor) -> Iterator[str]:
    """A text that has no file, open with the stage in it."""
    name = f"untitled:{abs(hash(request.node.name))}.tube"
    editor.open(name, STAGE)
    editor.diagnostics(name, sure=lambda found: found)
    yield name
    editor.close(name)


def place(text: str, wanted: str, after: str = "") -> tuple[int, int]:
    """Line and character of a piece of the text, as the editor counts them."""
    start = text.index(wanted, text.index(after))
    line = text.count("\n", 0, start)
    column = start - (text.rfind("\n", 0, start) + 1)
    before = text.split("\n")[line][:column]
    return line, len(before.encode("utf-16-le")) // 2


def test_it_says_what_it_can_do(editor: Editor) -> None:
    able = editor.capabilities
    assert able.position_encoding == "utf-16"
    assert able.hover_provider
    assert able.definition_provider
    assert able.references_provider
    assert able.rename_provider
    assert able.document_formatting_provider
    assert isinstance(able.completion_provider, types.CompletionOptions)
    assert "." in (able.completion_provider.trigger_characters or ())
    assert isinstance(able.code_action_provider, types.CodeActionOptions)


def test_what_is_found_is_marked_where_it_stands(editor: Editor, uri: str) -> None:
    (found,) = editor.diagnostics(uri)
    line, character = place(STAGE, "C2 25 uF")
    assert (found.range.start.line, found.range.start.character) == (line, character)
    assert (found.source, found.code) == ("coldcheck", "capacitor.over-voltage")
    assert found.severity == types.DiagnosticSeverity.Warning
    assert found.message.startswith("CAUTION: 1.32 V across C2, rated 1 V")


def test_an_error_and_back_again(editor: Editor, uri: str) -> None:
    editor.change(uri, BAD)
    error, kept = editor.diagnostics(uri)
    assert error.severity == types.DiagnosticSeverity.Error
    assert (error.range.start.line, error.code) == (2, "drawing.syntax")
    assert kept.message.startswith("Before the error in line 3: CAUTION")
    shown = editor.ask("hover", uri, *place(BAD, "V1A.cathode"))
    assert "V DC**" in shown.contents.value
    assert "There is an error in line 3: this is from before it." in shown.contents.value
    editor.change(uri, STAGE)
    (found,) = editor.diagnostics(uri, sure=lambda d: len(d) == 1)
    assert found.message.startswith("CAUTION")


def test_while_someone_types_only_the_last_text_counts(editor: Editor, uri: str) -> None:
    for number in range(30):
        editor.change(
            uri, STAGE.replace("25 uF 1 V", f"25 uF {number} V") + "B1 --[" * (number % 2)
        )
    mended = STAGE.replace("25 uF 1 V", "25 uF 25 V")
    editor.change(uri, mended)
    assert list(editor.diagnostics(uri, sure=lambda d: not d)) == []


@pytest.mark.parametrize(
    ("name", "wanted"),
    [
        ("V1A.plate", "Warm, to gnd: **"),
        ("R1", "Power at most"),
        ("0.5 W", "Power at most"),
        ("V1 12AX7", "| pin | electrode | on |"),
        ("12AX7", "| rating | value | how sure | source |"),
    ],
)
def test_hover(editor: Editor, uri: str, name: str, wanted: str) -> None:
    shown = editor.ask("hover", uri, *place(STAGE, name))
    assert shown.contents.kind == "markdown"
    assert wanted in shown.contents.value


def test_hover_on_nothing_is_nothing(editor: Editor, uri: str) -> None:
    assert editor.ask("hover", uri, 99, 0) is None
    assert editor.ask("hover", uri, *place(STAGE, "--+")) is None


def test_columns_are_utf16_units(editor: Editor, uri: str) -> None:
    text = STAGE + f'accept capacitor.over-voltage at C2 because "{BELL}{BELL}" # {BELL} B1\n'
    text += f'drawing "{BELL}"  B1 --[\n'
    editor.change(uri, text)
    found = editor.diagnostics(uri, sure=lambda d: d and d[0].code == "drawing.syntax")
    line, character = place(text, "B1 --[\n", after=f'drawing "{BELL}"')
    assert (found[0].range.start.line, found[0].range.start.character) == (line, character)


def test_completion_in_a_line_that_is_only_begun(editor: Editor, uri: str) -> None:
    text = STAGE + "V1A.pl"
    editor.change(uri, text)
    found = editor.ask("completion", uri, *place(text + "\0", "\0"))
    plate = next(i for i in found.items if i.label == "plate")
    assert applied(text, [plate.text_edit]) == STAGE + "V1A.plate"


def test_definition_and_references(editor: Editor, uri: str) -> None:
    found = editor.ask("definition", uri, *place(STAGE, "V1A.grid"))
    assert (found.uri, found.range.start.line) == (uri, 3)
    context = types.ReferenceContext(include_declaration=True)
    places = editor.ask("references", uri, *place(STAGE, "B1"), context=context)
    assert [p.range.start.line for p in places] == [1, 2]


def test_rename_and_its_refusals(editor: Editor, uri: str) -> None:
    at = place(STAGE, "B1")
    prepared = editor.ask("prepare_rename", uri, *at)
    assert prepared.placeholder == "B1"
    edit = editor.ask("rename", uri, *at, new_name="HT")
    assert applied(STAGE, edit.changes[uri]) == STAGE.replace("B1", "HT")
    with pytest.raises(JsonRpcException, match="there is a OUT in this drawing already"):
        editor.ask("rename", uri, *at, new_name="OUT")
    with pytest.raises(JsonRpcException, match="R1 is a part, not a point"):
        editor.ask("prepare_rename", uri, *place(STAGE, "R1"))


def test_formatting_and_that_it_leaves_alone_what_it_cannot_read(editor: Editor, uri: str) -> None:
    options = types.FormattingOptions(tab_size=4, insert_spaces=True)
    untidy = STAGE.replace("tube V1", "tube    V1")
    editor.change(uri, untidy)
    assert applied(untidy, editor.ask("formatting", uri, options=options)) == STAGE
    editor.change(uri, BAD)
    assert not editor.ask("formatting", uri, options=options)


def actions(editor: Editor, uri: str) -> list[types.CodeAction]:
    (found,) = editor.diagnostics(uri, sure=lambda d: len(d) == 1)
    context = types.CodeActionContext(diagnostics=[found])
    return list(editor.ask("code_action", uri, range=found.range, context=context))


def test_the_remedy_is_applied_and_the_mark_goes(editor: Editor, uri: str) -> None:
    remedy, _ = actions(editor, uri)
    assert remedy.title == "Use C2 for 6.3 V instead of 1 V"
    assert remedy.is_preferred
    assert remedy.diagnostics
    mended = applied(STAGE, remedy.edit.changes[uri])  # type: ignore[union-attr,index]
    editor.change(uri, mended)
    assert list(editor.diagnostics(uri, sure=lambda d: not d)) == []


def test_a_waiver_is_an_error_until_the_reason_is_written(editor: Editor, uri: str) -> None:
    _, waiver = actions(editor, uri)
    assert not waiver.is_preferred
    silent = applied(STAGE, waiver.edit.changes[uri])  # type: ignore[union-attr,index]
    editor.change(uri, silent)
    found = editor.diagnostics(uri, sure=lambda d: d and d[0].severity == 1)
    assert silent.split("\n")[found[0].range.start.line].startswith("accept ")
    editor.change(uri, silent.replace('""', '"on the bench only"'))
    assert list(editor.diagnostics(uri, sure=lambda d: not d)) == []


def test_a_misspelt_name_is_put_right(editor: Editor, uri: str) -> None:
    wrong = STAGE.replace("V1A.grid", "VIA.grid")
    editor.change(uri, wrong)
    error, *_ = editor.diagnostics(uri, sure=lambda d: d and d[0].severity == 1)
    context = types.CodeActionContext(diagnostics=[error])
    (fix,) = editor.ask("code_action", uri, range=error.range, context=context)
    assert applied(wrong, fix.edit.changes[uri]) == STAGE


def test_a_sheet_is_used_as_it_is_in_the_editor(editor: Editor, tmp_path: Path) -> None:
    project = tmp_path / "a folder, Ω"
    project.mkdir()
    (project / "coldcheck.toml").write_text("")
    sheet, main = project / "half.tube", project / "whole.tube"
    half = "IN --[R1 1k 0.125 W]-- gnd\n"
    sheet.write_text(half)
    main.write_text('B1 --+[E1 100 V]-- gnd\nsheet "half.tube" as L joining IN = B1\n')
    editor.open(main.as_uri(), main.read_text())
    (over,) = editor.diagnostics(sheet.as_uri(), sure=lambda d: d)
    assert (over.code, over.range.start.line) == ("resistor.over-power", 0)
    editor.open(sheet.as_uri(), half.replace("0.125 W", "25 W"))
    assert list(editor.diagnostics(sheet.as_uri(), sure=lambda d: not d)) == []
    found = editor.ask("definition", main.as_uri(), 1, 8)
    assert found.uri == sheet.as_uri()
    shown = editor.ask("hover", sheet.as_uri(), 0, 8)
    assert "As L of whole.tube." in shown.contents.value
    editor.close(sheet.as_uri())
    editor.close(main.as_uri())


def test_left_alone_it_ends_and_says_so_in_its_status() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "coldcheck", "serve"], input=b"", capture_output=True, check=False
    )
    assert (done.returncode, done.stdout, done.stderr) == (1, b"", b"")
