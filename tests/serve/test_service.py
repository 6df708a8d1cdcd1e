"""What is known of the open texts, and that typing, failing and closing do it no harm."""

from __future__ import annotations

import threading
from dataclasses import replace
from queue import Queue
from typing import TYPE_CHECKING

import pytest
from tests.serve.texts import STAGE, known_of

from coldcheck.serve import marks
from coldcheck.serve.reading import Read, reviewed
from coldcheck.serve.service import Service

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from coldcheck.serve.marks import Mark
    from coldcheck.serve.page import Page
    from coldcheck.verdict.review import Review

SOON = 30.0
BAD = STAGE.replace("B1 --[R1", "B1 --[[R1")
CHANNEL = """\
drawing "a channel"
IN --[R1 1M]-- gnd
IN --[R2 47k 0.125 W]-- B1
"""
MAIN = """\
drawing "two channels"
B1 --+[E1 250 V]-- gnd
A --[R1 100k]-- gnd
sheet "channel.tube" as L joining B1, IN = A
"""


class Published(Queue["tuple[str, int | None, tuple[Mark, ...]]"]):
    """What the service tells, in order."""

    def __call__(self, uri: str, page: Page, version: int | None, found: tuple[Mark, ...]) -> None:
        self.put((uri, version, found))

    def until(self, sure: Callable[[str, int | None, tuple[Mark, ...]], bool]) -> tuple[Mark, ...]:
        """Wait for the first that is as wanted."""
        while True:
            told = self.get(timeout=SOON)
            if sure(*told):
                return told[2]


@pytest.fixture
def published() -> Published:
    return Published()


@pytest.fixture
def logged() -> Queue[str]:
    return Queue()


@pytest.fixture
def service(published: Published, logged: Queue[str]) -> Iterator[Service]:
    """A service that waits for nothing and reviews only what it was not told before."""
    made = Service(published, logged.put, delays=(0.0, 0.0), review=quick)
    yield made
    made.end()


def quick(read: Read) -> Review:
    """The review of the stage, worked out once; of anything else, as it is."""
    return known_of(STAGE).review if read.text.text == STAGE else reviewed(read)


def opened(service: Service, text: str, version: int = 1, uri: str = "untitled:a") -> None:
    service.changed(uri, "stage.tube", False, text, version)


def test_an_error_is_marked_and_what_was_found_before_is_kept_and_says_so(
    service: Service, published: Published
) -> None:
    opened(service, STAGE)
    published.until(lambda _u, v, _m: v == 1)
    before = marks.marks_of(known_of(STAGE).review)
    assert before, "the stage has something to say"
    opened(service, "# a new first line\n" + BAD, 2)
    found = published.until(lambda _u, v, m: v == 2)
    error, *kept = found
    assert (error.severity, error.span.line, error.code) == (marks.ERROR, 4, "drawing.syntax")
    assert [m.message for m in kept] == [f"Before the error in line 4: {m.message}" for m in before]
    assert [m.span.line for m in kept] == [m.span.line + 1 for m in before]
    view = service.view("untitled:a")
    assert view is not None
    assert view.caveat == "There is an error in line 4: this is from before it."
    opened(service, STAGE, 3)
    assert published.until(lambda _u, v, m: v == 3 and not any(x.earlier for x in m))
    published.until(lambda *_: service.held("untitled:a").fresh)  # type: ignore[union-attr]
    assert service.view("untitled:a").caveat == ""  # type: ignore[union-attr]


def test_a_result_that_was_overtaken_is_dropped_and_typing_does_not_wait(
    published: Published, logged: Queue[str]
) -> None:
    begun, go_on = threading.Event(), threading.Event()

    def slow(read: Read) -> Review:
        if read.text.version == 1:
            begun.set()
            assert go_on.wait(SOON)
            return replace(known_of(STAGE).review, title="of the first text")
        return known_of(STAGE).review

    service = Service(published, logged.put, delays=(0.0, 0.0), review=slow)
    opened(service, STAGE)
    assert begun.wait(SOON)
    opened(service, BAD, 2)  # the review of the first text is still under way
    assert published.until(lambda _u, v, m: v == 2)[0].code == "drawing.syntax"
    opened(service, STAGE, 3)
    go_on.set()
    published.until(lambda _u, v, m: v == 3 and service.held("untitled:a").fresh)  # type: ignore[union-attr]
    known = service.held("untitled:a").known  # type: ignore[union-attr]
    assert known is not None
    assert known.review.title == "one stage"
    service.end()


def test_a_review_that_breaks_down_is_a_mark_and_a_line_in_the_log(
    published: Published, logged: Queue[str]
) -> None:
    def broken(read: Read) -> Review:
        if read.text.version == 1:
            raise RuntimeError("\x1b[31mno\nluck")
        return known_of(STAGE).review

    service = Service(published, logged.put, delays=(0.0, 0.0), review=broken)
    opened(service, STAGE)
    (mark,) = published.until(lambda _u, v, m: bool(m))
    assert mark.code == marks.FAILED
    assert mark.message.startswith("the review failed, so nothing was judged: RuntimeError: \\x1b")
    assert "RuntimeError" in logged.get(timeout=SOON)
    opened(service, STAGE, 2)
    assert published.until(lambda _u, v, m: v == 2 and bool(m))
    service.end()


def test_when_a_text_is_closed_its_marks_go(service: Service, published: Published) -> None:
    opened(service, BAD)
    assert published.until(lambda _u, _v, m: bool(m))
    service.closed("untitled:a")
    assert published.until(lambda _u, _v, m: True) == ()
    assert service.view("untitled:a") is None


def test_settings_that_cannot_be_used_are_said_on_the_first_line(
    service: Service, published: Published, tmp_path: Path
) -> None:
    (tmp_path / "coldcheck.toml").write_text('gate = "grave"\n')
    file = tmp_path / "a.tube"
    service.changed(file.as_uri(), str(file), True, STAGE, 1)
    (mark,) = published.until(lambda _u, _v, m: bool(m))
    assert (mark.span.line, mark.code, mark.severity) == (1, marks.SETTINGS, marks.ERROR)
    assert "coldcheck.toml: gate: found" in mark.message
    (tmp_path / "coldcheck.toml").write_text('gate = "caution"\n[off]\ntube = "not today"\n')
    service.files_changed([file])  # it is open: what is on the disk does not matter
    service.files_changed([tmp_path / "coldcheck.toml"])
    found = published.until(lambda _u, _v, m: all(x.code != marks.SETTINGS for x in m))
    assert all(not m.code.startswith("tube.") for m in found)


@pytest.fixture
def project(tmp_path: Path) -> Path:
    (tmp_path / "coldcheck.toml").write_text("")
    (tmp_path / "channel.tube").write_text(CHANNEL)
    (tmp_path / "main.tube").write_text(MAIN)
    return tmp_path


def test_what_is_found_in_a_sheet_goes_to_the_sheets_file(
    service: Service, published: Published, project: Path
) -> None:
    main, channel = project / "main.tube", project / "channel.tube"
    service.changed(main.as_uri(), str(main), True, MAIN, 1)
    found = published.until(lambda u, _v, m: u == channel.as_uri() and bool(m))
    assert {(m.code, m.span.line) for m in found} >= {("resistor.over-power", 3)}


def test_an_open_sheet_counts_as_it_is_in_the_editor_and_is_not_reviewed_alone(
    service: Service, published: Published, project: Path
) -> None:
    main, channel = project / "main.tube", project / "channel.tube"
    service.changed(channel.as_uri(), str(channel), True, CHANNEL, 7)
    alone = published.until(lambda u, _v, m: bool(m))
    assert [m.code for m in alone] == [marks.SHEET], "alone it would hang in the air"
    assert "a sheet of main.tube: it is reviewed there and not alone" in alone[0].message
    service.changed(main.as_uri(), str(main), True, MAIN, 1)
    lonely = {m.message for m in alone}
    published.until(
        lambda u, v, m: u == channel.as_uri() and v == 7
        and any(x.code == "resistor.over-power" for x in m)
        and not lonely & {x.message for x in m}
    )  # fmt: skip
    stout = CHANNEL.replace("0.125 W", "5 W")
    service.changed(channel.as_uri(), str(channel), True, stout, 8)
    published.until(lambda u, v, m: u == channel.as_uri() and v == 8
                    and not any(x.code == "resistor.over-power" for x in m))  # fmt: skip
    published.until(lambda *_: service.held(main.as_uri()).fresh)  # type: ignore[union-attr]
    view = service.view(channel.as_uri())
    assert view is not None
    assert view.prefix == "L/"


def test_a_drawing_that_nobody_uses_is_reviewed_alone(
    service: Service, published: Published, project: Path
) -> None:
    (project / "main.tube").write_text('# sheet "channel.tube" as L\n')
    channel = project / "channel.tube"
    service.changed(channel.as_uri(), str(channel), True, CHANNEL, 1)
    found = published.until(lambda u, _v, m: bool(m))
    assert "B1" in " ".join(m.message for m in found)


def test_a_sheet_outside_the_project_is_not_read_though_it_is_open(
    service: Service, published: Published, project: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    outside = tmp_path_factory.mktemp("outside") / "channel.tube"
    service.changed(outside.as_uri(), str(outside), True, CHANNEL, 1)
    text = MAIN.replace("channel.tube", f"../../{outside.parent.name}/channel.tube")
    main = project / "main.tube"
    service.changed(main.as_uri(), str(main), True, text, 1)
    found = published.until(lambda u, _v, m: u == main.as_uri() and bool(m))
    assert found[0].code == "drawing.sheet-not-read"
