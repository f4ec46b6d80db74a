"""Where the keyboard is: Tab goes round once through named controls that show it; tips, contrast, and large text."""

from collections.abc import Iterator

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QRect, Qt
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from tests.window.conftest import MainWindow
from tests.window.hands import Key, Left, Mod, at_rest, letters_of, parts, press
from viewer.actions import ACTIONS, plain
from viewer.palette import THEMES, Theme, contrast

TEXT, SEEN = 4.5, 3.0  # WCAG 2.2, success criteria 1.4.3 (text) and 1.4.11 (what must be seen)


def pixels(window: MainWindow, rect: QRect) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
    """(h, w, 3) of a piece of the window."""
    image = window.grab(rect).toImage().convertToFormat(QImage.Format.Format_RGB888)
    bits = np.frombuffer(image.bits(), dtype=np.uint8).reshape(image.height(), image.bytesPerLine())
    return bits[:, : 3 * image.width()].reshape(image.height(), image.width(), 3).astype(np.int64)


def around(window: MainWindow, widget: QWidget) -> QRect:
    """A control and a little of what is beside it, in the window."""
    return QRect(widget.mapTo(window, QPoint(0, 0)), widget.size()).adjusted(-3, -3, 3, 3) & window.rect()


def once_round(qtbot: QtBot, window: MainWindow) -> Iterator[QWidget]:
    """Every stop of Tab, from the field back to the field."""
    window.field.setFocus()
    for _ in range(200):
        focus = QApplication.focusWidget()
        assert focus is not None
        qtbot.keyClick(focus, Key.Key_Tab)
        now = QApplication.focusWidget()
        assert now is not None
        assert now is not focus, f"Tab is caught in {focus.accessibleName() or focus}"
        yield now
        if now is window.field:
            return
    raise AssertionError("Tab never came back to the field")


# --- by keyboard


def test_tab_goes_once_round_through_named_controls_that_are_seen(qtbot: QtBot, window: MainWindow) -> None:
    stops = list(once_round(qtbot, window))
    assert len(stops) == len(set(stops)) > 20
    for stop in stops:
        assert stop.isVisible()
        assert not stop.visibleRegion().isEmpty()
        assert stop.accessibleName() or getattr(stop, "text", str)(), f"{stop} has no name"
    places = window.places
    for place in (places.strip, places.log, places.readout.list, places.form.docked, places.form.slider):
        assert place in stops


def test_tab_goes_round_as_the_eye_does(qtbot: QtBot, window: MainWindow) -> None:
    stops = list(once_round(qtbot, window))
    places = window.places
    groups = [window.bar, places.form, places.right, places.strip, places.log, places.field]
    order = [next(i for i, g in enumerate(groups) if g is stop or g.isAncestorOf(stop)) for stop in stops]
    assert order == sorted(order)
    assert set(order) == set(range(len(groups)))


@pytest.mark.parametrize("theme", THEMES)
def test_every_stop_shows_that_it_has_the_focus(qtbot: QtBot, window: MainWindow, theme: str) -> None:
    if window.session.view.theme != theme:
        press(qtbot, window, Key.Key_D, Mod.ControlModifier)
    at_rest(qtbot, window)
    accent = np.array(THEMES[theme].accent)

    def inked(rect: QRect) -> int:
        return int((np.abs(pixels(window, rect) - accent) <= 3).all(axis=2).sum())

    rects = {stop: around(window, stop) for stop in once_round(qtbot, window)}
    # While another place has the focus.
    window.places.log.setFocus()
    without = {stop: inked(rect) for stop, rect in rects.items() if stop is not window.places.log}
    for stop in once_round(qtbot, window):
        if stop in without:
            rect = around(window, stop)
            # A frame 2 pixels thick; half of it, as a stop may be partly scrolled away.
            assert inked(rect) - without[stop] > 2 * (stop.width() + stop.height()), stop.accessibleName()


def test_a_click_leaves_no_frame_and_a_key_brings_it(qtbot: QtBot, window: MainWindow) -> None:
    at_rest(qtbot, window)
    box = window.places.form.docked
    accent = np.array(THEMES[window.session.view.theme].accent)
    corner = QRect(window.field.mapTo(window, QPoint(0, 0)), window.field.size()).adjusted(0, 0, 0, -4)
    edge = QRect(corner.left(), corner.top(), 4, corner.height())

    def framed() -> bool:
        return bool((np.abs(pixels(window, edge) - accent) <= 3).all(axis=2).mean() > 0.3)

    box.setFocus()
    qtbot.mouseClick(window.field, Left, pos=QPoint(30, 30))
    assert window.field.hasFocus()
    assert not framed()
    window.places.log.setFocus(Qt.FocusReason.OtherFocusReason)
    qtbot.keyClick(window.places.log, Key.Key_Tab)
    assert window.field.hasFocus()
    assert framed()


def test_return_takes_what_is_typed_even_while_something_is_traced(qtbot: QtBot, window: MainWindow) -> None:
    window.pick("femoral_left")
    assert window.actions_by_name["follow"].isEnabled()
    box, strip = window.places.form.radius_mm, window.places.strip
    eye = window.field.eye
    box.setFocus()
    box.selectAll()
    qtbot.keyClicks(box, "8")
    qtbot.keyClick(box, Key.Key_Return)
    assert window.session.view.portal is not None
    assert window.session.view.portal.radius_mm == 8.0
    strip.setFocus()
    qtbot.keyClick(strip, Key.Key_Return)
    assert parts(window) is not None
    assert window.field.eye == eye


# --- the depth log by keyboard


def test_the_depth_log_is_read_by_keys(qtbot: QtBot, window: MainWindow) -> None:
    log, docking = window.places.log, window.session.docking
    assert docking is not None
    told: list[float] = []
    log.depth_pointed.connect(told.append)
    log.setFocus()
    end = docking.portal.length_mm
    for key, depth in (
        (Key.Key_Right, 0.0), (Key.Key_Right, 1.0), (Key.Key_Right, 2.0), (Key.Key_Left, 1.0), (Key.Key_Home, 0.0),
        (Key.Key_End, end), (Key.Key_Left, end - 1.0),
    ):  # fmt: skip
        qtbot.keyClick(log, key)
        assert told[-1] == pytest.approx(depth)
        assert log.accessibleDescription().startswith(f"{depth:.0f} mm: ")
    passed = [y for y in docking.layers if y.by == "axis" and y.from_mm <= end - 1.0 <= y.to_mm]
    assert passed[0].name in log.accessibleDescription().split(";")[0]
    qtbot.keyClick(log, Key.Key_Right)
    qtbot.keyClick(log, Key.Key_Right)
    assert told[-1] == pytest.approx(end), "no deeper than the portal"
    window.field.setFocus()
    assert told[-1] == -1.0


# --- words, contrast


def test_every_action_is_told_in_words_and_with_its_key(window: MainWindow) -> None:
    for row in ACTIONS:
        action = window.actions_by_name[row.name]
        assert action.statusTip() == plain(row.says)
        assert "&" not in action.statusTip() + action.toolTip()
        assert not row.keys or row.keys[0] in action.toolTip()


@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)
def test_both_themes_are_read_and_seen_well(theme: Theme) -> None:
    for ground in (theme.background, theme.panel):
        assert contrast(theme.text, ground) >= 2.0 * TEXT - 2.0
        assert contrast(theme.quiet, ground) >= TEXT
        assert contrast(theme.accent, ground) >= TEXT, "touched nerves are named in it"
        assert contrast(theme.line, ground) >= SEEN


# --- sizes


@pytest.mark.parametrize(
    ("points", "width", "height"), [(9, 1280, 800), (9, 900, 600), (13, 1100, 800), (18, 1280, 860)]
)
def test_no_control_is_cut_whatever_the_size_of_the_text(
    qtbot: QtBot, window: MainWindow, points: int, width: int, height: int
) -> None:
    with letters_of(points):
        window.resize(width, height)
        bars = (window.bar, window.places.form)
        qtbot.waitUntil(lambda: all(_is_whole(bar) for bar in bars), timeout=5_000)
        if points == 9 and width >= 1280:
            boxes = [window.places.form.level, *window.places.form._numbers.values()]
            middles = {box.mapTo(window, box.rect().center()).y() for box in boxes}
            assert max(middles) - min(middles) <= 3, "all in one row"


def _is_whole(bar: QWidget) -> bool:
    """Every control of a bar lies in it in full, as large as it asks to be."""
    controls = [w for w in bar.findChildren(QWidget) if w.focusPolicy() & Qt.FocusPolicy.TabFocus and not w.isWindow()]
    controls = [w for w in controls if w.window() is bar.window() and "qt_" not in w.objectName()]
    assert len(controls) >= 9
    for control in controls:
        place = QRect(control.mapTo(bar, QPoint(0, 0)), control.size())
        if not (control.isVisible() and bar.rect().contains(place)):
            return False
        if control.width() < control.minimumSizeHint().width():
            return False
    return True
