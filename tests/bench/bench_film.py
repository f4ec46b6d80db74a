"""A film of Alder with all wires, against embree's rays through the same triangles, in one run."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np

from meshes.film.crossings import Ready, crossings, merged
from meshes.film.filmed import ENERGY_KEV, Filmed, coefficients, expose, wired_nerves, wires
from meshes.film.lengths import lengths, weighed
from tests.bench.results import Limit, Ratio, Result, seconds
from tests.bench.subject import subject

#: Pixels a side of a film, and of one that is being turned.
FINE, COARSE = 512, 256
#: Share of the crossings that one side alone may find: embree works in single precision.
APART = 0.001
#: A film of FINE pixels as it was asked for, and a coarse one that follows the hand: common practice, no source.
FILM_S, FOLLOWS_S = 0.15, 0.1


@cache
def filmed() -> Filmed:
    """Alder made ready, once for all films."""
    return Filmed.of(subject())


@cache
def laid() -> Ready:
    """A wire of 1 mm along every nerve."""
    return wires(subject(), wired_nerves(subject()), 1.0)


def bench_film() -> Sequence[Result]:
    """A parallel film: path lengths through every material and what passes; and a coarse one while it is turned."""
    mu = coefficients(ENERGY_KEV)
    whole = merged(filmed().ready, laid())
    results: list[Result] = []
    for view in ("front", "left"):
        beam = filmed().beam(view, size=FINE, parallel=True)
        took = seconds(lambda beam=beam: np.exp(-weighed(lengths(whole, beam), mu)))  # type: ignore[misc]  # beam is bound early
        results.append(Limit(f"{view} film of {FINE} pixels with {len(wired_nerves(subject()))} wires", took, FILM_S))
        coarse = filmed().beam(view, 8.0, size=COARSE)
        turned = seconds(lambda coarse=coarse: expose(filmed(), coarse, laid(), roughly=True))  # type: ignore[misc]  # coarse is bound early
        results.append(Limit(f"{view} film of {COARSE} pixels while it is turned", turned, FOLLOWS_S))
    return results


def bench_film_against_rays() -> Sequence[Result]:
    """All path lengths of a film, and embree's crossings alone of the same rays with the same triangles."""
    try:
        from trimesh.ray.ray_pyembree import RayMeshIntersector
    except ImportError:
        return []  # no wheel for this machine: the marker in pyproject.toml
    import trimesh

    whole = merged(filmed().ready, laid())
    beam = filmed().beam("front", size=FINE, parallel=True)
    caster = RayMeshIntersector(trimesh.Trimesh(whole.vertices, np.ascontiguousarray(whole.corners.T), process=False))
    start, along = (np.ascontiguousarray(part.reshape(-1, 3)) for part in beam.rays())
    start = start - 500.0 * along  # from before the body

    ours = seconds(lambda: lengths(whole, beam))
    theirs = seconds(lambda: caster.intersects_id(start, along, multiple_hits=True, return_locations=True), for_s=2.0)
    _, ray, _ = caster.intersects_id(start, along, multiple_hits=True, return_locations=True)
    pixels = FINE * FINE
    mine = np.bincount(crossings(whole, beam).pixel(), minlength=pixels)
    other = np.bincount(ray, minlength=pixels)
    apart = int(np.abs(mine - other).sum())
    agrees = apart <= APART * int(mine.sum())
    how = f"{mine.sum()} crossings, {apart} found by one side only"
    return [Ratio(f"front film of {FINE} pixels, against embree through trimesh", ours, theirs, 2.0, agrees, how)]
