"""The stretches of a traced nerve are told apart by tone, of one nerve at a time, and gone with the trace."""

import numpy as np
from vtkmodules.util.numpy_support import vtk_to_numpy

from lessons.view import View
from meshes.body import Body
from viewer.scene import Scene
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
