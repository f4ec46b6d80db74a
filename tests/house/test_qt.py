"""The Qt binding does not eat references to None (PySide6 6.12.0 did, and Python 3.11 then ends the process)."""

from __future__ import annotations

from tests.house.programs import python

CALLS = """
import sys
from PySide6.QtWidgets import QApplication, QLabel
app = QApplication([])
label = QLabel("")
before = sys.getrefcount(None)
for _ in range(500):
    label.setText("word")
    app.processEvents()
print(before - sys.getrefcount(None))
"""


def test_calls_that_return_nothing_keep_none_alive() -> None:
    done = python("-c", CALLS)
    assert done.returncode == 0, done.stderr
    assert int(done.stdout) < 50
