"""How thick whole nerves are beside each other: from memory of standard handbooks; eye and caliper agree."""

import numpy as np

from tests.relations.geometry import Side

WALL = ("subcostal", "iliohypogastric", "ilioinguinal")


def _area(side: Side, nerve: str) -> float:
    """Section area, mm2, in the middle of the nerve."""
    line = side.line(nerve)
    return float(np.pi * np.interp(line.length / 2.0, line.arc, line.radius) ** 2)


def test_order_of_size(side: Side) -> None:
    """Trunk >= femoral >> obturator, LFCN > wall nerves > genitofemoral."""
    trunk, femoral = _area(side, "lumbosacral_trunk"), _area(side, "femoral")
    middle = [_area(side, "obturator"), _area(side, "lateral_femoral_cutaneous")]
    wall = [_area(side, nerve) for nerve in WALL]
    assert trunk >= femoral
    assert femoral > 2.0 * max(middle)
    assert min(middle) > max(wall)
    assert min(wall) > _area(side, "genitofemoral")


def test_nerves_get_thinner_away_from_the_spine(side: Side) -> None:
    """From memory of standard handbooks: a nerve that gives off branches does not grow."""
    for nerve in (*WALL, "lateral_femoral_cutaneous", "obturator", "genitofemoral"):
        radius = side.line(nerve).radius
        assert radius[-1] <= radius[len(radius) // 3] + 1e-6
