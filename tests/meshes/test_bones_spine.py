"""The spine as built from its tables: measured on the surfaces, and nothing runs into its neighbour."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from meshes.curves import Array
from meshes.landmarks import Landmarks, place_landmarks
from meshes.solidtable import Solid, build_row, read_solids
from meshes.spine import STACK, quantities, spine_frames
from meshes.surfaces import Faces, Surface
from meshes.tables import ANATOMY

VERTEBRAE = tuple(v for v, _ in reversed(STACK))
LUMBAR = VERTEBRAE[2:]
DISCS = tuple(d for _, d in reversed(STACK))
RIBS = ("rib_11_left", "rib_12_left")
LIGAMENT = "anterior_longitudinal_ligament"
PAIRS = tuple(pairwise(VERTEBRAE))
#: A surface is taken from a grid of 0.9 mm, softened by 0.6 mm and thinned: edges come out rounded by up to this much.
BUILT_MM = 1.0
FACES_MAX = {"t": 6500, "l": 6500, "d": 2600, "r": 2500, "a": 6000}


@pytest.fixture(scope="module")
def landmarks() -> Landmarks:
    return place_landmarks(spine_frames())


@pytest.fixture(scope="module")
def spine(landmarks: Landmarks) -> dict[str, Solid]:
    built: dict[str, Solid] = {}
    for row in read_solids(ANATOMY / "bones_spine.toml"):
        built[row.structure.id] = build_row(row, landmarks, built, {})
    return built


def hits(surface: Surface, origin: Array, direction: Array) -> Array:
    """Distances (k,), mm, in order, at which a ray from `origin` (3,) along a unit `direction` (3,) meets a surface.

    A ray through an edge, as in the midplane, meets it once.
    """
    a, b, c = np.moveaxis(surface.triangles(), 1, 0)
    ab, ac = b - a, c - a
    across = np.cross(direction, ac)
    volume = np.einsum("ij,ij->i", ab, across)
    scale = np.where(np.abs(volume) < 1e-12, np.inf, volume)
    offset = origin - a
    u = np.einsum("ij,ij->i", offset, across) / scale
    turned = np.cross(offset, ab)
    v = turned @ direction / scale
    far = np.einsum("ij,ij->i", ac, turned) / scale
    met = np.sort(far[(u >= -1e-9) & (v >= -1e-9) & (u + v <= 1 + 1e-9) & (far > 0) & np.isfinite(scale)])
    return met[np.diff(met, prepend=-1.0) > 1e-6]


def cast(solid: Solid, landmarks: Landmarks, frame: str, place: tuple[float, float, float], toward: Array) -> Array:
    """`hits` for a place and a direction given along a frame's own left, back and up."""
    at = landmarks.frames[frame]
    unit = toward @ at.axes / np.linalg.norm(toward)
    return hits(solid.surface, at.point(*place), unit)


LEFT, BACK, UP = np.eye(3)


def local(solid: Solid, landmarks: Landmarks, frame: str) -> Array:
    return landmarks.frames[frame].local(solid.surface.vertices)


def pieces(surface: Surface) -> int:
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    i, j = surface.faces[:, 0], surface.faces[:, 1]
    rows, columns = np.concatenate([i, j]), np.concatenate([j, surface.faces[:, 2]])
    count = len(surface.vertices)
    return int(connected_components(coo_matrix((np.ones(len(rows)), (rows, columns)), shape=(count, count)))[0])


def from_lowest(faces: Faces) -> set[tuple[int, ...]]:
    """Faces as a set, each told from its lowest corner on."""
    return {tuple(np.roll(face, -int(np.argmin(face)))) for face in faces}


def apart(one: Solid, other: Solid) -> float:
    """Least distance, mm, between two surfaces; 0 where they cross."""
    import fcl

    def model(solid: Solid) -> Any:
        bvh = fcl.BVHModel()
        bvh.beginModel(len(solid.surface.vertices), len(solid.surface.faces))
        bvh.addSubModel(solid.surface.vertices, solid.surface.faces)
        bvh.endModel()
        return fcl.CollisionObject(bvh, fcl.Transform())

    return max(0.0, float(fcl.distance(model(one), model(other), fcl.DistanceRequest(), fcl.DistanceResult())))


@pytest.mark.parametrize("name", [*VERTEBRAE, *DISCS, *RIBS, LIGAMENT])
def test_every_solid_is_closed_in_one_piece_and_not_too_heavy(spine: dict[str, Solid], name: str) -> None:
    surface = spine[name].surface
    assert surface.is_closed()
    assert surface.volume() > 0
    assert pieces(surface) == 1
    assert len(surface.faces) <= FACES_MAX[name[0]]


@pytest.mark.parametrize("name", [*VERTEBRAE, *DISCS, LIGAMENT])
def test_what_stands_in_the_midline_is_its_own_mirror_image(spine: dict[str, Solid], name: str) -> None:
    from scipy.spatial import cKDTree

    surface, twin = spine[name].surface, spine[name].surface.mirrored()
    distance, index = cKDTree(surface.vertices).query(twin.vertices)
    assert distance.max() == 0.0
    assert from_lowest(index[twin.faces]) == from_lowest(surface.faces)


@pytest.mark.parametrize("vertebra", VERTEBRAE)
@pytest.mark.parametrize("end", ["upper", "lower"])
def test_endplates_measure_what_the_table_says(
    spine: dict[str, Solid], landmarks: Landmarks, vertebra: str, end: str
) -> None:
    size, points = quantities(), local(spine[vertebra], landmarks, vertebra)
    sign, height = (1.0 if end == "upper" else -1.0), size[vertebra, "height_mm"]
    body = points[(points[:, 1] < 4.0) & (np.abs(points[:, 2] - sign * height * 0.42) < 0.12 * height)]
    width = 2.0 * body[:, 0].max()
    assert width == pytest.approx(size[vertebra, f"{end}_width_mm"], abs=BUILT_MM)
    rim = sign * (0.5 * height - 2.2)
    start = (0.0, -60.0, rim)
    front, back = cast(spine[vertebra], landmarks, vertebra, start, BACK)[:2]
    assert back - front == pytest.approx(size[vertebra, f"{end}_depth_mm"], abs=BUILT_MM)


@pytest.mark.parametrize("vertebra", VERTEBRAE)
@pytest.mark.parametrize("end", ["anterior", "posterior"])
def test_bodies_stand_as_high_as_the_table_says(
    spine: dict[str, Solid], landmarks: Landmarks, vertebra: str, end: str
) -> None:
    size = quantities()
    sign = -1.0 if end == "anterior" else 1.0
    # Callipers stand on the ring of the endplate, 1.8 mm inside its edge.
    inside = 1.8 / (0.5 * size[vertebra, "depth_mm"])
    back = sign * (1.0 - inside) * 0.5 * size[vertebra, "depth_mm"]
    mean = 0.5 * (size[vertebra, "anterior_height_mm"] + size[vertebra, "posterior_height_mm"])
    expected = mean + (size[vertebra, f"{end}_height_mm"] - mean) * (1.0 - inside)
    first, last = cast(spine[vertebra], landmarks, vertebra, (0.0, back, -60.0), UP)[[0, -1]]
    assert last - first == pytest.approx(expected, abs=BUILT_MM)


@pytest.mark.parametrize("vertebra", VERTEBRAE)
def test_endplates_are_hollow_inside_their_ring_and_bodies_waisted(
    spine: dict[str, Solid], landmarks: Landmarks, vertebra: str
) -> None:
    size = quantities()
    through = np.ptp(cast(spine[vertebra], landmarks, vertebra, (0.0, 0.0, -60.0), UP)[[0, -1]])
    # shallow: the published middle height of a disc takes in the hollows above and below it
    assert 1.0 < size[vertebra, "height_mm"] - through < 2.5
    waist = np.ptp(cast(spine[vertebra], landmarks, vertebra, (-80.0, -2.0, 0.0), LEFT)[[0, -1]])
    assert 0.8 < waist / size[vertebra, "upper_width_mm"] < 0.97
    points = local(spine[vertebra], landmarks, vertebra)
    ring = points[np.abs(points[:, 2] - 0.42 * size[vertebra, "height_mm"]) < 1.5]
    ring = ring[ring[:, 1] < 0.5 * size[vertebra, "depth_mm"] + 4.0]
    corner = ring[np.abs(np.abs(ring[:, 0]) - 8.5) < 2.0, 1].max()
    middle = ring[np.abs(ring[:, 0]) < 2.0, 1].max()
    assert corner > middle + 0.3, "the back wall is hollow from side to side"


@pytest.mark.parametrize("vertebra", VERTEBRAE)
def test_the_canal_is_open_and_as_wide_and_deep_as_the_table_says(
    spine: dict[str, Solid], landmarks: Landmarks, vertebra: str
) -> None:
    size, solid = quantities(), spine[vertebra]
    middle = 0.5 * size[vertebra, "depth_mm"] + 0.5 * size[vertebra, "canal_depth_mm"]
    assert len(cast(solid, landmarks, vertebra, (0.0, middle, -80.0), UP)) == 0
    pedicle = landmarks.frames[vertebra].local(landmarks[f"pedicle_{vertebra}_left"])
    width = 2.0 * cast(solid, landmarks, vertebra, (0.0, pedicle[1], pedicle[2]), LEFT)[0]
    assert width == pytest.approx(size[vertebra, "canal_width_mm"], abs=BUILT_MM)
    depths = []
    for up in np.arange(-0.5 * size[vertebra, "lamina_down_mm"], 0.1 * size[vertebra, "height_mm"], 1.0):
        place = (0.0, middle, float(up))
        forward, backward = (cast(solid, landmarks, vertebra, place, d)[0] for d in (-BACK, BACK))
        depths.append(forward + backward)
    assert min(depths) == pytest.approx(size[vertebra, "canal_depth_mm"], abs=BUILT_MM)


@pytest.mark.parametrize("vertebra", VERTEBRAE)
def test_pedicles_are_as_wide_and_high_as_the_table_says(
    spine: dict[str, Solid], landmarks: Landmarks, vertebra: str
) -> None:
    size, solid = quantities(), spine[vertebra]
    at = landmarks.frames[vertebra].local(landmarks[f"pedicle_{vertebra}_left"])
    high = sum(cast(solid, landmarks, vertebra, tuple(at), d)[0] for d in (UP, -UP))
    assert high == pytest.approx(size[vertebra, "pedicle_height_mm"], abs=2.0 * BUILT_MM)
    if vertebra != "l5":  # there the transverse process takes up the whole outer side
        wide = sum(cast(solid, landmarks, vertebra, tuple(at), d)[0] for d in (LEFT, -LEFT))
        assert wide == pytest.approx(size[vertebra, "pedicle_width_mm"], abs=2.0 * BUILT_MM)
    assert at[2] > 0.0, "from the upper half of the body"


@pytest.mark.parametrize("vertebra", VERTEBRAE)
def test_processes_end_at_their_landmarks(spine: dict[str, Solid], landmarks: Landmarks, vertebra: str) -> None:
    solid, points = spine[vertebra], local(spine[vertebra], landmarks, vertebra)
    for name in (f"transverse_process_tip_{vertebra}_left", f"spinous_tip_{vertebra}"):
        assert np.linalg.norm(solid.surface.vertices - landmarks[name], axis=1).min() < 2.5
        assert abs(solid.field.at(landmarks[name][None])[0]) < BUILT_MM
    tip = landmarks.frames[vertebra].local(landmarks[f"transverse_process_tip_{vertebra}_left"])
    assert points[:, 0].max() == pytest.approx(max(tip[0], points[points[:, 1] < 10.0, 0].max()), abs=BUILT_MM)
    assert points[:, 1].max() == pytest.approx(quantities()[vertebra, "spinous_back_mm"], abs=BUILT_MM)


def test_transverse_processes_are_longest_at_l3_and_reach_widest_at_l5(
    spine: dict[str, Solid], landmarks: Landmarks
) -> None:
    span = {v: 2.0 * local(spine[v], landmarks, v)[:, 0].max() for v in LUMBAR}
    # Spans and their order: Panjabi MM et al. Spine 1992;17(3):299-306, from memory.
    assert max(span, key=lambda v: span[v]) == "l5"
    assert max(LUMBAR[:-1], key=lambda v: span[v]) == "l3"
    assert 70.0 < min(span.values()) < max(span.values()) < 96.0


@pytest.mark.parametrize(("above", "below"), PAIRS)
def test_vertebrae_keep_apart_and_meet_in_narrow_joints(
    spine: dict[str, Solid], landmarks: Landmarks, above: str, below: str
) -> None:
    # Space between the bones of a joint, cartilage of both sides included: 1-3 mm, from memory.
    assert 0.8 < apart(spine[above], spine[below]) < 2.5
    joint = dict(STACK)[above].removeprefix("disc_")
    inner, outer = landmarks[f"facet_{joint}_in_left"], landmarks[f"facet_{joint}_out_left"]
    # From the middle of the upper bone's process outwards: out of the one, into the other.
    start = 0.7 * landmarks[f"facet_{joint}_left"] + 0.3 * inner
    way = (outer - start) / np.linalg.norm(outer - start)
    leaves, enters = hits(spine[above].surface, start, way)[0], hits(spine[below].surface, start, way)[0]
    assert 0.8 < enters - leaves < 2.5


def test_spines_processes_and_bodies_of_all_vertebrae_stay_clear_of_all_others(spine: dict[str, Solid]) -> None:
    for i, one in enumerate(VERTEBRAE):
        for other in VERTEBRAE[i + 2 :]:
            assert apart(spine[one], spine[other]) > 5.0


@pytest.mark.parametrize(("above", "below"), PAIRS)
def test_foramina_are_open_below_the_pedicle(
    spine: dict[str, Solid], landmarks: Landmarks, above: str, below: str
) -> None:
    """A root of the thickness of a pencil lead leaves straight to the side in the upper part of the foramen."""
    pedicle = landmarks.frames[above].local(landmarks[f"pedicle_{above}_left"])
    down = 0.5 * quantities()[above, "pedicle_height_mm"] + 3.5
    way = np.stack(
        [landmarks.frames[above].point(x, pedicle[1] + 0.5, pedicle[2] - down) for x in np.linspace(0.0, 30.0, 61)]
    )
    room = np.minimum(spine[above].field.at(way), spine[below].field.at(way))
    assert room.min() > 2.0


@pytest.mark.parametrize("disc", DISCS)
def test_discs_reach_their_landmarks(spine: dict[str, Solid], landmarks: Landmarks, disc: str) -> None:
    size = quantities()
    places = {
        "left": (LEFT, 0.5 * size[disc, "width_mm"]), "right": (-LEFT, 0.5 * size[disc, "width_mm"]),
        "anterior": (-BACK, 0.5 * size[disc, "depth_mm"]), "posterior": (BACK, 0.5 * size[disc, "depth_mm"]),
    }  # fmt: skip
    for word, (way, half) in places.items():
        assert np.linalg.norm(landmarks[f"{disc}_{word}"] - landmarks[f"{disc}_centre"]) == pytest.approx(half)
        (reach,) = cast(spine[disc], landmarks, disc, (0.0, 0.0, 0.0), way)
        assert reach == pytest.approx(half, abs=0.7)


@pytest.mark.parametrize(("vertebra", "disc"), STACK)
def test_discs_fill_the_space_between_endplates_without_crossing_them(
    spine: dict[str, Solid], landmarks: Landmarks, vertebra: str, disc: str
) -> None:
    neighbours = [(vertebra, UP)]
    if disc != DISCS[-1]:
        neighbours.append((STACK[[d for _, d in STACK].index(disc) - 1][0], -UP))
    for bone, way in neighbours:
        assert 0.05 < apart(spine[bone], spine[disc]) < 0.6
        for place in ((0.0, 0.0, 0.0), (12.0, -4.0, 0.0), (0.0, -9.0, 0.0)):
            disc_ends = cast(spine[disc], landmarks, disc, place, way)[0]
            assert 0.0 < cast(spine[bone], landmarks, disc, place, way)[0] - disc_ends < 0.7


def test_the_lowest_disc_ends_flat_above_the_sacrum(spine: dict[str, Solid], landmarks: Landmarks) -> None:
    axes = landmarks.frames["disc_l5_s1"].axes
    from meshes.spine import rotation, spine_table

    upright = rotation(spine_table()("s1", "slope_deg"))[2]
    assert float(upright @ axes[2]) > 0.98
    above = spine["disc_l5_s1"].surface.vertices @ upright
    assert 0.0 < above.min() < 0.4


def centre_line(surface: Surface, start: Array, count: int = 30) -> Array:
    """Points (count, 3) along the middle of a long thin solid: centres of its vertices by their way from `start`."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import dijkstra

    edges = np.concatenate([surface.faces[:, [0, 1]], surface.faces[:, [1, 2]], surface.faces[:, [2, 0]]])
    length = np.linalg.norm(np.diff(surface.vertices[edges], axis=1)[:, 0], axis=1)
    n = len(surface.vertices)
    graph = coo_matrix((length, (edges[:, 0], edges[:, 1])), shape=(n, n)).tocsr()
    first = int(np.argmin(np.linalg.norm(surface.vertices - start, axis=1)))
    way = dijkstra(graph, indices=first)
    shelf = np.minimum((way / way.max() * count).astype(int), count - 1)
    return np.stack([surface.vertices[shelf == k].mean(axis=0) for k in range(count)])


@pytest.mark.parametrize(
    ("rib", "along_mm", "chord_mm"),
    [
        # Aubert J et al. J Urol (Paris) 1981;87:283-289 and the old Cyclopaedia's Table A built these; a mean without
        # spread. The middle line is some 3 % shorter than a tape laid over the outer face.
        ("rib_12", 110.0, 92.0),
        ("rib_11", 209.6, 149.9),
    ],
)
def test_ribs_are_as_long_as_published(
    spine: dict[str, Solid], landmarks: Landmarks, rib: str, along_mm: float, chord_mm: float
) -> None:
    head, tip = landmarks[f"{rib}_head_left"], landmarks[f"{rib}_tip_left"]
    surface = spine[f"{rib}_left"].surface
    line = centre_line(surface, head)
    ends = np.linalg.norm(line[0] - head) + np.linalg.norm(line[-1] - tip)
    along = np.linalg.norm(np.diff(line, axis=0), axis=1).sum() + ends
    assert along == pytest.approx(along_mm, rel=0.06)
    assert np.linalg.norm(tip - head) == pytest.approx(chord_mm, abs=3.0)
    assert np.linalg.norm(surface.vertices - tip, axis=1).min() < 2.0


def test_rib_12_slopes_down_at_about_45_degrees(spine: dict[str, Solid]) -> None:
    points = spine["rib_12_left"].surface.vertices
    across, up = points[points[:, 0].argmax()] - points[points[:, 2].argmax()], np.array([0.0, 0.0, -1.0])
    slope = np.degrees(np.arctan2(across @ up, across[0]))
    assert slope == pytest.approx(45.0, abs=5.0)


@pytest.mark.parametrize(("rib", "vertebra"), [("rib_11_left", "t11"), ("rib_12_left", "t12")])
def test_ribs_touch_their_vertebra_and_nothing_else(spine: dict[str, Solid], rib: str, vertebra: str) -> None:
    assert 0.05 < apart(spine[rib], spine[vertebra]) < 0.9
    for other in VERTEBRAE:
        if other != vertebra:
            assert apart(spine[rib], spine[other]) > 2.0
    assert apart(spine["rib_11_left"], spine["rib_12_left"]) > 5.0


def test_ribs_bar_the_lateral_way_to_l1_2_but_not_to_l2_3(spine: dict[str, Solid], landmarks: Landmarks) -> None:
    """The usual rule of lateral access, common practice: at L1-2 the portal goes between or through ribs."""
    bone = np.concatenate([spine[rib].surface.triangles().reshape(-1, 3) for rib in RIBS])

    def beside(disc: str, front: float) -> float:
        centre = landmarks[f"{disc}_centre"]
        return float(np.hypot(bone[:, 1] - centre[1] - front, bone[:, 2] - centre[2]).min())

    for front in (-12.0, 0.0, 10.0):
        assert beside("disc_l1_2", front) < 11.0
        assert beside("disc_l2_3", front) > 11.0 + 2.0
        assert beside("disc_l3_4", front) > 11.0 + 20.0


def test_the_ligament_is_a_thin_band_on_every_body_and_disc(spine: dict[str, Solid], landmarks: Landmarks) -> None:
    band = spine[LIGAMENT].surface
    under = np.min([spine[name].field.at(band.vertices) for name in (*VERTEBRAE, *DISCS)], axis=0)
    assert under.min() > -0.15
    assert under.max() < 2.5
    for name in (*VERTEBRAE, *DISCS):
        assert apart(spine[name], spine[LIGAMENT]) < 0.5
        centre = f"body_{name}_centre" if name in VERTEBRAE else f"{name}_centre"
        frame = landmarks.frame_of[centre]
        thick = np.diff(cast(spine[LIGAMENT], landmarks, frame, (0.0, 0.0, 0.0), -BACK))
        assert len(thick) == 1
        assert 0.8 < thick[0] < 2.4
        # As broad as a finger, from memory: 20-25 mm.
        across = np.abs(landmarks.frames[frame].local(band.vertices))
        assert 10.0 < across[across[:, 2] < 3.0, 0].max() < 16.5


def test_the_ligament_runs_smoothly_over_bodies_and_discs(spine: dict[str, Solid]) -> None:
    """A strap with two straight edges: neither its front nor its edges step at the rims of the bodies."""
    band = spine[LIGAMENT].surface
    heights = np.arange(5.0, 200.0)
    front = np.array([hits(band, np.array([0.01, -200.0, z]), BACK)[0] for z in heights])
    assert np.abs(front[6:] - 2.0 * front[3:-3] + front[:-6]).max() < 1.5
    edge = np.array([np.abs(band.vertices[np.abs(band.vertices[:, 2] - z) < 1.5, 0]).max() for z in heights])
    assert np.abs(edge[15:-15] - (edge[:-30] + edge[30:]) / 2.0).max() < 1.6
