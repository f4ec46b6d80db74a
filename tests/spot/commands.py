"""Commands as tests run them: what is said of a run that must succeed, and the sentence of one that is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from viewer.__main__ import main

Capture = pytest.CaptureFixture[str]


def ran(capsys: Capture, *words: str | Path) -> str:
    """Standard output of a run that must succeed."""
    code = main([*map(str, words)])
    told = capsys.readouterr()
    assert (code, told.err) == (0, "")
    return told.out


def refused(capsys: Capture, *words: str | Path) -> str:
    """The one sentence with which a command is refused."""
    code = main([*map(str, words)])
    told = capsys.readouterr()
    assert (code, told.out) == (2, "")
    assert told.err.startswith("furcal: ")
    assert told.err.count("\n") == 1
    return told.err.removeprefix("furcal: ").rstrip("\n")
