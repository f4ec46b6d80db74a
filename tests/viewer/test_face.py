"""The disc face as plain numbers: the picture says of the quarter and of the direction what words and slider say."""

from itertools import pairwise

import numpy as np
import pytest

from meshes.body import Body
from meshes.contact import Docking, Ready, dock
from meshes.portal import approaches, place
from meshes.structures import APPROACHES, LEVELS, SIDES
from viewer.palette import PRINT, THEMES, contrast
from viewer.panels.face import Face, Ground, face_of, runs_right, touched_worst_first
from viewer.panels.facenames import BETWEEN, LINE, Named, broken, placed
from viewer.panels.facepaint import SEEN, rings, spread
from viewer.panels.logmarks import APART, BESIDE, flags
from viewer.panels.portalform import ENDS


def hidden(face: Face, at: float) -> bool:
    """Whether the border turns back: farther round it comes to the same column once more."""
    x = np.interp(at, face.ats, face.border[:, 0])
    later = face.border[face.ats > at + 0.01, 0]
    return bool(later.min() < x < later.max())


ATS = (0.0, 0.05, 0.2, 0.3, 0.45, 0.5, 0.6, 0.7, 0.78, 0.9, 1.0)


@pytest.fixture(scope="module")
def ready(alder: Body) -> Ready:
    return Ready.of(alder)


def docked(ready: Ready, level: str, side: str, approach: str, at: float, radius_mm: float = 11.0) -> Docking:
    return dock(ready.body, place(ready.body, level, side, approach, at, radius_mm), ready)


def faces(ready: Ready, level: str, side: str, approach: str) -> list[tuple[Docking, Face]]:
    dockings = [docked(ready, level, side, approach, at) for at in ATS]
    ground = Ground.of(ready.body, dockings[0].portal)
    return [(d, face_of(ready.body, d, ground)) for d in dockings]


@pytest.mark.parametrize("approach", APPROACHES)
@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("level", LEVELS)
def test_the_circle_is_drawn_in_the_quarter_that_is_told(ready: Ready, level: str, side: str, approach: str) -> None:
    for docking, face in faces(ready, level, side, approach):
        assert face.quarter == docking.portal.quarter
        if approaches()[approach].rim == "front":
            assert not face.bands  # the quarters lie behind one another: words only
            assert not face.borders
            assert face.quarter in face.instead
            continue
        if not face.bands:
            assert approach == "oblique"
            # Only where the end of the axis is hidden: another place of the border is drawn right there.
            assert hidden(face, docking.portal.at)
            assert face.instead == f"quarter {face.quarter} (behind the edge)"
            continue
        here = [b.quarter for b in face.bands if b.left - 1e-6 <= face.centre[0] <= b.right + 1e-6]
        assert docking.portal.quarter in here, (docking.portal.at, face.centre, face.bands)
        assert len(face.borders) == len(face.bands) - 1
        for border, before, after in zip(face.borders, face.bands[:-1], face.bands[1:], strict=True):
            assert border[0, 0] == border[1, 0] == before.right == after.left
            assert border[0, 1] < border[1, 1]
            numbers = [("IV", "III", "II", "I").index(b.quarter) for b in (before, after)]
            assert abs(numbers[0] - numbers[1]) == 1


@pytest.mark.parametrize("approach", APPROACHES)
@pytest.mark.parametrize("side", SIDES)
def test_the_face_tells_which_way_the_slider_runs(ready: Ready, side: str, approach: str) -> None:
    face = faces(ready, "L4-5", side, approach)[0][1]
    to_the_right = face.columns[-1] > face.columns[0]
    assert runs_right(approach, side) == to_the_right
    assert face.ends == (ENDS[approach] if to_the_right else ENDS[approach][::-1])


@pytest.mark.parametrize("approach", APPROACHES)
def test_a_hand_reaches_every_place_and_none_twice(ready: Ready, approach: str) -> None:
    face = faces(ready, "L4-5", "right", approach)[0][1]
    steps = np.diff(face.columns)
    assert (steps > 0.0).all() or (steps < 0.0).all()
    front = face.ats >= 0.5
    assert face.columns[front] == pytest.approx(face.border[front, 0])


def test_what_is_not_touched_keeps_its_shape_while_the_portal_moves(ready: Ready) -> None:
    for approach in APPROACHES:
        first, *rest = [f for _, f in faces(ready, "L4-5", "left", approach)]
        still = {s.contact.id: s for s in first.lines if not s.contact.touched}
        assert len(still) > 5
        for face in rest:
            now = {s.contact.id: s for s in face.lines if not s.contact.touched}
            for n in still.keys() & now.keys():
                np.testing.assert_array_equal(still[n].before, now[n].before)
                np.testing.assert_array_equal(still[n].behind, now[n].behind)


@pytest.mark.parametrize(
    ("approach", "side", "level", "at"),
    [("anterior", "left", "L4-5", 0.5), ("oblique", "left", "L4-5", 0.5), ("oblique", "right", "L1-2", 0.5),
     ("lateral", "right", "L4-5", 0.35), ("posterolateral", "left", "L4-5", 0.0)],
)  # fmt: skip
def test_all_that_is_touched_is_shown_within_the_circle(
    ready: Ready, approach: str, side: str, level: str, at: float
) -> None:
    """A line that a portal touches passes the drawn circle, within the line's own thickness."""
    docking = docked(ready, level, side, approach, at)
    face = face_of(ready.body, docking)
    drawn = {s.contact.id: s for s in face.lines if s.contact.touched}
    shapes = {c.id for c, _ in face.shapes}
    assert drawn.keys() | shapes == {c.id for c in touched_worst_first(docking)}
    for line in drawn.values():
        points = np.concatenate([line.before, line.behind])
        away = np.linalg.norm(points[:, :2] - face.centre, axis=1) - points[:, 2]
        assert np.nanmin(away) < docking.portal.radius_mm + 2.0  # steps along a line are up to 4 mm
    if approach != "lateral":
        kinds = {c.structure.kind for c in touched_worst_first(docking)}
        assert kinds & {"vessel", "viscus"} or approach == "posterolateral"


@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)
@pytest.mark.parametrize("name", ["nerve", "dura", "artery", "vein", "kidney", "ureter"])
def test_a_touched_rim_stands_out_from_what_it_rings_and_from_the_ground(theme: object, name: str) -> None:
    from viewer.palette import Theme

    assert isinstance(theme, Theme)
    layers = [PRINT[name], *rings(PRINT[name], theme, theme.background), theme.background]
    for inner, outer in pairwise(layers):
        assert contrast(inner, outer) >= SEEN


# --- where words stand


def width(words: str) -> float:
    return 6.0 * len(words)


def test_names_are_whole_stay_apart_and_the_rest_is_counted() -> None:
    named = [Named(f"Nerve {'of length ' * (k % 3)}{k}", np.array([[40.0 + 9.0 * k, 10.0 * k]])) for k in range(14)]
    found = placed(named, 80.0, 130.0, 100.0, 13.0, width)
    assert found.placed
    assert found.more == len(named) - len(found.placed) > 0
    words = {" ".join(name.lines) for name in found.placed}
    assert words <= {" ".join(one.words.split()) for one in named}
    for side in ("left", "right"):
        tall = [(n.y, LINE * len(n.lines) * 13.0) for n in found.placed if n.column == side]
        tall.sort()
        for (y, height), (z, below) in pairwise(tall):
            assert y + height / 2.0 + BETWEEN * 13.0 <= z - below / 2.0 + 1e-6
        free = LINE * 13.0 if side == "left" else 0.0
        for y, height in tall:
            assert height / 2.0 <= y + 1e-6
            assert y + height / 2.0 <= 130.0 - free + 1e-6


def test_a_word_that_does_not_fit_is_not_cut() -> None:
    assert broken("Lateral femoral", 30.0, width) == ()
    assert broken("Lateral femoral", 60.0, width) == ("Lateral", "femoral")
    assert broken("Lateral femoral", 90.0, width) == ("Lateral femoral",)


def test_numerals_move_apart_from_the_one_that_stays() -> None:
    assert spread([10.0, 12.0, 40.0], [8.0, 8.0, 8.0], 2) == [4.0, 12.0, 40.0]
    assert spread([10.0, 14.0, 16.0], [8.0, 8.0, 8.0], 0) == [10.0, 18.0, 26.0]


def test_flags_are_over_no_other_and_no_pole_passes_words() -> None:
    marks = [(x, f"name {k}") for k, x in enumerate([50.0, 52.0, 90.0, 91.0, 93.0, 300.0, 395.0, 2.0])]
    found = flags(marks, 400.0, width)
    assert {0, 1, 2, 5, 6} <= {f.index for f in found}
    spans = [(f.row, f.left, f.left + width(f.words), f.x) for f in found]
    for i, (row, left, right, x) in enumerate(spans):
        assert left >= 0.0
        assert right <= 400.0
        assert min(abs(left - x), abs(right - x)) == pytest.approx(BESIDE)
        for other, a, b, pole in spans[:i] + spans[i + 1 :]:
            if other == row:
                assert b + APART <= left or right + APART <= a
            if row == "lower" and other == "upper":
                assert not left < pole < right
