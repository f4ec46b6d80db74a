"""The patient: what a touched nerve, or a lesion at the picked point, costs; on the body map and in words."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from PySide6.QtWidgets import QVBoxLayout, QWidget

from lessons.patient import Told
from viewer.panels.bodymap import BodyMap
from viewer.panels.dress import text_height
from viewer.panels.folded import Folded, label

NOTHING = "No nerve is hurt. Dock a portal that touches one, or pick a nerve: then what hangs on it beyond the point."


class PatientPage(QWidget):
    """Shows what is told of some lesions; knows nothing of the body."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.head, self.words, self.sources = label(1.15), label(), Folded("Sources")
        self.map = BodyMap()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        for widget in (self.head, self.map, self.words, self.sources):
            layout.addWidget(widget)
        layout.addStretch(1)
        self.show_lesions("", ())

    def show_lesions(self, head: str, told: Sequence[Told]) -> None:
        """What is told of each lesion; none leaves a hint."""
        self.head.setText(head if told else NOTHING)
        patches = {patch: partly for one in told for patch, partly in one.patches}
        self.map.show_skin(
            list(patches),
            sorted({one.side for one in told if one.side}),
            uncertain=[patch for patch, partly in patches.items() if partly],
        )
        self.words.setText("".join(_html(one, text_height(self)) for one in told))
        sources = dict.fromkeys(s for one in told for s in one.sources)
        self.sources.show_html("<br><br>".join(map(escape, sources)))
        for widget in (self.map, self.words, self.sources):
            widget.setVisible(bool(told))


def _html(told: Told, text: float) -> str:
    """Blocks of lines: the first of each in heavy letters, the rest set in as far as they were."""
    parts = [f"<h3>{escape(told.title)}</h3>"]
    for title, lines in told.blocks:
        parts.append(f"<p style='margin:6px 0 0 0'><b>{escape(title)}</b></p>")
        for line in lines:
            depth = (len(line) - len(line.lstrip())) * 0.35 * text
            parts.append(f"<p style='margin:1px 0 0 {depth:.0f}px'>{escape(line.strip())}</p>")
    return "".join(parts)
