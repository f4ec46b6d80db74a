"""Doings with hand-outs: another process draws and writes them, so that the window goes on."""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path

from PySide6.QtCore import QProcess, QProcessEnvironment
from PySide6.QtWidgets import QFileDialog, QProgressDialog

from meshes.errors import FurcalError
from viewer.display import VTK_WINDOW
from viewer.doing.files import whole_name
from viewer.doing.writing import Writing
from viewer.export.lesson import KINDS
from viewer.panels.finder import Finder, Row, at_word_starts


class HandOuts(Writing):
    """A lesson as PDF, slides, page, pictures or video."""

    def __init__(self) -> None:
        super().__init__()
        self._writer: QProcess | None = None

    def hand_out(self) -> None:
        """Ask for the kind and the file, and write it."""
        self._needed()
        rows = [Row(kind.says.capitalize(), kind.suffix or "folder", name) for name, kind in KINDS.items()]
        finder = Finder("Hand out", "As what", rows, at_word_starts(rows), self)
        finder.taken.connect(self.guarded(self._hand_out_as))
        finder.open()

    def _hand_out_as(self, name: str) -> None:
        run, suffix = self._needed(), KINDS[name].suffix
        proposed = f"{run.lesson.key}{suffix}"
        if suffix:
            chosen, _ = QFileDialog.getSaveFileName(self, "Hand out", proposed, f"(*{suffix})")
        else:
            chosen = QFileDialog.getExistingDirectory(self, "Hand out: a new or empty folder")
        if chosen:
            self.write_hand_out(name, whole_name(chosen, suffix) if suffix else Path(chosen))

    def write_hand_out(self, name: str, out: Path) -> None:
        """Write the open lesson as one of KINDS, progress shown; it can be cancelled, and then nothing is left."""
        lesson = self._needed().lesson
        if self._writer is not None:
            raise FurcalError("a hand-out is being written; wait until it is done, or cancel it.")
        dialog = QProgressDialog(f"Writing {out.name}", "Cancel", 0, 100, self)
        dialog.setWindowTitle("Hand out")
        dialog.setMinimumDuration(0)
        dialog.setAutoReset(False)
        writer = self._writer = QProcess(self)
        writer.setReadChannel(QProcess.ProcessChannel.StandardError)
        surroundings = QProcessEnvironment.systemEnvironment()
        surroundings.remove(VTK_WINDOW)  # it draws without a screen, in its own way
        writer.setProcessEnvironment(surroundings)
        writer.readyReadStandardError.connect(lambda: self._writing_goes_on(writer, dialog))
        writer.finished.connect(lambda code, _: self._written(code, dialog, out))
        dialog.canceled.connect(lambda: _interrupt(writer))
        words = ["lesson", "export", str(lesson.path), "--to", name, "--out", str(out), "--progress-lines"]
        writer.start(sys.executable, ["-m", "viewer", *words])
        dialog.setValue(0)

    def _writing_goes_on(self, writer: QProcess, dialog: QProgressDialog) -> None:
        while writer.canReadLine():  # a line may come in pieces
            line = bytes(writer.readLine().data()).decode(errors="replace").rstrip()
            share, _, stage = line.partition(" ")
            if share.isdigit():
                dialog.setValue(int(share))
                dialog.setLabelText(stage)
            elif line:
                self._complaint = line.removeprefix("furcal: ")

    def _written(self, code: int, dialog: QProgressDialog, out: Path) -> None:
        cancelled = dialog.wasCanceled()
        dialog.close()
        dialog.deleteLater()
        self._writer = None
        if code == 0:
            self.statusBar().showMessage(f"{out}: written.", 10_000)
        elif cancelled:
            self.statusBar().showMessage("Cancelled; nothing was written.", 10_000)
        else:
            self.tell(self._complaint or "the hand-out could not be written.")
        self._complaint = ""

    _complaint = ""

    def stop_lesson(self) -> None:
        """The window closes: write down what was typed, close the speaker's window, end what is still written."""
        self._ahead.stop()
        self.places.editor.finish()
        if self._speaker is not None:
            self._speaker.close()
        if self._writer is not None:
            _interrupt(self._writer)
            self._writer.waitForFinished(5000)


def _interrupt(writer: QProcess) -> None:
    """As Ctrl+C would: it cleans up behind itself."""
    if writer.processId():
        os.kill(writer.processId(), signal.SIGINT)
