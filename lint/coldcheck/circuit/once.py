"""Questions that many rules ask of one circuit, or of one case, answered once for each."""

from __future__ import annotations

from functools import wraps
from typing import TYPE_CHECKING, Any, Concatenate, ParamSpec, Protocol, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable

    Given = ParamSpec("Given")
    Answer = TypeVar("Answer")


class Keeps(Protocol):
    """What has room for answers about itself: it never changes, so neither do they."""

    @property
    def kept(self) -> dict[Hashable, Any]:
        """The answers so far."""
        ...


if TYPE_CHECKING:
    Asked = TypeVar("Asked", bound=Keeps)


def once(
    work: Callable[Concatenate[Asked, Given], Answer],
) -> Callable[Concatenate[Asked, Given], Answer]:
    """A function whose answer is kept with its first argument, for each of the other arguments.

    Those have to be hashable and cheap to hash: names of nets, not parts. All askers share one
    answer, which nobody may change.
    """
    name = (work.__module__, work.__qualname__)

    @wraps(work)
    def asked(about: Asked, /, *args: Given.args, **named: Given.kwargs) -> Answer:
        key = (name, args, *named.items())
        if key not in about.kept:
            about.kept[key] = work(about, *args, **named)
        answer: Answer = about.kept[key]
        return answer

    return asked
