"""What many windows show and none changes, made once: meshes of a body, and its solids for a film."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Collection
from dataclasses import replace

from meshes.body import Body
from meshes.film.filmed import Filmed
from viewer.part import Meshes
from viewer.scene import meshes_of

#: Bodies whose meshes are held: Alder and Larch, and one that a test makes.
HELD = 3
#: As they come, before any window shares them.
_filmed_of = Filmed.of
_filmed: list[Filmed] = []
_made: OrderedDict[tuple[int, ...], tuple[Body, dict[str, Meshes]]] = OrderedDict()


def shared_meshes(body: Body, at_once: Collection[bool] = ()) -> dict[str, Meshes]:
    """What `meshes_of` gives; the points of a body that was here before are shared, what may be changed is not."""
    key = (id(body.surfaces), id(body.structures), id(body.centrelines))
    if key not in _made:
        _made[key] = body, meshes_of(body, at_once)  # with the body: so that no other one takes its place
    _made.move_to_end(key)
    while len(_made) > HELD:
        _made.popitem(last=False)
    return {name: _own(one) for name, one in _made[key][1].items()}


def shared_filmed(body: Body) -> Filmed:
    """What `Filmed.of` gives: a frozen value, of the body that was last filmed."""
    if not _filmed or _filmed[0].body is not body:
        _filmed[:] = [_filmed_of(body)]
    return _filmed[0]


def _own(meshes: Meshes) -> Meshes:
    return replace(meshes, shapes=dict(meshes.shapes), made={}, hulls={})
