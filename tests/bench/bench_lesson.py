"""How fast a lesson goes from step to step in the real window, and how long its hand-out takes."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING

from tests.bench.bench_window import FRAMES_A_SECOND, ready_window, until_rest, wait
from tests.bench.results import AtLeast, Limit, Result

if TYPE_CHECKING:
    from viewer.window import MainWindow

#: From the key to the first moving frame, and a hand-out of so many steps, seconds.
FIRST_FRAME_S, HAND_OUT_STEPS, HAND_OUT_S = 0.1, 12, 60.0
#: A lesson of one body, with what is lit, lifted and glassy.
LESSON = "formation"


def bench_steps() -> Sequence[Result]:
    """Every step of a lesson: the first frame after the key, and frames a second on the way."""
    from lessons.bundled import lesson_path
    from lessons.script import read_lesson

    path = lesson_path(LESSON)
    firsts: list[float] = []
    rates: list[float] = []
    with ready_window() as window:
        window.field.animated = True
        window.open_lesson(path)
        for _ in read_lesson(path).steps[1:]:
            while window._run is not None and window._run.waits:
                window.step_on()
            _rest(window)
            first, rate = _step(window)
            firsts.append(first)
            rates += [rate] if rate else []
        _rest(window)
    return [
        Limit(f"first moving frame after a step, the middle one of {len(firsts)}", median(firsts), FIRST_FRAME_S),
        Limit(f"first moving frame after a step, the slowest of {len(firsts)}", max(firsts), FIRST_FRAME_S),
        AtLeast("frames a second from step to step", median(rates), FRAMES_A_SECOND, "pictures a second"),
    ]


def _step(window: MainWindow) -> tuple[float, float]:
    """One step on: seconds to its first frame, and pictures a second until the flight is over (0 without one)."""
    shown: list[float] = []

    def count() -> None:
        shown.append(time.perf_counter())

    window.field.frameSwapped.connect(count)
    begin = time.perf_counter()
    window.step_on()
    wait(lambda: bool(shown), "a step shows nothing")
    first = shown[0] - begin
    wait(lambda: not window.field._flight.isActive(), "a flight does not end")
    window.field.frameSwapped.disconnect(count)
    return first, (len(shown) - 1) / (shown[-1] - shown[0]) if len(shown) > 3 else 0.0


def _rest(window: MainWindow) -> None:
    if window.session.view.portal is not None:
        until_rest(window)
    wait(lambda: window.field.is_resting and not window.session.needs_body(), "the window does not come to rest")
    # Somebody speaks about a step before the next one: meanwhile that is prepared.
    wait(lambda: window._ahead.is_done and not window.loader.is_building, "the next step is not prepared")


def bench_hand_out() -> Sequence[Result]:
    """A lesson as PDF, in a process of its own, from its start."""
    from lessons.bundled import lesson_path

    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "hand-out.pdf"
        steps = f"1-{HAND_OUT_STEPS}"
        words = ["lesson", "export", str(lesson_path(LESSON)), "--to", "pdf", "--out", str(out), "--steps", steps]
        begin = time.perf_counter()
        subprocess.run([sys.executable, "-m", "viewer", *words], check=True, stdout=subprocess.DEVNULL)
        took = time.perf_counter() - begin
        size = out.stat().st_size / 1e6
    return [Limit(f"{HAND_OUT_STEPS} steps as PDF, {size:.1f} MB", took, HAND_OUT_S)]
