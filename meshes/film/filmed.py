"""A body made ready for films: which of its solids is of which material, and what metal stands in the beam."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from meshes.curves import Array, Centreline, Indices
from meshes.errors import FurcalError
from meshes.film.attenuation import attenuation, linear_per_mm
from meshes.film.beam import Beam, beam_for, check_outside
from meshes.film.crossings import Ready, merged
from meshes.film.lengths import lengths, solids, weighed
from meshes.film.limits import GAUGE_MM
from meshes.film.shell import inner
from meshes.opening import cut_plane, opening
from meshes.surfaces import Surface, tubes

if TYPE_CHECKING:
    from meshes.body import Body
    from meshes.portal import Portal

#: Kinds of structures that are soft; whatever else is inside the skin counts as fat, as everywhere in the body.
SOFT = ("muscle", "vessel", "viscus", "disc", "ligament")
#: It holds the roots; no wire is laid along it.
SAC = "dural_sac"
ENERGY_KEV = 70.0
#: Side of the detector and distance from the source to what stands in the middle, mm; the detector is 1050 mm away.
FIELD_MM, SOURCE_TO_CENTRE_MM = 560.0, 780.0
#: Sides of a wire and of a portal: at these the ring looks round on a film of 4096 pixels.
_WIRE_SIDES, _PORTAL_SIDES = 8, 64


@dataclass(frozen=True, eq=False)
class Filmed:
    """A body made ready for any number of beams, without metal."""

    body: Body
    ready: Ready

    @classmethod
    def of(cls, body: Body) -> Filmed:
        """Make a body ready: about half a second, most of it for the inner surfaces of the bones."""
        return cls(body, solids(list(_parts(body))))

    def beam(
        self, view: str, turn_deg: float = 0.0, cranial_deg: float = 0.0, *, size: int = 512, **more: object
    ) -> Beam:
        """The beam of a named view; see `beam_of`."""
        return beam_of(self.body, view, turn_deg, cranial_deg, size=size, **more)


def beam_of(
    body: Body, view: str, turn_deg: float = 0.0, cranial_deg: float = 0.0, *, size: int = 512, **more: object
) -> Beam:
    """The beam of a named view through the middle of the lumbar spine; see `meshes.film.beam.beam_for`.

    Raises FurcalError for an unknown view, a number out of range, and a beam from inside the body.
    """
    given = {
        "field_mm": FIELD_MM,
        "source_to_centre_mm": SOURCE_TO_CENTRE_MM,
        "centre_mm": centre_mm(body, view),
    } | more
    beam = beam_for(view, turn_deg, cranial_deg, size=size, **given)  # type: ignore[arg-type]
    check_outside(beam, body.surfaces["skin"])
    return beam


def centre_mm(body: Body, view: str) -> Array:
    """What stands in the middle of a film (3,), mm: the middle of the body from in front, of the spine else."""
    skin = body.surfaces["skin"].vertices
    middle = 0.5 * (skin.min(axis=0) + skin.max(axis=0))
    spine = body.landmarks["disc_l4_5_centre"]
    return np.array([0.0, spine[1] if view == "front" else middle[1], middle[2]])


def wires(body: Body, nerves: Collection[str], gauge_mm: float) -> Ready:
    """Wires along nerves, each from end to end; two gauges along the big ones, as attenuation.toml says.

    Raises FurcalError for a gauge out of range.
    """
    low, high = GAUGE_MM
    if not low <= gauge_mm <= high:
        raise FurcalError(f"gauge {gauge_mm:g} mm: must lie between {low:g} and {high:g} mm.")
    thick = attenuation().metal.thick_from_mm
    lines = {}
    for name in nerves:
        line = body.centrelines[name]
        radius = gauge_mm if float(line.radius.max()) >= thick else 0.5 * gauge_mm
        lines[name] = Centreline(line.points.copy(), np.full(len(line.radius), radius), line.flat)
    laid = tubes(lines, sides=_WIRE_SIDES, cap_rings=1)
    return solids([("metal", surface) for surface in laid.values()])


def wired_nerves(body: Body) -> list[str]:
    """Ids of the nerves that a wire can be laid along."""
    return [name for name in body.ids("nerve") if name != SAC]


def portal_metal(portal: Portal) -> Ready:
    """The wall of a portal. What it holds aside stays in the beam: a bore of air would hide the disc in black."""
    wall = attenuation().metal.wall_mm
    return solids([("metal", _pipe(portal.entry_mm, portal.end_mm, portal.radius_mm, portal.radius_mm + wall))])


@dataclass(frozen=True, eq=False)
class Exposed:
    """What one beam met: attenuation (h, w), the sum of mu times length.

    bare  : of the body alone, without any metal, which an exposure and its shades go by
    plain : with the portal, if there is one
    wired : with the wires as well
    """

    beam: Beam
    bare: Array
    plain: Array
    wired: Array

    def passed(self, share: float = 1.0) -> Array:
        """What passes (h, w), 0 to 1; the wires faded in to a share, 0 to 1."""
        out: Array = np.exp(-(self.plain + share * (self.wired - self.plain)) if share < 1.0 else -self.wired)
        return out


def expose(
    filmed: Filmed,
    beam: Beam,
    laid: Ready | None = None,
    portal: Ready | None = None,
    energy_kev: float = ENERGY_KEV,
    roughly: bool = False,
) -> Exposed:
    """Send a beam through a body with wires laid and a portal docked.

    roughly : trace the rays once and take all metal off again by what is soft in its place, instead of tracing them
              without wires as well: for a film that is being turned
    Raises FurcalError for an energy out of range.
    """
    mu = coefficients(energy_kev)
    if roughly:
        paths = lengths(merged(*(part for part in (filmed.ready, portal, laid) if part is not None)), beam)
        all_ = weighed(paths, mu)
        bare = all_ - (mu["metal"] - mu["soft"]) * paths["metal"]
        return Exposed(beam, bare, bare, all_)
    plain_parts = filmed.ready if portal is None else merged(filmed.ready, portal)
    paths = lengths(plain_parts, beam)
    plain = weighed(paths, mu)
    bare = plain - mu["metal"] * paths["metal"]
    wired = plain if laid is None else weighed(lengths(merged(plain_parts, laid), beam), mu)
    return Exposed(beam, bare, plain, wired)


def coefficients(energy_kev: float) -> Mapping[str, float]:
    """Linear attenuation coefficient, 1/mm, of each material of a film. Raises FurcalError out of 40 to 100 keV."""
    names = {
        "fat": "adipose",
        "soft": "soft_tissue",
        "air": "air",
        "cortex": "cortical_bone",
        "spongy_spine": "spongiosa_lumbar",
        "spongy_pelvis": "spongiosa_pelvis",
        "metal": attenuation().metal.material,
    }
    return {material: linear_per_mm(name, energy_kev) for material, name in names.items()}


# --- parts


def _parts(body: Body) -> Iterator[tuple[str, Surface]]:
    yield "fat", body.surfaces["skin"]
    for structure in body.structures.values():
        surface = body.surfaces[structure.id]
        if structure.kind in SOFT:
            yield "soft", surface
        elif structure.kind == "bone":
            yield "cortex", surface
            yield _inside(structure.id), inner(surface, cortex_mm(body, structure.id))


def _inside(bone: str) -> str:
    row = attenuation().bones[_kinds(bone)[0]]
    return "spongy_pelvis" if row.inside == "spongiosa_pelvis" else "spongy_spine"


def _kinds(bone: str) -> tuple[str, ...]:
    """Rows of attenuation.toml for a bone: one, or that of its one part and that of its other."""
    bare = bone.removesuffix("_left").removesuffix("_right")
    if bone in opening().cuts:
        return "vertebral_body", "posterior_elements"
    if bare == "femur":
        return "femur_neck", "femur_shaft"
    return ("rib",) if bare.startswith("rib") else (bare,)


def cortex_mm(body: Body, bone: str) -> Array:
    """Thickness of a bone's cortex (v,), mm, at each vertex of its surface.

    A vertebra changes at the cut through its pedicles; a femur evenly from its lesser trochanter downwards.
    """
    rows = [attenuation().bones[kind].cortex_mm for kind in _kinds(bone)]
    at = body.surfaces[bone].vertices
    share = np.zeros(len(at))
    if bone in opening().cuts:
        point, back = cut_plane(body, bone)
        share = ((at - point) @ back > 0.0).astype(float)
    elif len(rows) == 2:
        top = float(body.landmarks[f"lesser_trochanter_{body.structures[bone].side}"][2])
        share = np.clip((top - at[:, 2]) / (top - float(at[:, 2].min())), 0.0, 1.0)
    return rows[0] + share * (rows[-1] - rows[0])


def _pipe(start: Array, end: Array, inner_mm: float, outer_mm: float) -> Surface:
    """A cylinder with a bore from end to end."""
    n = _PORTAL_SIDES
    vertices = np.concatenate([*_ring(start, end, outer_mm), *_ring(start, end, inner_mm)])
    i, j = _round(n)
    faces: list[tuple[Indices, Indices, Indices]] = []
    # Round the wall: outside from start to end, the end's rim, the bore back to the start, the start's rim.
    for a, b in ((0, 1), (1, 3), (3, 2), (2, 0)):
        faces += [(a * n + i, a * n + j, b * n + j), (a * n + i, b * n + j, b * n + i)]
    return _outwards(vertices, faces)


def _ring(start: Array, end: Array, radius_mm: float) -> tuple[Array, Array]:
    """Corners (n, 3) round the start and the end."""
    along = (end - start) / np.linalg.norm(end - start)
    across = np.cross(along, np.eye(3)[int(np.argmin(np.abs(along)))])
    across /= np.linalg.norm(across)
    turn = 2.0 * np.pi * np.arange(_PORTAL_SIDES)[:, None] / _PORTAL_SIDES
    round_ = radius_mm * (np.cos(turn) * across + np.sin(turn) * np.cross(along, across))
    return start + round_, end + round_


def _round(n: int) -> tuple[Indices, Indices]:
    """0 1 2 ... and what comes next, round and round."""
    i: Indices = np.arange(n)
    return i, np.roll(i, -1)


def _outwards(vertices: Array, faces: list[tuple[Indices, Indices, Indices]]) -> Surface:
    corners = np.concatenate([np.stack(face, axis=1) for face in faces]).astype(np.int32)
    made = Surface(vertices, corners)
    return made if made.volume() > 0.0 else Surface(vertices, np.ascontiguousarray(corners[:, ::-1]))
