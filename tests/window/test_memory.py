"""Windows opened and closed one after the other leave nothing behind."""

import gc
from pathlib import Path

import pytest
from PySide6.QtCore import QCoreApplication, QEvent
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from tests.window.conftest import Make

WINDOWS = 50
#: The first ones fill caches of fonts, shaders and the allocator.
WARM = 10


@pytest.fixture
def shares_meshes() -> bool:
    """Each window makes its own: what it leaves behind is to be seen."""
    return False


def resident_mb() -> float:
    """Memory of this process that is in use now, MB."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * 4096 / 1e6


@pytest.mark.timeout(900)  # fifty windows, on a machine that may be doing something else
@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="memory in use is read from /proc")
def test_fifty_windows_leave_memory_flat(qtbot: QtBot, make: Make) -> None:
    used = []
    for _ in range(WINDOWS):
        window = make()
        qtbot.waitUntil(lambda w=window: w.session.docking is not None and w.field.is_resting, timeout=60_000)  # type: ignore[misc]
        window.close()
        window.deleteLater()
        del window
        QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        QApplication.processEvents()
        gc.collect()
        used.append(resident_mb())
    assert used[-1] - used[WARM] < 40.0, [round(u) for u in used]
