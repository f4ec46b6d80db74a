"""The stretches of a traced nerve are told apart by tone, of one nerve at a time, and gone with the trace."""

from dataclasses import replace

import numpy as np
from vtkmodules.util.numpy_support import vtk_to_numpy

from lessons.view import Camera, View
from meshes.body import Body
from meshes.surfaces import Surface
from tests.viewer.conftest import Bench, Pixels
from viewer.part import Meshes
from viewer.scene import Scene, meshes_of
from viewer.studio import Studio


def numbers(scene: Scene, name: str) -> np.ndarray | None:
    data = scene._parts[name].actor.GetMapper().GetInput().GetPointData().GetScalars()
    return None if data is None else vtk_to_numpy(data)


def test_tones_change_at_the_edges_and_only_on_the_nerve_that_is_asked(alder: Body) -> None:
    with Studio(alder, (80, 60)) as studio:
        assert_told_apart(studio.scene, alder)


def assert_told_apart(scene: Scene, alder: Body) -> None:
    scene.show(View(highlighted=frozenset({"femoral_left"})))
    line = alder.centrelines["femoral_left"]
    edges = [0.25 * line.length, 0.7 * line.length]
    scene.stretch("femoral_left", edges)
    part = scene._parts["femoral_left"]
    assert part.actor.GetMapper().GetScalarVisibility()
    tones = numbers(scene, "femoral_left")
    assert tones is not None
    points = vtk_to_numpy(part.actor.GetMapper().GetInput().GetPoints().GetData())
    arc = np.array([line.nearest(p) for p in points.astype(float)])
    clear = np.abs(arc[:, None] - np.array(edges)).min(axis=1) > 2.0
    between = (arc > edges[0]) & (arc < edges[1])
    assert np.array_equal(tones[clear] == 1.0, between[clear])
    assert numbers(scene, "femoral_right") is None
    scene.stretch("obturator_left", [30.0])
    assert numbers(scene, "femoral_left") is None
    assert not part.actor.GetMapper().GetScalarVisibility()
    assert numbers(scene, "obturator_left") is not None
    scene.stretch("", ())
    assert numbers(scene, "obturator_left") is None


def test_a_body_that_comes_back_is_of_one_tone_again(bench: Bench, body: Body) -> None:
    """Meshes of bodies are kept: what was told apart on one must not be seen when it is shown again."""
    view = View(camera=Camera("front"), dissection="dura", labels=False)
    both = [(one, meshes_of(one)) for one in (body, replace(body, surfaces=enlarged(body)))]
    plain = [shown(bench, view, *of) for of in both]
    for first, other in ((0, 1), (1, 0)):
        shown(bench, view, *both[first])
        bench.scene.stretch("femoral_left", [20.0, 60.0])
        assert not np.array_equal(bench.shot(view), plain[first])
        assert np.array_equal(shown(bench, view, *both[other]), plain[other])
        bench.scene.stretch("", ())
        assert np.array_equal(shown(bench, view, *both[first]), plain[first])


def enlarged(body: Body) -> dict[str, Surface]:
    return {i: surface.moved(1.1 * surface.vertices) for i, surface in body.surfaces.items()}


def shown(bench: Bench, view: View, body: Body, meshes: dict[str, Meshes]) -> Pixels:
    bench.scene.set_body(body, meshes)
    return bench.shot(view)
