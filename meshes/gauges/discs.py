"""Gauges in the mid-plane of a disc: the plexus, the muscles beside it, the vessels in front of it.

Fractions count along the plane of the disc: 0 at its posterior border, 1 at its anterior border.
"""

from __future__ import annotations

import numpy as np

from meshes.body import Body
from meshes.gauges.parts import AbsentError, cut, disc_frame, line_of, nearest_loop, outline_of, sign_of, surface_of
from meshes.gauges.sections import Section
from meshes.gauges.space import UPRIGHT, through_plane
from meshes.landmarks import Frame
from meshes.specimen import Specimen
from meshes.structures import level_key
from meshes.tolerances import BESIDE_PSOAS_MM

RAMI = ("l1", "l2", "l3", "l4")
ROOTS = ("l2", "l3", "l4")
#: Nerves that run through psoas beside those of the group "plexus".
WALL_NERVES = ("iliohypogastric", "ilioinguinal")
LEVELS_IN_PSOAS = ("L1-2", "L2-3", "L3-4", "L4-5")


def plexus_front_edge(body: Body, level: str, side: str = "left") -> float:
    """Front edge of the plexus as a fraction of the disc's depth."""
    outline = outline_of(body, level)
    return max(outline.fraction(point) for part in plexus_sections(body, level, side) for point in part.points)


def plexus_behind_centre(body: Body, level: str, side: str = "left") -> float:
    """Front edge of the plexus behind the disc's centre, mm along the disc."""
    outline = outline_of(body, level)
    middle = (outline.back_mm + outline.front_mm) / 2.0
    return float(min(part.points[:, 1].min() for part in plexus_sections(body, level, side)) - middle)


def plexus_front_edge_down_to(body: Body, level: str, side: str = "left") -> float:
    """The foremost plexus edge of this disc and those above it, as a fraction of the disc's depth."""
    levels = LEVELS_IN_PSOAS[: LEVELS_IN_PSOAS.index(level) + 1]
    return max(plexus_front_edge(body, name, side) for name in levels)


def roots_front_edge(body: Body, side: str = "left") -> float:
    """The foremost point of the L2 to L4 rami, before they divide, as a fraction of the disc that each comes to."""
    found = []
    for root, level in zip(ROOTS, LEVELS_IN_PSOAS[1:], strict=True):
        outline = outline_of(body, level)
        local = outline.frame.local(surface_of(body, f"{root}_ramus_{side}").vertices)
        found.append(outline.fraction(local[int(np.argmin(local[:, 1])), :2]))
    return max(found)


def nerve_at_disc(body: Body, nerve: str, level: str, side: str = "left") -> float:
    """Middle of one nerve as a fraction of the disc's depth."""
    outline = outline_of(body, level)
    parts = nerve_sections(body, f"{nerve}_{side}", level, side)
    if not parts:
        raise AbsentError(f"{nerve}: does not cross the disc's mid-plane beside it.")
    return max(outline.fraction(part.centroid) for part in parts)


def plexus_depth_in_psoas(body: Body, side: str = "left") -> float:
    """How far forward in psoas the plexus reaches, as a fraction of the muscle's depth at L1-2 to L4-5."""
    found = []
    for level in LEVELS_IN_PSOAS:
        muscle = psoas_section(body, level, side)
        back, front = float(muscle.points[:, 1].max()), float(muscle.points[:, 1].min())
        edges = [part.points[:, 1].min() for part in plexus_sections(body, level, side) if _in(part, muscle)]
        found += [(back - float(edge)) / (back - front) for edge in edges]
    return max(found)


def supine_ahead(body: Body, side: str = "left") -> float:
    """How much further forward the plexus lies supine than on the side: the least of L1-2 to L4-5, as a fraction."""
    from dataclasses import replace

    from meshes.body import load_body

    def lying(posture: str) -> Body:
        specimen: Specimen = replace(body.specimen, posture=posture, table_break_deg=0.0, up="")
        return load_body(specimen)

    supine, lateral = lying("supine"), lying("side_lying")
    return min(
        plexus_front_edge(supine, level, side) - plexus_front_edge(lateral, level, side) for level in LEVELS_IN_PSOAS
    )


def free_middle(body: Body, level: str, side: str = "left") -> float:
    """Middle of the stretch of disc between the plexus and the genitofemoral nerve or, failing it, the front border."""
    outline, edge = outline_of(body, level), plexus_front_edge(body, level, side)
    ahead = [1.0]
    for part in nerve_sections(body, f"genitofemoral_{side}", level, side):
        middle = outline.fraction(part.centroid)
        ahead += [middle] if middle > edge else []
    return (edge + min(ahead)) / 2.0


def corridor(body: Body, level: str, side: str = "left") -> float:
    """Shortest distance, mm, in the disc's plane from the great artery on that side to psoas."""
    muscle = psoas_section(body, level, side)
    return min(muscle.gap(part) for part in _vessels(body, ("aorta", f"common_iliac_artery_{side}"), level))


def midline_to_vessel(body: Body, level: str, side: str = "left") -> float:
    """From the midline to the medial border of the nearest common iliac vessel of that side, mm in the disc's plane."""
    names = (f"common_iliac_artery_{side}", f"common_iliac_vein_{side}")
    return min(float((sign_of(side) * part.points[:, 0]).min()) for part in _vessels(body, names, level))


def vessel_to_disc(body: Body, vessel: str, level: str) -> float:
    """Shortest distance, mm, in the disc's plane from a vessel to the disc."""
    disc = cut(body, f"disc_{level_key(level)}", disc_frame(body, level))
    return min(part.gap(disc) for part in _vessels(body, (vessel,), level))


def trunk_medial_of_psoas(body: Body, level: str, side: str = "left") -> float:
    """How far medial of psoas' medial border the middle of the sympathetic trunk lies, mm, as seen from in front."""
    border = float((sign_of(side) * psoas_section(body, level, side).points[:, 0]).min())
    return border - float(sign_of(side) * _trunk(body, level, side).centroid[0])


def trunk_to_psoas(body: Body, level: str, side: str = "left") -> float:
    """Shortest distance, mm, in the disc's plane between sympathetic trunk and psoas."""
    return psoas_section(body, level, side).gap(_trunk(body, level, side))


def trunk_to_aorta(body: Body, level: str, side: str = "left") -> float:
    """Shortest distance, mm, in the disc's plane between sympathetic trunk and the aorta or common iliac artery."""
    trunk = _trunk(body, level, side)
    return min(trunk.gap(part) for part in _vessels(body, ("aorta", f"common_iliac_artery_{side}"), level))


def muscle_area(body: Body, muscle: str, level: str, side: str = "left") -> float:
    """Section area, mm2, of a muscle in the disc's plane."""
    return muscle_section(body, f"{muscle}_{side}", level, side).area


def psoas_border(body: Body, level: str, border: str, side: str = "left") -> float:
    """Inner or outer border of psoas from the midline, mm in the disc's plane."""
    across = sign_of(side) * psoas_section(body, level, side).points[:, 0]
    return float(across.min() if border == "inner" else across.max())


def psoas_border_upright(body: Body, vertebra: str, border: str, side: str = "left") -> float:
    """Inner or outer border of psoas from the midline, mm, in the horizontal plane of a vertebra's centre."""
    frame = Frame(body.landmarks[f"body_{vertebra}_centre"], UPRIGHT.axes)
    loop = nearest_loop(cut(body, f"psoas_major_{side}", frame), np.array([sign_of(side) * 45.0, 0.0]))
    across = sign_of(side) * loop.points[:, 0]
    return float(across.min() if border == "inner" else across.max())


def psoas_width(body: Body, level: str, side: str = "left") -> float:
    """Psoas from its inner to its outer border, mm in the disc's plane."""
    return psoas_border(body, level, "outer", side) - psoas_border(body, level, "inner", side)


def psoas_depth_share(body: Body, level: str, side: str = "left") -> float:
    """Depth of psoas, front to back, in percent of the disc's depth."""
    back = psoas_section(body, level, side).points[:, 1]
    outline = outline_of(body, level)
    return 100.0 * float(back.max() - back.min()) / (outline.back_mm - outline.front_mm)


def muscle_section(body: Body, name: str, level: str, side: str) -> Section:
    """The outline of a muscle in a disc's plane, on its side."""
    return nearest_loop(cut(body, name, disc_frame(body, level)), np.array([sign_of(side) * 45.0, 5.0]))


def psoas_section(body: Body, level: str, side: str) -> Section:
    """The outline of psoas in a disc's plane."""
    return muscle_section(body, f"psoas_major_{side}", level, side)


def plexus_sections(body: Body, level: str, side: str) -> list[Section]:
    """Every plexus nerve where it crosses a disc's plane in psoas or behind and medial to it."""
    parts = [part for name in plexus_nerves(body, side) for part in nerve_sections(body, name, level, side)]
    if not parts:
        raise AbsentError(f"no plexus nerve crosses the plane of {level}.")
    return parts


def plexus_nerves(body: Body, side: str) -> list[str]:
    """What the series call the plexus: rami, divisions and the nerves formed in psoas, genitofemoral left out."""
    named = [f"{v}_ramus_{side}" for v in RAMI] + [f"{name}_{side}" for name in WALL_NERVES]
    group = [s.id for s in body.structures.values() if s.group == "plexus" and s.side == side]
    return [name for name in dict.fromkeys([*named, *group]) if "genitofemoral" not in name]


def nerve_sections(body: Body, name: str, level: str, side: str) -> list[Section]:
    """A nerve's outlines where it crosses a disc's plane, in psoas or between it and the spine."""
    if name not in body.surfaces:
        return []
    frame = disc_frame(body, level)
    if not len(through_plane(line_of(body, name), frame)):
        return []
    outer = psoas_border(body, level, "outer", side) + BESIDE_PSOAS_MM
    loops = [loop for loop in cut(body, name, frame).loops() if loop.area > 0.0]
    return [loop for loop in loops if 0.0 < sign_of(side) * loop.centroid[0] < outer and abs(loop.centroid[1]) < 60.0]


def _in(part: Section, muscle: Section) -> bool:
    return muscle.holds(part.centroid)


def _trunk(body: Body, level: str, side: str) -> Section:
    loops = cut(body, f"sympathetic_trunk_{side}", disc_frame(body, level)).loops()
    return min(loops, key=lambda loop: float(np.linalg.norm(loop.centroid)))


def _vessels(body: Body, names: tuple[str, ...], level: str) -> list[Section]:
    """Outlines of some vessels beside or in front of a disc, in its plane."""
    frame, parts = disc_frame(body, level), []
    for name in names:
        if name in body.surfaces and len(through_plane(line_of(body, name), frame)):
            loops = [loop for loop in cut(body, name, frame).loops() if loop.area > 0.0]
            parts += [loop for loop in loops if np.linalg.norm(loop.centroid) < 70.0]
    if not parts:
        raise AbsentError(f"none of {', '.join(names)} crosses the plane of {level}.")
    return parts
