"""How far a long piece of work is, told on one line of a terminal and nowhere else."""

from __future__ import annotations

import sys
from types import TracebackType
from typing import Self, TextIO


class Progress:
    """Called with the share done (0..1) and the stage's name; wiped when left.

    Nothing is written unless the stream is a terminal, so that logs and pipes stay clean.
    """

    def __init__(self, what: str, stream: TextIO | None = None) -> None:
        self.what = what
        self.stream = sys.stderr if stream is None else stream
        self.shown = 0

    def __enter__(self) -> Self:
        return self

    def __call__(self, share: float, stage: str) -> None:
        """Show the share done and what is being done."""
        if self.stream.isatty():
            line = f"furcal: {self.what} {min(max(share, 0.0), 1.0):4.0%}  {stage}"
            self._write(f"\r{line}{' ' * (self.shown - len(line))}")
            self.shown = len(line)

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        if self.shown:
            self._write(f"\r{' ' * self.shown}\r")

    def _write(self, text: str) -> None:
        self.stream.write(text)
        self.stream.flush()


class Lines:
    """The same for a program that listens: one line a call, the share in per cent and the stage."""

    def __enter__(self) -> Self:
        return self

    def __call__(self, share: float, stage: str) -> None:
        """Write one line."""
        print(f"{100.0 * min(max(share, 0.0), 1.0):.0f} {stage}", file=sys.stderr, flush=True)

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        return None
