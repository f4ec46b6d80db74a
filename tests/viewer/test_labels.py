"""Labels: what the layout promises, for any anchors."""

from collections import Counter
from dataclasses import replace
from itertools import combinations
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.view import LANGUAGES, View
from meshes.body import Body, load_body
from meshes.specimen import Specimen
from meshes.structures import Structure
from viewer.columns import (
    MOST,
    Columns,
    Label,
    column_width,
    columns_beside,
    crosses,
    fitting,
    lay_out,
    spread,
    wrapped,
)
from viewer.labels import (
    APART,
    BRANCH,
    Anchor,
    is_enough,
    is_small,
    label_name,
    one_of_each_pair,
    point_at,
    priority,
    seen_samples,
)
from viewer.seen import ranked

COLUMNS = Columns(left_x=200.0, right_x=800.0, top=20.0, left_bottom=480.0, right_bottom=600.0, text=20.0, room=180.0)
NAMES = (
    "Psoas major",
    "Iliohypogastric n., lat. cut. br.",
    "L3 contribution to lat. femoral cutaneous n.",
    "Genitofemoral n.",
)


def wide(text: str, height: float) -> float:
    return 0.5 * len(text) * height


def anchors_named(names: tuple[str, ...]) -> st.SearchStrategy[list[Anchor]]:
    rows = st.tuples(
        st.floats(200.0, 800.0), st.floats(0.0, 640.0), st.integers(0, 6), st.booleans(), st.sampled_from(names)
    )
    return st.lists(rows, max_size=50).map(
        lambda found: [Anchor(f"s{i:02}", name, x, y, p, m) for i, (x, y, p, m, name) in enumerate(found)]
    )


anchors, short = anchors_named(NAMES), anchors_named(NAMES[:1])


def edges(label: Label) -> tuple[float, float]:
    return label.text_y - label.height / 2.0, label.text_y + label.height / 2.0


@given(anchors)
def test_no_labels_overlap_and_none_leaves_the_picture(found: list[Anchor]) -> None:
    labels, text = lay_out(found, COLUMNS, wide)
    assert text == COLUMNS.text
    assert len({label.anchor.id for label in labels}) == len(labels)
    for label in labels:
        above, below = edges(label)
        assert above >= COLUMNS.top - 1e-6
        assert below <= (COLUMNS.left_bottom if label.column == "left" else COLUMNS.right_bottom) + 1e-6
        assert label.height >= len(label.lines) * text
        assert max(wide(line, text) for line in label.lines) <= COLUMNS.room
    for a, b in combinations(labels, 2):
        (above, below), (top, bottom) = edges(a), edges(b)
        assert a.column != b.column or below <= top + 1e-6 or bottom <= above + 1e-6
    assert all(sum(label.column == side for label in labels) <= MOST for side in ("left", "right"))


@given(anchors)
def test_no_name_is_cut(found: list[Anchor]) -> None:
    labels, _ = lay_out(found, COLUMNS, wide)
    assert all(" ".join(label.lines) == label.anchor.words for label in labels)


@given(anchors)
def test_no_leader_lines_cross(found: list[Anchor]) -> None:
    labels, _ = lay_out(found, COLUMNS, wide)
    assert not [1 for a, b in combinations(labels, 2) if crosses(a, b)]


@given(short)
def test_what_matters_most_is_kept_and_nothing_is_left_out_that_has_room(found: list[Anchor]) -> None:
    kept = [label.anchor for label in lay_out(found, COLUMNS, wide)[0]]
    ranked = sorted(found, key=lambda a: a.rank)
    assert sorted(kept, key=lambda a: a.rank) == ranked[: len(kept)]
    row = COLUMNS.height(1)
    room = [min(MOST, int((b - COLUMNS.top) // row)) for b in (COLUMNS.left_bottom, COLUMNS.right_bottom)]
    assert len(kept) == min(len(found), sum(room))


@given(anchors, st.integers(0, 49))
def test_what_is_traced_is_always_named(found: list[Anchor], which: int) -> None:
    if not found:
        return
    traced = replace(found[which % len(found)], traced=True, marked=True)
    others = [a for a in found if a.id != traced.id]
    assert traced.id in {label.anchor.id for label in lay_out([*others, traced], COLUMNS, wide)[0]}


@given(anchors, st.randoms(use_true_random=False))
def test_the_layout_does_not_ask_in_which_order_things_were_found(found: list[Anchor], chance: Random) -> None:
    again = list(found)
    chance.shuffle(again)
    assert lay_out(again, COLUMNS, wide) == lay_out(found, COLUMNS, wide)


wanted_and_heights = st.lists(st.tuples(st.floats(0.0, 500.0), st.floats(5.0, 40.0)), min_size=1, max_size=20)


@given(wanted_and_heights)
def test_spread_keeps_what_has_room_and_is_the_least_move(rows: list[tuple[float, float]]) -> None:
    wanted, heights = np.sort(np.array([w for w, _ in rows])), np.array([h for _, h in rows])
    gaps = (heights[1:] + heights[:-1]) / 2.0
    out = spread(wanted, heights, -2000.0, 3000.0)
    assert (np.diff(out) >= gaps - 1e-6).all()
    if (np.diff(wanted) >= gaps).all():
        assert out == pytest.approx(wanted)
    # Least squares under the gaps: no block of neighbours can move as one and do better.
    starts = np.flatnonzero(np.concatenate([[True], np.diff(out) > gaps + 1e-6]))
    for block in np.split(out - wanted, starts[1:]):
        assert block.mean() == pytest.approx(0.0, abs=1e-6)


@given(wanted_and_heights, st.floats(0.0, 300.0))
def test_spread_stays_within_bounds_and_twice_is_once(rows: list[tuple[float, float]], spare: float) -> None:
    wanted, heights = np.sort(np.array([w for w, _ in rows])), np.array([h for _, h in rows])
    top, bottom = 30.0, 30.0 + heights.sum() + spare
    out = spread(wanted, heights, top, bottom)
    assert out[0] - heights[0] / 2.0 >= top - 1e-6
    assert out[-1] + heights[-1] / 2.0 <= bottom + 1e-6
    assert (np.diff(out) >= (heights[1:] + heights[:-1]) / 2.0 - 1e-6).all()
    assert spread(out, heights, top, bottom) == pytest.approx(out, abs=1e-6)


@pytest.mark.parametrize(
    ("name", "lines"),
    [
        ("Femoral n., touched", ("Femoral n., touched",)),
        ("Obturator n., touched", ("Obturator n.,", "touched")),
        ("Subcostal n., lat. cut. br., touched", ("Subcostal n.,", "lat. cut. br., touched")),
        ("Lat. femoral cutaneous n.", ("Lat. femoral", "cutaneous n.")),
        ("R. femoralis n. genitofemoralis", ("R. femoralis", "n. genitofemoralis")),
        ("Sternocleidomastoid-like n.", ("Sternocleidomastoid-like", "n.")),
    ],
)
def test_a_long_name_goes_on_after_a_comma_or_where_lines_are_short(name: str, lines: tuple[str, ...]) -> None:
    room = 22.0 if "lat." in name else 19.0
    assert wrapped(name, replace(COLUMNS, text=1.0, room=room / 2.0), wide) == lines


def test_letters_shrink_for_a_word_that_is_too_long_and_for_nothing_else() -> None:
    assert fitting(NAMES, COLUMNS, wide) == COLUMNS
    narrow = fitting(NAMES, replace(COLUMNS, room=120.0), wide)
    assert wide("Iliohypogastric", narrow.text) == pytest.approx(120.0)


@given(st.floats(300.0, 4000.0), st.floats(8.0, 60.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_columns_leave_the_body_its_place_and_come_near_a_narrow_one(
    width: float, text: float, low: float, share: float
) -> None:
    body = (low * width, (low + (1.0 - low) * share) * width)
    columns = columns_beside(width, 0.0, (500.0, 500.0), text, body)
    assert column_width(width, text) <= columns.left_x <= width / 2.0 <= columns.right_x
    assert columns.right_x <= width - column_width(width, text)
    assert 0.0 < columns.room < min(columns.left_x, width - columns.right_x)
    assert columns.left_x <= max(body[0], column_width(width, text))
    assert columns.right_x >= min(body[1], width - column_width(width, text))


def test_a_pair_is_named_once_and_the_nearer_one_speaks() -> None:
    def pair(kind: str, left_mm: float, right_mm: float, marked: str = "", rank: int = 0) -> list[str]:
        structures = {f"x_{s}": Structure(f"x_{s}", "X", "X", kind, s) for s in ("left", "right")}  # type: ignore[arg-type]
        found = [
            Anchor("x_left", "X", 0.0, 0.0, rank, marked == "left", left_mm),
            Anchor("x_right", "X", 9.0, 0.0, rank, marked == "right", right_mm),
        ]
        return [a.id for a in one_of_each_pair(found, structures)]

    assert pair("nerve", 100.0, 100.0) == ["x_left"]
    assert pair("nerve", 100.0, 100.0, rank=BRANCH) == ["x_right"]
    assert pair("muscle", 100.0, 100.0) == ["x_right"]
    assert pair("nerve", 200.0, 100.0) == ["x_right"]
    assert pair("nerve", 100.0, 100.0, marked="right") == ["x_right"]


def test_a_covered_structure_is_not_seen_and_a_bare_one_only_where_it_is_bare() -> None:
    drawn = np.full((10, 10), 50.0)
    pixels = np.array([[x, 5.0] for x in np.linspace(0.0, 9.0, 40)])
    assert not seen_samples(pixels, np.full(40, 60.0), drawn, (10, 10)).any()
    bare = pixels[:, 0] > 6.0
    depth = np.where(bare, 40.0, 60.0)
    assert (seen_samples(pixels, depth, drawn, (10, 10)) == bare).all()
    assert not seen_samples(pixels + 100.0, np.zeros(40), drawn, (10, 10)).any()
    assert not seen_samples(pixels - 9.5, np.zeros(40), drawn, (10, 10)).any()
    assert not seen_samples(pixels, depth, drawn, (10, 10), between=(0.0, 0.6)).any()


def test_a_speck_is_named_only_while_it_is_traced() -> None:
    seen = np.arange(100) < 3
    assert not is_enough(seen)
    assert is_enough(seen, traced=True)
    assert is_enough(np.arange(100) < 4)
    assert not is_enough(np.zeros(100, dtype=bool), traced=True)


points = st.lists(st.tuples(st.floats(0.0, 960.0), st.floats(0.0, 540.0)), min_size=1, max_size=30)


@given(points, points)
def test_leader_lines_end_apart_where_the_structures_allow_it(
    seen: list[tuple[float, float]], taken: list[tuple[float, float]]
) -> None:
    pixels, size = np.array(seen), (960, 540)
    chosen = pixels[point_at(pixels, taken, size)]
    clear = np.linalg.norm(pixels[:, None] - np.array(taken)[None], axis=2).min(axis=1)
    here = np.linalg.norm(np.array(taken) - chosen, axis=1).min()
    assert here >= min(APART * size[1], clear.max()) - 1e-9


def test_a_structure_is_pointed_at_on_the_side_of_its_column_and_does_not_jump() -> None:
    line = np.array([[x, 100.0] for x in np.linspace(0.0, 200.0, 201)])
    left, middle, right = (line[point_at(line + np.array([x, 0.0]), [], (1000, 500)), 0] for x in (0.0, 400.0, 800.0))
    assert (left, middle, right) == (50.0, 100.0, 150.0)
    steps = [line[point_at(line + np.array([x, 0.0]), [], (1000, 500)), 0] for x in np.arange(0.0, 800.0, 5.0)]
    assert np.abs(np.diff(steps)).max() <= 3.0


def test_a_disc_is_named_near_by_and_a_nerve_always() -> None:
    disc, nerve = Structure("x", "x", "x", "disc"), Structure("x", "x", "x", "nerve")
    assert is_small(disc, 50.0, 630.0)
    assert not is_small(disc, 50.0, 200.0)
    assert not is_small(nerve, 10.0, 630.0)


@pytest.mark.parametrize(
    ("name", "label"),
    [
        ("Femoral nerve", "Femoral n."),
        ("Lateral femoral cutaneous nerve", "Lat. femoral cutaneous n."),
        ("Lateral cutaneous branch of the iliohypogastric nerve", "Iliohypogastric n., lat. cut. br."),
        ("Muscular branches of the femoral nerve", "Femoral n., muscular br."),
        ("L3 contribution to the lateral femoral cutaneous nerve", "L3 contribution to lat. femoral cutaneous n."),
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


@pytest.mark.parametrize(
    ("name", "latin", "label"),
    [
        ("femoral_left", "nervus femoralis", "N. femoralis"),
        ("obturator_anterior_left", "ramus anterior nervi obturatorii", "R. anterior n. obturatorii"),
        ("femoral_muscular_left", "rami musculares nervi femoralis", "Rr. musculares n. femoralis"),
        ("common_iliac_artery_left", "arteria iliaca communis sinistra", "A. iliaca communis"),
        ("common_iliac_vein_right", "vena iliaca communis dextra", "V. iliaca communis"),
        ("ureter_left", "ureter sinister", "Ureter"),
        ("diaphragm_crus_left", "crus sinistrum diaphragmatis", "Crus diaphragmatis"),
        ("l2_anterior_division_left", "divisio anterior", "Divisio anterior L2"),
        ("inguinal_ligament_left", "ligamentum inguinale", "Lig. inguinale"),
    ],
)
def test_latin_names_are_shortened_as_the_trade_does(name: str, latin: str, label: str) -> None:
    assert label_name(Structure(name, "English", latin, "nerve", "left"), "latin") == label
    assert label_name(Structure(name, "English", latin, "nerve", "left")) == "English"


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_two_structures_of_a_side_share_a_label(language: str) -> None:
    structures = load_body(Specimen()).structures.values()
    names = Counter(label_name(s, language) for s in structures if s.side != "right")
    assert [name for name, count in names.items() if count > 1] == []


def test_named_ids_alone_carry_names_beside_what_is_lit_and_what_the_portal_marks(alder: Body) -> None:
    ids = ["femoral_left", "obturator_left", "l4", "l3_root_left", "l4_root_left", "psoas_major_left", "aorta"]
    lit = View(highlighted=frozenset({"femoral_left", "l4_root_left"}))
    marked = {"aorta": "touched"}

    def named(view: View) -> dict[str, Anchor]:
        return {anchor.id: anchor for anchor in ranked(ids, alder.structures, view, marked)}

    assert set(named(lit)) == set(ids)
    few = named(replace(lit, named=frozenset({"l4", "l3_root_left"})))
    assert set(few) == {"femoral_left", "l4", "l3_root_left", "aorta"}
    # What was asked for is named however little of it shows, a root too; what the portal marks keeps its words.
    assert few["l4"].traced
    assert few["l3_root_left"].traced
    assert few["aorta"].note == "touched"
    assert set(named(replace(lit, named=frozenset({"femoral_left"})))) == {"femoral_left", "aorta"}
