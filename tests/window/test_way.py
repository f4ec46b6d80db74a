"""The places along a nerve in the card: bars over the slider, and the words under it."""

from __future__ import annotations

from itertools import pairwise

from PySide6.QtCore import QPoint
from pytestqt.qtbot import QtBot

from meshes.places import place_at, places_of
from tests.window.hands import Left
from viewer.panels.card import STEPS
from viewer.panels.waystrip import told
from viewer.window import MainWindow


def test_a_traced_nerve_shows_its_places_and_tells_where_the_point_is(qtbot: QtBot, window: MainWindow) -> None:
    window.pick("femoral_left")
    body, card = window.session.body, window.places.card
    assert body is not None
    places, length = places_of(body, "femoral_left"), body.centrelines["femoral_left"].length
    assert card.way.isVisible()
    assert [bar[0] for bar in card.way.bars()] == list(places)
    for step in (0, 150, 300, 480, STEPS):
        card.place.setValue(step)
        within = place_at(places, step / STEPS * length).site.within
        assert card.place_words.text() == f"Point at {step / STEPS * length:.0f} mm of {length:.0f} mm, {within}."


def test_bars_lie_end_to_end_on_the_scale_of_the_slider(qtbot: QtBot, window: MainWindow) -> None:
    window.pick("lateral_femoral_cutaneous_right")
    way = window.places.card.way
    bars = way.bars()
    assert all(abs(one[2] - other[1]) < 1e-9 for one, other in pairwise(bars))
    assert bars[0][1] > 0.0
    assert bars[-1][2] < way.width()
    whole = bars[-1][2] - bars[0][1]
    for place, left, right in bars:
        assert abs((right - left) / whole - (place.to_mm - place.from_mm) / bars[-1][0].to_mm) < 1e-9
        assert way.place_at((left + right) / 2.0) == place
        assert told(place).startswith(place.site.name[0].upper())
    assert way.place_at(-1.0) is None


def test_pressing_a_bar_puts_the_point_in_its_middle(qtbot: QtBot, window: MainWindow) -> None:
    window.pick("lateral_femoral_cutaneous_left")
    card = window.places.card
    for place, left, right in card.way.bars():
        if right - left > 4.0:
            qtbot.mouseClick(card.way, Left, pos=QPoint(round((left + right) / 2.0), 4))
            assert card.place_words.text().endswith(f"{place.site.within}.")


def test_what_is_no_nerve_shows_no_places(qtbot: QtBot, window: MainWindow) -> None:
    window.pick("aorta")
    card = window.places.card
    assert not card.way.isVisible()
    assert card.place_words.text().endswith("of its way.")
    window.pick("l4")
    assert not card.way.isVisible()


def test_no_name_covers_another_and_wide_bars_have_theirs(qtbot: QtBot, window: MainWindow) -> None:
    way = window.places.card.way
    for nerve in ("femoral_left", "ilioinguinal_left", "lateral_femoral_cutaneous_left", "genitofemoral_left"):
        window.pick(nerve)
        names = way.names()
        boxes = [box for *_, box in names]
        assert not any(a.intersects(b) for i, a in enumerate(boxes) for b in boxes[:i])
        assert all(box.left() >= 0.0 and box.right() <= way.width() for box in boxes)
        widest = max(way.bars(), key=lambda bar: bar[2] - bar[1])
        assert widest[0].site.name in [name for name, *_ in names]
