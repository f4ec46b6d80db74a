"""Labels: what the layout promises, for any anchors."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes.structures import Structure
from viewer.labels import (
    Anchor,
    Columns,
    crosses,
    label_name,
    one_of_each_pair,
    place,
    priority,
    seen_sample,
    spread,
)  # fmt: skip
from viewer.overlay import fitted

COLUMNS = Columns(left_x=200.0, right_x=800.0, top=20.0, bottom=620.0, row=24.0)
anchors = st.lists(
    st.tuples(st.floats(200.0, 800.0), st.floats(0.0, 640.0), st.integers(0, 6), st.booleans()), max_size=70
).map(lambda rows: [Anchor(f"s{i}", f"S {i}", x, y, p, m) for i, (x, y, p, m) in enumerate(rows)])


@given(anchors)
def test_no_labels_overlap_and_none_leaves_the_picture(found: list[Anchor]) -> None:
    labels = place(found, COLUMNS)
    assert len(labels) == min(len(found), 2 * COLUMNS.rows)
    assert len({label.anchor.id for label in labels}) == len(labels)
    for label in labels:
        assert COLUMNS.top + 12 - 1e-6 <= label.text_y <= COLUMNS.bottom - 12 + 1e-6
    for a, b in combinations(labels, 2):
        assert a.column != b.column or abs(a.text_y - b.text_y) >= COLUMNS.row - 1e-6


@given(anchors)
def test_no_leader_lines_of_a_column_cross(found: list[Anchor]) -> None:
    labels = place(found, COLUMNS)
    assert not [1 for a, b in combinations(labels, 2) if a.column == b.column and crosses(a, b)]


@given(anchors)
def test_what_is_marked_and_what_matters_most_is_kept(found: list[Anchor]) -> None:
    kept = {label.anchor.id for label in place(found, COLUMNS)}
    dropped = [a for a in found if a.id not in kept]
    worst = max(((not a.marked, a.priority) for a in found if a.id in kept), default=(False, 0))
    assert all((not a.marked, a.priority) >= worst for a in dropped)


@given(st.lists(st.floats(0.0, 500.0), min_size=1, max_size=20))
def test_spread_keeps_what_has_room_and_is_the_least_move(wanted: list[float]) -> None:
    heights = np.sort(np.array(wanted))
    out = spread(heights, 10.0, -1000.0, 2000.0)
    assert (np.diff(out) >= 10.0 - 1e-6).all()
    if (np.diff(heights) >= 10.0).all():
        assert out == pytest.approx(heights)
    # Least squares under the gaps: no block of neighbours can move as one and do better.
    assert (out - heights).mean() == pytest.approx(0.0, abs=1e-6)


def test_a_pair_is_named_once_and_the_nearer_one_speaks() -> None:
    def pair(kind: str, left_mm: float, right_mm: float, marked: str = "") -> list[str]:
        structures = {f"x_{s}": Structure(f"x_{s}", "X", "X", kind, s) for s in ("left", "right")}  # type: ignore[arg-type]
        found = [
            Anchor("x_left", "X", 0.0, 0.0, 0, marked == "left", left_mm),
            Anchor("x_right", "X", 9.0, 0.0, 0, marked == "right", right_mm),
        ]
        return [a.id for a in one_of_each_pair(found, structures)]

    assert pair("nerve", 100.0, 100.0) == ["x_left"]
    assert pair("muscle", 100.0, 100.0) == ["x_right"]
    assert pair("nerve", 200.0, 100.0) == ["x_right"]
    assert pair("nerve", 100.0, 100.0, marked="right") == ["x_right"]


def test_a_covered_structure_has_no_label_and_a_seen_one_points_at_what_is_seen() -> None:
    drawn = np.full((10, 10), 50.0)
    pixels = np.array([[x, 5.0] for x in np.linspace(0.0, 9.0, 40)])
    assert seen_sample(pixels, np.full(40, 60.0), drawn, (10, 10)) is None
    depth = np.where(pixels[:, 0] > 6.0, 40.0, 60.0)
    best = seen_sample(pixels, depth, drawn, (10, 10))
    assert best is not None
    assert pixels[best, 0] > 6.0
    assert seen_sample(pixels + 100.0, np.zeros(40), drawn, (10, 10)) is None
    assert seen_sample(pixels, depth, drawn, (10, 10), between=(0.0, 0.6)) is None


@pytest.mark.parametrize(
    ("name", "label"),
    [
        ("Femoral nerve", "Femoral n."),
        ("Lateral femoral cutaneous nerve", "Lat. femoral cutaneous n."),
        ("Lateral cutaneous branch of the iliohypogastric nerve", "Iliohypogastric n., lat. cut. br."),
        ("Muscular branches of the femoral nerve", "Femoral n., muscular br."),
        ("Share of L3 in the lateral femoral cutaneous nerve", "L3 to lat. femoral cutaneous"),
        ("Posterior division of L2", "L2, post. div."),
        ("left common iliac artery", "Common iliac a."),
        ("psoas major", "Psoas major"),
        ("L4 vertebra", "L4 vertebra"),
    ],
)
def test_names_are_shortened_as_the_trade_does(name: str, label: str) -> None:
    assert label_name(Structure("x_left", name, name, "nerve", "left")) == label


def test_nerves_come_before_their_branches_and_those_before_what_makes_up_the_plexus() -> None:
    def rank(name: str, group: str = "plexus") -> int:
        nerves = {"femoral", "obturator", "obturator_anterior", "lateral_femoral_cutaneous", "l3_ramus"}
        return priority(Structure(f"{name}_left", name, name, "nerve", "left", group=group), nerves)

    assert rank("femoral") == rank("lateral_femoral_cutaneous") == 0
    ranks = [rank("obturator"), rank("obturator_anterior"), rank("l3_anterior_division"), rank("l3_ramus", "root")]
    assert ranks == sorted(set(ranks))


def test_what_does_not_fit_loses_its_note_first_and_then_its_last_words() -> None:
    def wide(text: str, height: float) -> float:
        return len(text) * height

    assert fitted("Femoral n.", ", touched", 1.0, 19.0, wide) == "Femoral n., touched"
    assert fitted("Femoral n.", ", touched", 1.0, 18.0, wide) == "Femoral n."
    assert fitted("Lat. femoral cutaneous n.", "", 1.0, 18.0, wide) == "Lat. femoral ..."
