"""Runs furcal and Python in a child process, as a person would."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def python(
    *words: str, env: Mapping[str, str | None] | None = None, cwd: Path = ROOT, text: str = ""
) -> subprocess.CompletedProcess[str]:
    """Run this Python; `env` adds variables, or takes them away where None."""
    merged = {**os.environ, **(env or {})}
    kept = {name: value for name, value in merged.items() if value is not None}
    return subprocess.run(
        [sys.executable, *words],
        env=kept,
        cwd=cwd,
        input=text,
        capture_output=True,
        text=True,
        timeout=240,
        check=False,
    )


def furcal(
    *words: str, env: Mapping[str, str | None] | None = None, cwd: Path = ROOT
) -> subprocess.CompletedProcess[str]:
    """Run furcal."""
    return python("-m", "viewer", *words, env={"PYTHONPATH": str(ROOT), **(env or {})}, cwd=cwd)
