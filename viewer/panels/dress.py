"""How the window is dressed: light and dark from the palette, text in the system's size."""

from __future__ import annotations

from PySide6.QtGui import QColor, QFontInfo, QPainter, QPalette
from PySide6.QtWidgets import QApplication, QWidget

from viewer.palette import RGB, THEMES, Theme


def colour(rgb: RGB, alpha: int = 255) -> QColor:
    """A palette colour for Qt."""
    return QColor(*rgb, alpha)


def theme_of(widget: QWidget) -> Theme:
    """The theme that the window wears, told by how dark its palette is."""
    dark = widget.palette().color(QPalette.ColorRole.Window).lightness() < 128
    return THEMES["dark" if dark else "light"]


def text_height(widget: QWidget) -> float:
    """Height of the widget's font, pixels: every size in the window follows it."""
    return float(QFontInfo(widget.font()).pixelSize())


def dress(app: QApplication, name: str) -> None:
    """Put a theme on the whole program."""
    theme = THEMES[name]
    app.setStyle("Fusion")
    app.setPalette(_palette(theme, name == "dark"))
    app.setStyleSheet(_sheet(theme, QFontInfo(app.font()).pixelSize()))


def system_theme(app: QApplication) -> str:
    """What the desktop asks for: "dark" or "light"."""
    return "dark" if app.styleHints().colorScheme().name == "Dark" else "light"


def hatch(painter: QPainter, left: float, top: float, right: float, bottom: float, step: float) -> None:
    """Slanting lines over a rectangle: the sign for glassy beside its lighter colour."""
    painter.save()
    painter.setClipRect(int(left), int(top), int(right - left), int(bottom - top))
    x = left - (bottom - top)
    while x < right:
        painter.drawLine(int(x), int(bottom), int(x + bottom - top), int(top))
        x += step
    painter.restore()


def _palette(theme: Theme, dark: bool) -> QPalette:
    role = QPalette.ColorRole
    palette = QPalette()
    for which, rgb in (
        (role.Window, theme.background),
        (role.Base, theme.panel),
        (role.AlternateBase, theme.background),
        (role.Button, theme.panel),
        (role.ToolTipBase, theme.panel),
        (role.Highlight, theme.accent),
        (role.WindowText, theme.text),
        (role.Text, theme.text),
        (role.ButtonText, theme.text),
        (role.ToolTipText, theme.text),
        (role.PlaceholderText, theme.quiet),
        (role.HighlightedText, (17, 23, 28) if dark else (255, 255, 255)),
        (role.Mid, theme.line),
        (role.Link, theme.accent),
    ):
        palette.setColor(which, colour(rgb))
    for which in (role.WindowText, role.Text, role.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, which, colour(theme.line))
    return palette


def _sheet(theme: Theme, text_px: int) -> str:
    """What the palette cannot say: mostly lines, which the style would draw too dark to be seen on a dark ground."""
    line, panel, ink = (colour(c).name() for c in (theme.line, theme.panel, theme.text))
    size, edge = 2 * round(0.45 * text_px), f"border: 1px solid {line};"
    stops = f"stop: 0 {ink}, stop: 0.5 {ink}, stop: 0.6 {panel}, stop: 1 {panel}"
    dot = f"qradialgradient(cx: 0.5, cy: 0.5, radius: 0.5, fx: 0.5, fy: 0.5, {stops})"
    return f"""
    QToolBar {{ border: 0; border-bottom: 1px solid {line}; padding: 3px; spacing: 2px; }}
    QToolButton {{ padding: 4px 9px; border: 1px solid transparent; border-radius: 4px; }}
    QToolButton#qt_toolbar_ext_button {{ padding: 0; }}
    QToolButton:hover, QToolButton:checked {{ background: {panel}; border-color: {line}; }}
    QPushButton {{ padding: 4px 12px; border: 1px solid {line}; border-radius: 4px; background: {panel}; }}
    QPushButton:disabled {{ border-color: {colour(theme.line, 90).name(QColor.NameFormat.HexArgb)}; }}
    QCheckBox::indicator:unchecked, QRadioButton::indicator {{ width: {size}px; height: {size}px; {edge} }}
    QCheckBox::indicator:checked {{ width: {size + 2}px; height: {size + 2}px; }}
    QRadioButton::indicator {{ border-radius: {(size + 2) // 2}px; }}
    QRadioButton::indicator:checked {{ background: {dot}; }}
    QTabBar::tab {{ padding: 4px {round(0.62 * text_px)}px; border: 0; border-bottom: 2px solid transparent; }}
    QTabBar::tab:selected {{ border-bottom-color: {colour(theme.accent).name()}; font-weight: bold; }}
    QTabBar::tab:focus {{ background: {panel}; }}
    QListView {{ border: 0; }}
    QStatusBar {{ border-top: 1px solid {line}; }}
    QStatusBar::item {{ border: 0; }}
    QToolTip {{ border: 1px solid {line}; }}
    QFrame#panel {{ background: {panel}; }}
    QScrollArea#panel {{ background: {panel}; border: 0; }}
    QWidget#panel {{ background: {panel}; }}
    """
