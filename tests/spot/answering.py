"""Right and wrong responses to an item on its body, and bodies that are asked again and again."""

from functools import cache

from lessons.spot.item import Chosen, Docked, Item, Named, Ordered, Pointed, Quartered, Rooted
from lessons.spot.onbody import solution
from lessons.spot.response import Arranged, Clicked, Picked, Placed, Quarter, Response, Said, Segments
from meshes.body import Body, load_body
from meshes.specimen import Specimen
from meshes.structures import SEGMENTS


@cache
def body_of(specimen: Specimen) -> Body:
    """The body of a specimen, loaded once."""
    return load_body(specimen)


def responses(item: Item, body: Body) -> tuple[Response, list[Response]]:
    """What is right, and what is wrong."""
    match item.answer:
        case Chosen(right, wrong):
            return Picked(right), [Picked(word) for word in wrong]
        case Named(mark):
            own = body.structures[mark]
            others = {s.name for s in body.structures.values() if s.name != own.name and s.kind == own.kind}
            return Said(own.name), [Said(name) for name in sorted(others)[::4]]
        case Rooted(roots):
            more = next(s for s in SEGMENTS if s not in roots)
            return Segments(roots), [Segments(roots[1:]), Segments((*roots, more))]
        case Ordered(right):
            return Arranged(right), [Arranged(right[::-1]), Arranged((right[1], right[0], *right[2:]))]
        case Quartered(_, _, right):
            return Quarter(right[0]), [Quarter(q) for q in ("I", "II", "III", "IV") if q not in right]
        case Pointed(target, _):
            return Clicked(target, _point(body, target)), [Clicked(*_far(body, target))]
        case Docked(start) as asked:
            way = solution(asked, body)
            assert way is not None
            return Placed(way), [Placed(start)]


def _point(body: Body, id_: str) -> tuple[float, float, float]:
    x, y, z = body.surfaces[id_].vertices[0].tolist()
    return x, y, z


def _far(body: Body, id_: str) -> tuple[str, tuple[float, float, float]]:
    """A place of the skin that is the farthest from a structure."""
    from_it = body.surfaces["skin"].vertices - body.surfaces[id_].vertices.mean(axis=0)
    x, y, z = body.surfaces["skin"].vertices[(from_it**2).sum(axis=1).argmax()].tolist()
    return "skin", (x, y, z)
