"""How fast the window answers a hand, in real windows and by real mouse events, on a screen that may be a virtual one.

Everything is drawn by the processor where there is no graphics card: these are the times of the slowest machine.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from tests.bench.results import AtLeast, Limit, Result, seconds
from tests.bench.subject import subject
from viewer.display import prepare_window

if TYPE_CHECKING:
    from PySide6.QtCore import QPoint

    from viewer.window import MainWindow

#: What must hold on any machine that the window is meant for: no figure of a source, but where motion stops looking
#: smooth, and what one does not notice as waiting.
FRAMES_A_SECOND, FEEDBACK_S, START_S = 20.0, 0.008, 2.5
#: Pictures in one measured gesture, and how long one may take before the window is taken for dead, seconds.
FRAMES, DEAD_S = 60, 10.0
#: The dissections that are turned and dragged in: what a first start shows, and every muscle on under the fat.
DISSECTIONS = ("psoas", "external_oblique")
#: Run in a child: the program as a person starts it, ended when the first picture with a body is on the screen.
_TO_FIRST_PICTURE = """
import os, sys
from viewer.panels.field import Field
draw = Field.paintGL
def paint(self):
    if self.scene is not None:
        self.frameSwapped.connect(lambda: os._exit(0))
    draw(self)
Field.paintGL = paint
from viewer.__main__ import main
sys.exit(main([]) or 3)
"""


@contextmanager
def ready_window() -> Iterator[MainWindow]:
    """A window whose body is there, and which rests."""
    prepare_window()
    from PySide6.QtWidgets import QApplication

    from viewer.window import MainWindow

    app = QApplication.instance() or QApplication(sys.argv[:1])
    with tempfile.TemporaryDirectory() as folder:
        window = MainWindow(load=lambda specimen, _: replace(subject(), specimen=specimen), settings=Path(folder))
        window.field.animated = False
        window.show()
        try:
            until_rest(window)
            yield window
        finally:
            window.close()
            window.deleteLater()
            app.processEvents()


def until_rest(window: MainWindow) -> None:
    """Wait until nothing moves."""
    wait(lambda: window.session.docking is not None and window.field.is_resting, "the window does not come to rest")
    wait(lambda: not window._still.isActive(), "the portal does not come to rest")


def wait(done: Callable[[], bool], otherwise: str) -> None:
    """Let the window work until something holds. It sleeps between events: else a thread that builds gets no turn."""
    from PySide6.QtWidgets import QApplication

    until = time.perf_counter() + DEAD_S
    while not done():
        QApplication.processEvents()
        time.sleep(0.0005)
        if time.perf_counter() > until:
            raise SystemExit(f"{otherwise} within {DEAD_S:g} s")


def frames_a_second(window: MainWindow, spots: Sequence[QPoint]) -> float:
    """Pictures a second while the left button is held and the mouse goes from spot to spot (pixels of the window).

    Every spot is waited for until its picture is on the screen.
    """
    from PySide6.QtCore import Qt
    from PySide6.QtTest import QTest

    handle, shown = window.windowHandle(), [0]

    def count() -> None:
        shown[0] += 1

    window.field.frameSwapped.connect(count)
    button, none = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    QTest.mousePress(handle, button, none, spots[0])
    begin = 0.0
    for i, spot in enumerate(spots[1:]):
        if i == 3:  # the first ones take up light copies, and are no more than a start
            begin = time.perf_counter()
        before = shown[0]
        QTest.mouseMove(handle, spot)
        wait(lambda before=before: shown[0] > before, "a moved mouse changes no picture")  # type: ignore[misc]
    taken = time.perf_counter() - begin
    QTest.mouseRelease(handle, button, none, spots[-1])
    window.field.frameSwapped.disconnect(count)
    until_rest(window)
    return (len(spots) - 4) / taken


def on_the_field(window: MainWindow) -> list[QPoint]:
    """A hand that turns the body to and fro, beside the portal."""
    from PySide6.QtCore import QPoint

    corner = window.field.mapTo(window, QPoint(round(0.2 * window.field.width()), round(0.75 * window.field.height())))
    return [corner + QPoint(7 * step, step % 5) for step in to_and_fro(FRAMES, 20)]


def on_the_disc_face(window: MainWindow) -> list[QPoint]:
    """A hand that takes the portal's circle and drags it to and fro along the disc, every time to another place."""
    from PySide6.QtCore import QPoint

    face, where = window.places.face, window.session.view.portal
    assert face._face is not None
    assert where is not None
    window.place_portal(replace(where, at=float(face._face.ats[8])))
    until_rest(window)
    spots = face.pixels(face._face.border)[8:33]
    places = [spots[step] for step in to_and_fro(FRAMES, len(spots) - 1)]
    return [face.mapTo(window, QPoint(round(x), round(y))) for x, y in places]


def to_and_fro(count: int, most: int) -> Iterable[int]:
    """0, 1, ... most, most - 1, ... and so on."""
    return (min(i % (2 * most), 2 * most - i % (2 * most)) for i in range(count))


def bench_motion() -> Sequence[Result]:
    """Turning the body, and dragging the portal."""
    from meshes.structures import DISSECTION

    results: list[Result] = []
    with ready_window() as window:
        for band in DISSECTIONS:
            window.dissect_to(DISSECTION.index(band))
            until_rest(window)
            what = f"{window.width()} x {window.height()}, dissected to {band}"
            for doing, spots in (("turning", on_the_field), ("dragging the portal", on_the_disc_face)):
                found = frames_a_second(window, spots(window))
                results.append(AtLeast(f"{doing}, {what}", found, FRAMES_A_SECOND, "pictures a second"))
    return results


def bench_feedback() -> Sequence[Result]:
    """What a dragged portal asks for before anything is drawn: place, dock, and what every panel shows of it."""
    from itertools import cycle

    with ready_window() as window:
        where = window.session.view.portal
        assert where is not None
        window.field.show_view = lambda *_: None  # type: ignore[method-assign]  # the drawing is timed above
        window._still.setInterval(10**6)
        steps = cycle([replace(where, at=0.2 + 0.025 * step) for step in to_and_fro(48, 24)])

        def move() -> None:
            window._still.start()
            window.session.place_portal(next(steps), "drag")

        took = seconds(move, 1.5)
        window._still.stop()
        del window.field.show_view
    return [Limit("what a dragged portal asks for before it is drawn", took, FEEDBACK_S)]


def bench_start() -> Sequence[Result]:
    """From the start of the program to the first picture with a body that was built before."""
    subject()
    with tempfile.TemporaryDirectory() as folder:
        settings = {**os.environ, "FURCAL_SETTINGS": folder}

        def start() -> None:
            prepare_window()
            done = subprocess.run([sys.executable, "-c", _TO_FIRST_PICTURE], env=settings, check=False)
            if done.returncode:
                raise SystemExit("the program ended before it drew a picture")

        took = seconds(start, 8.0, 5)
    return [Limit("from the start of the program to the first picture with a body", took, START_S)]
