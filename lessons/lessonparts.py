"""The text of a lesson file taken apart at its steps, so that an edit of one leaves all others letter by letter.

A step begins with the line `[[steps]]`, or with the comment that stands directly above it, and goes on to the next one.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from meshes.errors import FurcalError

_LINE = re.compile(r"[^\n]*\n|[^\n]+")
_HEADER = re.compile(r"[ \t]*\[")
#: Comments directly above the end of a text.
_ABOVE = re.compile(r"(?:[ \t]*#[^\n]*\n)+\Z")


@dataclass(frozen=True)
class Parts:
    """What stands before the steps, the steps, and what stands behind them (or between them, in their own tables)."""

    head: str
    steps: tuple[str, ...]
    tail: str

    def with_steps(self, steps: Sequence[str]) -> str:
        """The text with other texts for the steps."""
        return f"{self.head}{''.join(steps)}{self.tail}"

    def ordered(self, steps: Sequence[str]) -> str:
        """The text with its steps in another order, or some of them; none runs into the next."""
        if steps[-1] != self.steps[-1] and not self.tail:
            steps = [*steps[:-1], f"{steps[-1].rstrip()}\n"]
        others = [_ended(step) if step == self.steps[-1] else step for step in steps[:-1]]
        return self.with_steps([*others, steps[-1]])

    def with_new(self, at: int, step: str) -> str:
        """The text with one more step in front of step `at`."""
        return self.ordered([*self.steps[:at], _ended(step), *self.steps[at:]])


def taken_apart(text: str) -> Parts:
    """The parts of a text that holds valid TOML. Raises FurcalError where its steps are not written step by step."""
    head, tail = "", ""
    steps: list[str] = []
    for key, is_list, section in _sections(text):
        if key == "steps" and is_list:
            steps.append(section)
        elif key == "steps" and steps:
            steps[-1] += section
        elif steps:
            tail += section
        else:
            head += section
    if not steps:
        raise FurcalError("the steps are written as one list; begin each with the line [[steps]] to edit them here.")
    return Parts(head, tuple(steps), tail)


def _ended(step: str) -> str:
    """A step with one empty line behind it."""
    return f"{step.rstrip()}\n\n"


def _sections(text: str) -> Iterator[tuple[str, bool, str]]:
    """What stands under each header: (first key of the header, whether it is one of a list, text)."""
    key, is_list, told = "", False, ""
    for line in _LINE.findall(text):
        if _HEADER.match(line) and _is_whole(told):
            above = _ABOVE.search(told)
            cut = above.start() if above and _is_whole(told[: above.start()]) else len(told)
            yield key, is_list, told[:cut]
            told = told[cut:]
            key, value = next(iter(tomllib.loads(line).items()))
            is_list = isinstance(value, list)
        told += line
    yield key, is_list, told


def _is_whole(text: str) -> bool:
    """Whether a text ends outside of any string and any list."""
    try:
        tomllib.loads(text)
    except ValueError:
        return False
    return True
