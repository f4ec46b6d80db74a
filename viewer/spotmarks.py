"""What is drawn on an item's picture for paper: lettered spots to choose from, and the quarters of a disc.

A spot lies on a surface that can be seen: a line of sight through it meets its structure first, so that the spot is
what a click there would be. Letters stand beside their spots; all is dark on a light ground.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from random import Random

import numpy as np

from lessons.spot.item import Item, Pointed
from lessons.spot.response import Clicked
from lessons.view import View
from meshes.body import Body
from meshes.contact import Ready
from meshes.curves import Array
from meshes.errors import FurcalError
from meshes.opening import opening
from meshes.outline import disc_outline
from meshes.picking import pick
from meshes.portal import QUARTERS, sign_of
from meshes.structures import level_key, other_side, side_of
from viewer.cameras import Eye, projected, ray_through
from viewer.labels import seen_samples
from viewer.overlay import Box, Point, Shape, Spot, Stroke, Words
from viewer.palette import THEMES
from viewer.quarters import BORDERS

LETTERS = "ABCDE"
#: Stands beside what is asked for, where it is lit: on paper without colours the light would not be seen.
QUESTION = "?"
#: How far a letter stands from its spot, in heights of the words.
AWAY = 1.75
#: Fewer spots than this leave nothing to choose.
SPOTS_LEAST = 3
#: A spot that is no answer lies further from the target than what still counts by at least this, mm.
CLEAR_MM = 4.0
#: Spots stand at least this far apart and from the edge of the picture, in heights of its words.
APART, FROM_EDGE = 3.2, 1.2
#: Rows at the top and the bottom of a picture that are taken, and the corner of its orientation mark and its scale.
TOP, BOTTOM, MARK, SCALE = 2.2, 1.5, (11.9, 9.1), (10.2, 4.0)
#: Points of a structure that are looked at, how far behind what is drawn one may be, mm, and how many are tried.
SAMPLES, SLACK_MM, TRIES = 900, 0.5, 25
#: Kinds that are thin.
THIN = ("nerve", "vessel")
#: Which kinds are offered beside a target, the nearest to its own first.
KINDS = ("nerve", "vessel", "muscle", "ligament", "bone", "disc", "viscus")
THEME = THEMES["light"]
INK, GROUND = (0, 0, 0), (255, 255, 255)
#: A disc's quarters are drawn where at least this much of its depth lies across the screen.
ACROSS = 0.6
OFF_MM, BESIDE_MM, STEPS = 0.3, 2.5, 25


# --- spots


def found_spots(item: Item, sight: Sight, seed: int) -> tuple[Clicked, ...]:
    """Spots to choose from, A first: one on the target, the others on other structures that can be seen.

    Raises FurcalError naming the item where the target cannot be seen, or nothing else can.
    """
    assert isinstance(item.answer, Pointed)
    target, within = item.answer.target, item.answer.within_mm
    dice = Random(f"spots {seed} {item.id}")
    where = item.where or item.id
    right = sight.best(target, ())
    if right is None:
        raise FurcalError(f"{where}: {target} cannot be seen in its view well enough for a spot on paper; turn the "
                          "view, dissect deeper, or leave the item out.")  # fmt: skip
    taken = [right]
    surface = sight.body.surfaces[target].vertices
    for name in _others(sight, target, dice):
        spot = sight.best(name, [pixel for _, pixel in taken])
        if spot is not None and _gap(spot[0].point_mm, surface) > within + CLEAR_MM:
            taken.append(spot)
        if len(taken) == len(LETTERS):
            break
    if len(taken) < SPOTS_LEAST:
        raise FurcalError(f"{where}: nothing but {target} can be seen in its view, so that there is nothing to choose "
                          "from on paper; show more, or leave the item out.")  # fmt: skip
    dice.shuffle(taken)
    return tuple(spot for spot, _ in taken)


def _gap(point: Sequence[float], vertices: Array) -> float:
    return float(np.linalg.norm(vertices - np.asarray(point), axis=1).min())


def _others(sight: Sight, target: str, dice: Random) -> Iterator[str]:
    """What may be offered beside a target: of its kind first, and nothing that could pass for it."""
    body = sight.body
    own = body.structures[target]
    kinds = (own.kind, *(kind for kind in KINDS if kind != own.kind))
    names = [name for name in sight.seen if name not in (target, other_side(target))]
    names = [name for name in names if not _is_part(name, target) and body.structures[name].group != "root"]
    for kind in kinds:
        same = sorted(name for name in names if body.structures[name].kind == kind)
        dice.shuffle(same)
        yield from sorted(same, key=lambda name: body.structures[name].side not in ("", own.side))


def _is_part(name: str, target: str) -> bool:
    """Whether one is named after the other: a nerve and its branches."""
    a, b = (word.removesuffix(f"_{side_of(word)}") for word in (name, target))
    return a.startswith(f"{b}_") or b.startswith(f"{a}_") or a == b


class Sight:
    """What can be seen in one drawn picture, and what is met along its lines of sight.

    looks : id -> whether it is drawn solid
    drawn : (height, width) mm from the eye of what is drawn there
    text  : height of the words, pixels of the same
    """

    def __init__(self, body: Body, view: View, looks: Mapping[str, bool], eye: Eye, drawn: Array, text: float) -> None:
        from scipy.spatial import cKDTree

        self.body, self.eye, self.size, self.text = body, eye, (drawn.shape[1], drawn.shape[0]), text
        self.glassy = {name for name, solid in looks.items() if not solid}
        if view.bodies_lifted:
            self.glassy |= set(opening().cuts) & set(looks)
        self.solid = set(looks) - self.glassy
        #: Pixels (n, 2) at which the samples of a structure are seen, by id; none that is glassy or hidden.
        self.seen = {name: pixels for name in sorted(self.solid) if len(pixels := self._pixels(name, drawn))}
        names = list(self.seen)
        self._of = np.repeat(np.arange(len(names)), [len(self.seen[name]) for name in names])
        self._is_thin = np.array([body.structures[name].kind in THIN for name in names], dtype=bool)
        self._ids = names
        self._tree = cKDTree(np.concatenate([self.seen[name] for name in names])) if names else None

    def _pixels(self, name: str, drawn: Array) -> Array:
        vertices = self.body.surfaces[name].vertices
        samples = vertices[:: max(1, len(vertices) // SAMPLES)]
        away = (self.eye.position - samples) @ self.eye.axes()[2]
        pixels = projected(samples, self.eye, self.size)
        out: Array = pixels[seen_samples(pixels, away - SLACK_MM, drawn, self.size)]
        return out

    def met(self, pixel: Point) -> Clicked | None:
        """What a click on a pixel would be."""
        start, towards = ray_through(pixel, self.eye, self.size)
        hit = pick(Ready.of(self.body), start, towards, self.solid, self.glassy, 0.0)
        if hit is None:
            return None
        x, y, z = (round(float(v), 2) for v in hit.point_mm)
        return Clicked(hit.id, (x, y, z))

    def best(self, name: str, taken: Sequence[Point]) -> tuple[Clicked, Point] | None:
        """The place of a structure furthest from what is beside it, and apart from other spots; None for none."""
        pixels = self.seen.get(name)
        if pixels is None:
            return None
        roomy = [(float(x), float(y)) for x, y in pixels if self._has_room((float(x), float(y)), taken)]
        for pixel in sorted(roomy, key=lambda pixel: -self._free(name, pixel))[:TRIES]:
            met = self.met(pixel)
            if met is not None and met.structure == name:
                return met, pixel
        return None

    def _free(self, name: str, pixel: Point) -> float:
        """How far from a pixel anything else is seen, up to the height of the words.

        A thin structure lies on others wherever it is: beside it only other thin ones count.
        """
        if self._tree is None:
            return 0.0
        near = np.array(self._tree.query_ball_point(pixel, self.text), dtype=int)
        own = self._ids.index(name)
        counts = self._of[near] != own
        if self._is_thin[own]:
            counts &= self._is_thin[self._of[near]]
        gaps = np.linalg.norm(self._tree.data[near[counts]] - np.asarray(pixel), axis=1)
        return float(gaps.min(initial=self.text))

    def _has_room(self, pixel: Point, taken: Iterable[Point]) -> bool:
        free = is_free(pixel, self.size, self.text, FROM_EDGE)
        return free and all(np.hypot(pixel[0] - a, pixel[1] - b) >= APART * self.text for a, b in taken)


def is_free(pixel: Point, size: tuple[int, int], text: float, margin: float) -> bool:
    """Whether a place lies so far, in heights of the words, from the edge and from what a picture says of itself."""
    (x, y), (wide, high), far = pixel, size, margin * text
    if not (far <= x <= wide - far and TOP * text + far <= y <= high - BOTTOM * text - far):
        return False
    in_mark = x < MARK[0] * text + far and y > high - MARK[1] * text - far
    in_scale = x > wide - SCALE[0] * text - far and y > high - SCALE[1] * text - far
    return not (in_mark or in_scale)


def spot_shapes(
    points: Sequence[Sequence[float]], eye: Eye, size: tuple[int, int], text: float, letters: str = LETTERS
) -> list[Shape]:
    """A spot on every point (3,), mm, and its letter beside it, where there is most room."""
    spots = [(float(x), float(y)) for x, y in projected(np.array(points, dtype=float), eye, size)]
    shapes: list[Shape] = []
    placed: list[Point] = []
    for k, spot in enumerate(spots):
        others = np.array([other for j, other in enumerate(spots) if j != k] + placed).reshape(-1, 2)
        placed.append(_beside(spot, others, text, lambda place: is_free(place, size, text, 1.0)))
        shapes += _lettered(spot, placed[-1], letters[k], text)
    return shapes


def film_mark(line: Array, others: Array, size: tuple[int, int], text: float) -> list[Shape]:
    """A question mark at a wire: without colours it could not be told from the rest.

    line   : (m, 2) pixels of its middle line;  others : (k, 2) of the other wires
    """
    inside = [(float(x), float(y)) for x, y in line if _is_free_on_film((float(x), float(y)), size, text)]
    if not inside:
        return []
    spot = max(inside, key=lambda p: min(_nearest(p, others), 3.0 * text))
    place = _beside(spot, np.concatenate([others, line]), text, lambda p: _is_free_on_film(p, size, text))
    return _lettered(spot, place, QUESTION, text)


def _is_free_on_film(pixel: Point, size: tuple[int, int], text: float) -> bool:
    """Whether a place lies off the edge of a film and off what stands in its corners."""
    (x, y), (wide, high) = pixel, size
    if not (1.5 * text <= x <= wide - 1.5 * text and 1.5 * text <= y <= high - 4.0 * text):
        return False
    in_head = x < 13.0 * text and y < 6.0 * text
    in_sides = (x > wide - 6.0 * text and y < 12.0 * text) or (x < 6.0 * text and y < 12.0 * text)
    return not (in_head or in_sides or (x > wide - 13.0 * text and y > high - 8.0 * text))


def _beside(spot: Point, others: Array, text: float, is_good: Callable[[Point], bool]) -> Point:
    """Where a letter stands beside its spot: where it is furthest from everything else."""
    x, y = spot
    places = [
        (x + AWAY * text * float(np.cos(a)), y + AWAY * text * float(np.sin(a))) for a in np.arange(12) * np.pi / 6
    ]
    return max([place for place in places if is_good(place)] or places, key=lambda place: _nearest(place, others))


def _nearest(pixel: Point, others: Array) -> float:
    return float(np.linalg.norm(others - np.asarray(pixel), axis=1).min(initial=1e9))


def _lettered(spot: Point, place: Point, letter: str, text: float) -> list[Shape]:
    line = (spot, place)
    return [
        Stroke(line, GROUND, 0.32 * text),
        Stroke(line, INK, 0.12 * text),
        Spot(*spot, 0.34 * text, GROUND),
        Spot(*spot, 0.22 * text, INK),
        Spot(*place, 0.92 * text, INK),
        Spot(*place, 0.8 * text, GROUND),
        Words(*place, letter, INK, 1.1 * text, "centre", True),
    ]


# --- quarters


def disc_of(level: str) -> str:
    """The id of the disc of a level."""
    return f"disc_{level_key(level)}"


def lies_across(body: Body, disc: str, eye: Eye) -> bool:
    """Whether a disc's depth lies across the screen, so that its quarters stand side by side."""
    right, up, _ = eye.axes()
    back = body.landmarks.frames[disc].axes[1]
    return float(np.hypot(back @ right, back @ up)) >= ACROSS


def quarter_lines(
    body: Body, level: str, side: str, eye: Eye, size: tuple[int, int], text: float, right: Collection[str] = ()
) -> list[Shape]:
    """The border of a disc as it is seen from its side, the lines between its quarters, and their numerals.

    They lie over whatever covers the disc, dark with a light rim; numerals of `right` are light on dark.
    """
    disc = disc_of(level)
    frame, sign = body.landmarks.frames[disc], sign_of(side)
    surface = body.surfaces[disc]
    outline, local = disc_outline(surface, frame), frame.local(surface.vertices)

    def rim(share: float) -> Array:
        """Upper and lower end of the disc's side at a share of its depth: (2, 2) pixels."""
        left, back = (float(v) for v in outline.at_depth(share, sign))
        beside = local[np.hypot(local[:, 0] - left, local[:, 1] - back) < BESIDE_MM, 2]
        low, high = (float(beside.min()), float(beside.max())) if len(beside) else (0.0, 0.0)
        ends = np.stack([frame.point(left + sign * OFF_MM, back, up) for up in (high, low)])
        return projected(ends, eye, size)

    edge = np.stack([rim(share) for share in np.linspace(0.0, 1.0, STEPS)])
    lines = [_points(edge[:, 0]), _points(edge[:, 1])] + [_points(rim(share)) for share in BORDERS]
    shapes: list[Shape] = [Stroke(line, GROUND, 0.3 * text) for line in lines]
    shapes += [Stroke(line, INK, 0.12 * text) for line in lines]
    for k, name in enumerate(QUARTERS):
        high, low = rim((k + 0.5) / len(QUARTERS))
        x, y = (low + (low - high) / max(1e-6, float(np.linalg.norm(low - high))) * 1.1 * text).tolist()
        half = 0.42 * text * (1.0 + 0.35 * len(name))
        ink, ground = (GROUND, INK) if name in right else (INK, GROUND)
        shapes.append(Box(x - half, y - 0.62 * text, x + half, y + 0.62 * text, ground))
        shapes.append(Words(x, y, name, ink, text, "centre", True))
    return shapes


def _points(pixels: Array) -> tuple[Point, ...]:
    return tuple((float(x), float(y)) for x, y in pixels)
