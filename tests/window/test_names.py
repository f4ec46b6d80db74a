"""Names in the field: they follow the size of the system's font, and nothing written lies over anything else."""

from itertools import combinations

import pytest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from tests.window.conftest import Make
from tests.window.hands import at_rest, letters_of
from viewer.columns import columns_beside
from viewer.labels import label_name
from viewer.overlay import Box, Words


@pytest.mark.parametrize(("width", "height"), [(900, 600), (1280, 800)])
@pytest.mark.parametrize("points", [9, 16])
def test_no_words_of_the_field_lie_over_each_other(
    qtbot: QtBot, make: Make, width: int, height: int, points: int
) -> None:
    with letters_of(points):
        window = make()
        qtbot.waitUntil(lambda: window.session.docking is not None, timeout=60_000)
        window.resize(width, height)
        field = window.field
        at_rest(qtbot, window)
        qtbot.waitUntil(lambda: bool(field.named), timeout=10_000)
        QApplication.processEvents()
        shapes = list(field._overlay._shapes)
    grounds = [s for s in shapes if isinstance(s, Box)]
    for a, b in combinations(grounds, 2):
        assert min(a.right, b.right) <= max(a.left, b.left) or min(a.bottom, b.bottom) <= max(a.top, b.top)
    for ground in grounds:
        assert min(ground.left, ground.top) >= 0.0
        assert ground.right <= field.width()
        assert ground.bottom <= field.height()
    words = [s for s in shapes if isinstance(s, Words)]
    assert not [s.text for s in words if "..." in s.text]
    assert "touched" in " ".join(s.text for s in words)
    # Letters are as large as the system's, unless the longest word would not fit beside the body.
    full, overlay = 1.05 * field.fontInfo().pixelSize(), field._overlay
    assert window.session.body is not None
    names = [label_name(s) for s in window.session.body.structures.values()]
    longest = max(overlay.width_of(word, full) for name in names for word in name.split())
    room = columns_beside(field.width(), 0.0, (1.0, 1.0), full, (0.5, 0.5)).room
    written = max(s.height for s in words)
    assert full * min(1.0, room / longest) - 1e-6 <= written <= full + 1e-6
    assert width < 1000 or written == pytest.approx(full)
