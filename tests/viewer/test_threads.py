"""The thread that builds a body touches nothing of VTK's: it could wait for ever for the one that draws."""

from __future__ import annotations

import threading
from types import FrameType
from typing import Any

import pytest
from PySide6.QtCore import Qt

from meshes.body import Body, load_body
from meshes.specimen import ALDER, Specimen
from viewer.loader import Loader


def of_vtk(called: Any) -> bool:
    owner = type(getattr(called, "__self__", None)).__module__ or ""
    return "vtkmodules" in owner or "vtkmodules" in str(getattr(called, "__module__", "") or "")


@pytest.mark.parametrize("specimen", [ALDER, Specimen(name="Birch", psoas_scale=1.2), ALDER.facing_up("right")])
def test_building_a_body_for_the_window_calls_nothing_of_vtk(alder: Body, specimen: Specimen) -> None:
    load_body(ALDER)  # the reference, which every other body is carried from, has been built
    found: list[str] = []
    seen: list[str] = []

    def watch(_: FrameType, event: str, called: Any) -> None:
        if event == "c_call":
            seen.append("call")
            if of_vtk(called):
                found.append(repr(called))

    given: list[object] = []
    loader = Loader(load_body)
    loader._done.connect(lambda _, body, __: given.append(body), Qt.ConnectionType.DirectConnection)
    threading.setprofile(watch)
    try:
        loader.start(specimen)
        for thread in loader._threads:
            thread.join()
    finally:
        threading.setprofile(None)
    assert len(seen) > 100
    assert found == []
    assert len(given) == 1


def test_the_watch_sees_what_is_of_vtk() -> None:
    from vtkmodules.vtkCommonDataModel import vtkPolyData

    mesh = vtkPolyData()
    assert of_vtk(mesh.GetPoints)
    assert of_vtk(mesh.SetPoints)
    assert not of_vtk([].append)
