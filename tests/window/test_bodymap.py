"""The body map in the window: skin is lit where the area lies, in both themes and at any size, and said in words."""

from __future__ import annotations

import pytest
from PySide6.QtGui import QImage, QPalette
from pytestqt.qtbot import QtBot

from lessons.bodymap import CAUTION
from lessons.mapchains import XY, inside
from lessons.maptable import drawing
from meshes.errors import FurcalError
from viewer.display import prepare_window
from viewer.palette import THEMES, Theme

prepare_window()

from viewer.panels.bodymap import NAMES_FROM_PX, BodyMap  # noqa: E402
from viewer.panels.dress import colour  # noqa: E402

MAP = drawing()
FRONT = MAP.figures[0]


def shown(qtbot: QtBot, theme: Theme, width: int) -> BodyMap:
    """A map of a width, dressed in a theme."""
    widget = BodyMap()
    qtbot.addWidget(widget)
    wear(widget, theme)
    widget.resize(width, widget.heightForWidth(width))
    return widget


def wear(widget: BodyMap, theme: Theme) -> None:
    palette = QPalette(widget.palette())
    palette.setColor(QPalette.ColorRole.Window, colour(theme.background))
    widget.setPalette(palette)


def picture(widget: BodyMap) -> QImage:
    return widget.grab().toImage()


def at(widget: BodyMap, spot: XY, side: str) -> tuple[int, int]:
    """Pixel of a point of the front view, on one side of the body, as it was drawn last."""
    box, place = widget._renderer.viewBoxF(), widget.place
    x = FRONT.at + (spot[0] if side == "left" else -spot[0])
    return (
        round(place.left() + (x - box.left()) * place.width() / box.width()),
        round(place.top() + (spot[1] - box.top()) * place.height() / box.height()),
    )


def distance(image: QImage, pixel: tuple[int, int], theme: Theme) -> int:
    """How far a pixel's colour is from that of the bare skin: the largest of three channels."""
    found = image.pixelColor(*pixel)
    return max(abs(a - b) for a, b in zip((found.red(), found.green(), found.blue()), theme.panel, strict=True))


def difference(one: QImage, other: QImage, pixel: tuple[int, int]) -> int:
    """The largest difference of a pixel's three channels."""
    a, b = one.pixelColor(*pixel), other.pixelColor(*pixel)
    return max(abs(a.red() - b.red()), abs(a.green() - b.green()), abs(a.blue() - b.blue()))


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("width", [260, 1600])
@pytest.mark.parametrize(
    ("patch", "layer"),
    [
        ("femoral_intermediate", "nerves"), ("lfcn_anterior", "nerves"), ("obturator", "nerves"),
        ("ilioinguinal", "nerves"), ("L3", "dermatomes"),
    ],
)  # fmt: skip
@pytest.mark.parametrize("side", ["left", "right"])
def test_skin_is_lit_where_the_area_lies_and_bare_on_the_other_side(
    qtbot: QtBot, theme: str, width: int, patch: str, layer: str, side: str
) -> None:
    widget = shown(qtbot, THEMES[theme], width)
    widget.show_skin([patch], [], layer)
    widget.resize(width, widget.heightForWidth(width))
    bare = picture(widget)
    widget.show_skin([patch], [side], layer)
    lit = picture(widget)
    assert lit.size() == bare.size()
    (chain,) = MAP.layers[layer][patch].pieces["front"]
    # At least 1.2 units, more than a pixel, off the midline: an edge that lies there is as wide on either side.
    spots = [(0.41 * i, 0.53 * k) for i in range(3, 45) for k in range(200) if inside(chain, (0.41 * i, 0.53 * k))]
    assert len(spots) > 20
    changed = {which: [difference(lit, bare, at(widget, spot, which)) for spot in spots] for which in ("left", "right")}
    assert sum(changed.pop(side)) / len(spots) > 25.0
    (other,) = changed.values()
    assert max(other) == 0


def test_it_says_in_words_what_is_lit(qtbot: QtBot) -> None:
    widget = shown(qtbot, THEMES["light"], 260)
    assert widget.accessibleDescription() == "No skin is marked."
    widget.show_skin(["obturator", "saphenous"], ["left"])
    said = widget.accessibleDescription()
    assert widget.accessibleName().startswith("Body map")
    assert said.startswith("Skin of nerves, left. Obturator (variable): ")
    assert said.endswith(CAUTION["nerves"])
    widget.show_skin(["L4"], ["right"], "dermatomes")
    assert widget.accessibleDescription().startswith("Dermatomes, right. L4: ")


def test_what_is_refused_changes_nothing(qtbot: QtBot) -> None:
    widget = shown(qtbot, THEMES["light"], 260)
    widget.show_skin(["saphenous"], ["left"])
    before, said = picture(widget), widget.accessibleDescription()
    for ids, sides, layer, partly in (
        (["saphenous", "L4"], ["left"], "nerves", []),
        (["saphenus"], ["left"], "nerves", []),
        (["saphenous"], ["middle"], "nerves", []),
        (["saphenous"], ["left"], "both", []),
        (["saphenous"], ["left"], "nerves", ["L4"]),
    ):
        with pytest.raises(FurcalError):
            widget.show_skin(ids, sides, layer, partly)
    assert widget.accessibleDescription() == said
    assert picture(widget) == before


def test_it_follows_the_theme(qtbot: QtBot) -> None:
    widget = shown(qtbot, THEMES["light"], 400)
    widget.show_skin(["saphenous"], ["left"])
    light = picture(widget)
    pixel = at(widget, (5.0, 15.0), "left")  # bare skin of the belly
    assert distance(light, pixel, THEMES["light"]) <= 2
    wear(widget, THEMES["dark"])
    assert distance(picture(widget), pixel, THEMES["dark"]) <= 2


def test_the_caution_stands_at_every_size(qtbot: QtBot) -> None:
    widget = shown(qtbot, THEMES["light"], 260)
    bare = widget.heightForWidth(260)
    widget.show_skin(["saphenous"], ["left"])
    assert widget.heightForWidth(260) >= bare + widget.fontMetrics().height()
    widget.resize(260, widget.heightForWidth(260))
    image, below = picture(widget), widget.place.bottom()
    rows = range(round(below) + 1, image.height())
    ink = {image.pixelColor(x, y).lightness() < 160 for y in rows for x in range(image.width())}
    assert ink == {True, False}
    assert CAUTION["nerves"] in widget.svg(1600)


def test_a_wide_one_has_a_key_and_still_fits(qtbot: QtBot) -> None:
    widget = shown(qtbot, THEMES["light"], 1600)
    widget.show_skin(["femoral_intermediate", "femoral_medial", "infrapatellar", "saphenous"], ["left"])
    widget.resize(1600, 900)
    widget.grab()
    place, box = widget.place, widget._renderer.viewBoxF()
    assert "Femoral, medial cutaneous" in widget.svg(NAMES_FROM_PX)
    assert "Femoral, medial cutaneous</text>" not in widget.svg(NAMES_FROM_PX - 1)
    assert place.top() >= -0.5
    assert place.bottom() <= 900.5
    assert place.width() / place.height() == pytest.approx(box.width() / box.height(), rel=1e-3)


def test_part_of_a_loss_is_hatched(qtbot: QtBot) -> None:
    widget = shown(qtbot, THEMES["light"], 400)
    widget.show_skin(["saphenous"], ["left"])
    assert "stroke-dasharray" not in widget.svg(400)
    widget.show_skin(["saphenous"], ["left"], uncertain=["saphenous"])
    assert "stroke-dasharray" in widget.svg(400)
