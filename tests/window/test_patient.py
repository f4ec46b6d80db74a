"""The page of the patient in the window: it follows the portal and the picked point."""

from pytestqt.qtbot import QtBot

from lessons.view import Placement
from meshes.body import load_body
from meshes.specimen import ALDER
from tests.window.conftest import MainWindow
from tests.window.hands import Key, Mod, press
from viewer.scene import meshes_of


def test_the_page_tells_what_the_portal_costs_and_follows_it(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, Key.Key_P, Mod.ShiftModifier)
    page = window.places.patient
    assert window.places.page == "patient"
    assert page.head.text() == "If what the portal touches is hurt"
    assert "Femoral nerve, left" in page.words.text()
    assert "front of the thigh" in page.map.accessibleDescription().lower()
    window.place_portal(Placement(level="L3-4", at=0.5, radius_mm=3.0))
    assert window.places.page == "patient"
    assert page.head.text().startswith("No nerve is hurt")
    assert not page.map.isVisible()


def test_a_picked_nerve_is_a_lesion_at_its_point(qtbot: QtBot, window: MainWindow) -> None:
    window.show_patient()
    window.pick("obturator_left")
    page = window.places.patient
    assert page.head.text() == "A lesion at the picked point of the obturator nerve, left"
    assert "hip adduction: lost" in page.words.text()
    page.sources.button.click()
    assert page.sources.words.isVisible()
    assert "bouaziz_2002" in page.sources.words.text()
    press(qtbot, window, Key.Key_Escape)
    assert page.head.text() == "If what the portal touches is hurt"


def test_the_page_is_not_worked_out_while_another_is_looked_at(qtbot: QtBot, window: MainWindow) -> None:
    window.pick("femoral_left")
    assert window.places.page == "structure"
    assert window.places.patient.head.text().startswith("No nerve is hurt")
    window.places.show_page("patient")
    assert "femoral nerve" in window.places.patient.head.text()


def test_the_same_specimen_built_again_is_told_anew(qtbot: QtBot, window: MainWindow) -> None:
    """Two bodies of one specimen cannot be compared by their arrays."""
    window.show_patient()
    window.places.show_page("portal")
    again = load_body(ALDER)
    assert window.session.body is not None
    assert again.specimen == window.session.body.specimen
    window._built(again, meshes_of(again))
    window.show_patient()
    assert window._told_body is again
    assert window.places.patient.head.text() == "If what the portal touches is hurt"
