"""Our ``dataclass`` against the standard library's: the same class, whatever is asked of it."""

from __future__ import annotations

import copy
import dataclasses
import inspect
import pickle
from dataclasses import FrozenInstanceError, field, fields, replace
from typing import ClassVar

import pytest

from coldcheck import records

OURS, THEIRS = records.dataclass, dataclasses.dataclass


def plain(dataclass):
    @dataclass(frozen=True, slots=True)
    class Plain:
        """A name with what there is of it."""

        name: str
        ohms: float = 1.5
        parts: dict[str, int] = field(default_factory=dict, compare=False)
        secret: str = field(default="", repr=False)

    return Plain


def changing(dataclass):
    @dataclass(slots=True)
    class Changing:
        name: str
        twice: str = field(init=False)
        count: int = field(default=3, init=False)
        seen: list[int] = field(init=False, default_factory=list)
        last: int = field(default=0, kw_only=True)

        def __post_init__(self) -> None:
            self.twice = 2 * self.name

    return Changing


def worded(dataclass):
    @dataclass(frozen=True, slots=True)
    class Worded:
        words: str

        def __eq__(self, other: object) -> bool:
            return isinstance(other, str) and other == self.words

        def __hash__(self) -> int:
            return 7

        def __repr__(self) -> str:
            return f"<{self.words}>"

    return Worded


def empty(dataclass):
    @dataclass(frozen=True, slots=True)
    class Empty:
        """Nothing."""

    return Empty


@records.dataclass(frozen=True, slots=True)
class Sent:
    """Goes to another process."""

    name: str
    more: tuple[int, ...] = ()


@pytest.mark.parametrize(
    ("make", "given"),
    [
        (plain, [(("R1",), {}), (("R1", 2.0), {"secret": "x"}), (("R1",), {"parts": {"a": 1}})]),
        (changing, [(("a",), {}), (("a",), {"last": 4}), (("b",), {})]),
        (worded, [(("R1",), {}), (("R2",), {})]),
        (empty, [((), {})]),
    ],
)
def test_it_says_and_compares_as_the_library_does(make, given):
    ours, theirs = make(OURS), make(THEIRS)
    one, other = ([cls(*a, **k) for a, k in given] for cls in (ours, theirs))
    assert [repr(x) for x in one] == [repr(x) for x in other]
    assert [[x == y for y in one] for x in one] == [[x == y for y in other] for x in other]
    assert one[0] != other[0]
    assert [f.name for f in fields(ours)] == [f.name for f in fields(theirs)]
    assert ours.__match_args__ == theirs.__match_args__
    assert str(inspect.signature(ours)) == str(inspect.signature(theirs))
    assert ours.__slots__ == theirs.__slots__
    assert not hasattr(one[0], "__dict__")
    assert (ours.__hash__ is None) == (theirs.__hash__ is None)


def test_equal_ones_have_one_hash_and_what_is_not_compared_does_not_count():
    cls = plain(OURS)
    assert len({cls("R1"), cls("R1", parts={"a": 1}), cls("R2")}) == 2
    assert cls("R1").parts is not cls("R1").parts


@pytest.mark.parametrize("wrong", [((), {}), (("R1", 1.0, {}, "", 5), {}), ((), {"nam": "R1"})])
def test_what_does_not_fit_is_refused(wrong):
    with pytest.raises(TypeError, match="__init__"):
        plain(OURS)(*wrong[0], **wrong[1])


def test_a_frozen_one_stays_as_it_is_and_another_does_not():
    one = plain(OURS)("R1")
    with pytest.raises(FrozenInstanceError):
        one.name = "R2"
    with pytest.raises(FrozenInstanceError):
        del one.name
    with pytest.raises(FrozenInstanceError):
        one.other = 1
    other = changing(OURS)("a")
    other.name, other.count = "b", 5
    assert (other.name, other.twice, other.count, other.seen) == ("b", "aa", 5, [])


def test_it_is_copied_sent_and_replaced():
    one = Sent("R1", (1, 2))
    assert pickle.loads(pickle.dumps(one)) == one
    assert copy.deepcopy(one) == one
    assert replace(one, name="R2") == Sent("R2", (1, 2))
    assert dataclasses.asdict(one) == {"name": "R1", "more": (1, 2)}
    state = changing(OURS)("a")
    assert replace(state, name="b").twice == "bb"


@pytest.mark.parametrize("dataclass", [OURS, THEIRS])
def test_what_belongs_to_the_class_is_no_field_and_a_base_gives_its_own(dataclass):
    @dataclass(frozen=True, slots=True)
    class Base:
        KINDS: ClassVar[int] = 3
        name: str

    @dataclass(frozen=True, slots=True)
    class Further(Base):
        ohms: float = 2.0

    assert [f.name for f in fields(Base)] == ["name"]
    assert [f.name for f in fields(Further)] == ["name", "ohms"]
    assert (Base("R1").KINDS, Further("R1").ohms, Further("R1").name) == (3, 2.0, "R1")
    assert Base.__qualname__.endswith("<locals>.Base")


@pytest.mark.parametrize("dataclass", [OURS, THEIRS])
def test_a_default_that_all_would_share_is_refused(dataclass):
    with pytest.raises(ValueError, match="parts"):

        @dataclass(frozen=True, slots=True)
        class Shared:
            parts: list[int] = []  # noqa: RUF012 - what is refused here


def test_other_forms_are_the_librarys_own():
    @records.dataclass(frozen=True, slots=True, order=True)
    class Ordered:
        size: int

    assert Ordered(1) < Ordered(2)
    assert Ordered.__dataclass_params__.order
