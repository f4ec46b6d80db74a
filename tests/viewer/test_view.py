"""View: what is seen, told without a window."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.view import CAMERAS, COLOURINGS, STATES, THEMES, Camera, Placement, View, as_table, from_table
from meshes.errors import FurcalError
from meshes.opening import BODIES
from meshes.structures import APPROACHES, DISSECTION, LEVELS, SIDES, Kind, Structure

layers = st.sampled_from(DISSECTION)


def part(layer: str, kind: Kind = "muscle", name: str = "part", side: str = "") -> Structure:
    return Structure(name, name, name, kind, side, layer=layer)


@given(layers, layers)
def test_a_layer_is_on_from_its_own_turn_inwards(dissection: str, layer: str) -> None:
    view = View(dissection=dissection)
    left = DISSECTION.index(layer) >= DISSECTION.index(dissection) or layer == "vertebrae"
    assert view.layer_state(layer) == ("on" if left else "off")
    wrapped = dissection in ("skin", "fat")
    assert view.visibility(part(layer)) == ("on" if left and not wrapped else "off")


@given(layers, layers)
def test_nerves_stay_to_the_end_once_skin_and_fat_are_off(dissection: str, layer: str) -> None:
    seen = View(dissection=dissection).visibility(part(layer, "nerve"))
    assert seen == ("off" if dissection in ("skin", "fat") else "on")


@given(layers, st.sampled_from(["hidden", "glassy"]), st.sampled_from(SIDES))
def test_all_nerves_of_a_side_leave_together_but_those_listed_by_themselves(layer: str, key: str, side: str) -> None:
    chosen = {key: frozenset({f"nerves_{side}"})}
    view = View(shown=frozenset({"own"}), **chosen)  # type: ignore[arg-type]
    state = {"hidden": "off", "glassy": "glassy"}[key]
    assert view.visibility(part(layer, "nerve", "other", side=side)) == state
    assert view.visibility(part(layer, "nerve", "own", side=side)) == "on"
    other = "right" if side == "left" else "left"
    assert view.visibility(part(layer, "nerve", "other", side=other)) == "on"
    assert view.visibility(part(layer, "nerve", "sac", side="")) == "on"


@pytest.mark.parametrize("coat", ["skin", "fat"])
def test_nothing_is_seen_through_an_opaque_coat_but_through_glass(coat: str) -> None:
    wrapped = View(dissection=coat)
    assert wrapped.visibility(part("psoas")) == "off"
    assert wrapped.visibility(part("psoas", "nerve")) == "off"
    glass = wrapped.with_state(["skin", "fat"], "glassy")
    assert glass.visibility(part("psoas")) == "on"
    assert glass.visibility(part("skin", "skin", "skin")) == "glassy"


@given(layers, layers, st.sampled_from(["on", "glassy", "off"]), st.booleans())
def test_an_override_wins_over_the_dissection_and_an_id_over_its_layer(
    dissection: str, layer: str, state: str, by_id: bool
) -> None:
    view = View(dissection=dissection).with_state(["skin", "fat"], "off")
    thing = part(layer if layer not in ("skin", "fat") else "psoas")
    view = view.with_state(thing.layer, "off" if by_id else state)  # type: ignore[arg-type]
    if by_id:
        view = view.with_state(thing.id, state)  # type: ignore[arg-type]
    assert view.visibility(thing) == state


@given(layers, st.lists(st.sampled_from([*STATES, None]), max_size=6))
def test_the_last_state_given_is_the_one_kept_and_none_goes_back(dissection: str, states: list[str | None]) -> None:
    start = View(dissection=dissection)
    view = start
    for state in states:
        view = view.with_state("femur_left", state)  # type: ignore[arg-type]
    assert view.with_state("femur_left", None) == start
    if states and states[-1]:
        assert [view.shown, view.glassy, view.hidden][STATES.index(states[-1])] == {"femur_left"}


L3, DISC, HIP = (
    part("vertebrae", "bone", "l3"),
    part("vertebrae", "disc", "disc_l3_4"),
    part("vertebrae", "bone", "hip_left"),
)


def drawn(view: View) -> tuple[str, bool, str, str]:
    """A vertebra, whether it is opened, a disc and a hip bone."""
    return view.visibility(L3), view.is_opened(L3), view.visibility(DISC), view.visibility(HIP)


def test_the_last_step_of_the_handle_lifts_the_bodies_and_no_more_bone() -> None:
    assert drawn(View(dissection="vertebrae")) == ("on", False, "on", "on")
    assert drawn(View(dissection="dura")) == ("on", True, "off", "on")
    assert drawn(View(dissection="dura").lifted(-1)) == ("on", False, "on", "on")


@given(layers)
def test_the_bodies_are_lifted_and_put_back_at_any_step_by_their_own_word(dissection: str) -> None:
    view = View(dissection=dissection).with_state(["skin", "fat"], "off")
    assert drawn(view.with_state(BODIES, "off")) == ("on", True, "off", "on")
    assert drawn(view.with_state(BODIES, "on")) == ("on", False, "on", "on")
    assert drawn(view.with_state(BODIES, "glassy")) == ("glassy", False, "glassy", "on")
    assert view.with_state(BODIES, "off").with_state(BODIES, None) == view


def test_all_bone_comes_off_by_its_band_and_one_structure_leaves_the_rule_by_its_id() -> None:
    view = View(dissection="dura")
    for gone in (view.with_state("vertebrae", "off"), View().with_state(["vertebrae", BODIES], "off")):
        assert drawn(gone)[0] == drawn(gone)[2] == drawn(gone)[3] == "off"
    assert drawn(view.with_state("vertebrae", "glassy")) == ("glassy", True, "off", "glassy")
    assert drawn(view.with_state("l3", "on")) == ("on", False, "off", "on")
    assert drawn(view.with_state("l3", "glassy")) == ("glassy", True, "off", "on")
    assert drawn(view.with_state("disc_l3_4", "on")) == ("on", True, "on", "on")


@pytest.mark.parametrize("coat", ["skin", "fat"])
def test_down_a_portal_the_coat_hides_nothing(coat: str) -> None:
    docked = View(dissection=coat, portal=Placement())
    assert docked.visibility(part("psoas")) == "off"
    down = docked.seen_from("portal")
    assert down.looks_down
    assert down.visibility(part("psoas")) == "on"
    assert not View(dissection=coat).seen_from("portal").looks_down


def test_one_side_is_dissected_and_the_other_keeps_its_layers() -> None:
    view = View(dissection="psoas", side="left")
    assert view.visibility(part("external_oblique", name="external_oblique_left", side="left")) == "off"
    assert view.visibility(part("external_oblique", name="external_oblique_right", side="right")) == "on"
    assert view.visibility(part("vessels", "vessel", "aorta")) == "off"


@given(layers, st.integers(-30, 30))
def test_lifting_steps_through_the_order_and_stops_at_its_ends(dissection: str, steps: int) -> None:
    lifted = View(dissection=dissection).lifted(steps).dissection
    wanted = DISSECTION.index(dissection) + steps
    assert DISSECTION.index(lifted) == min(max(wanted, 0), len(DISSECTION) - 1)


def test_a_view_refuses_words_it_does_not_know_and_ids_listed_twice() -> None:
    for wrong in ({"dissection": "fascia"}, {"side": "middle"}, {"colouring": "rainbow"}, {"theme": "grey"}):
        with pytest.raises(FurcalError, match="Legal:"):
            View(**wrong)  # type: ignore[arg-type]
    with pytest.raises(FurcalError, match="sacrum"):
        View(hidden=frozenset({"sacrum"}), glassy=frozenset({"sacrum"}))
    with pytest.raises(FurcalError, match="Legal:"):
        Camera("above")
    with pytest.raises(FurcalError, match="finite"):
        Camera("free", position_mm=(float("nan"), 0.0, 0.0))
    with pytest.raises(FurcalError, match="L3-4"):
        Placement(level="L3-L4")


numbers = st.floats(-500.0, 500.0)
triples = st.tuples(numbers, numbers, numbers)
cameras = st.builds(
    Camera, st.sampled_from(CAMERAS), triples, triples, triples, st.booleans(), st.floats(0.0, 400.0)
)  # fmt: skip
placements = st.builds(
    Placement, st.sampled_from(LEVELS), st.sampled_from(SIDES), st.sampled_from(APPROACHES), st.floats(0.0, 1.0)
)
ids = st.frozensets(st.sampled_from(["skin", "psoas", "femoral_left", "aorta"]), max_size=3)
views = st.builds(
    View,
    camera=cameras,
    dissection=layers,
    side=st.sampled_from(("both", *SIDES)),
    glassy=ids,
    highlighted=ids,
    colouring=st.sampled_from(COLOURINGS),
    labels=st.booleans(),
    theme=st.sampled_from(THEMES),
    portal=st.none() | placements,
)


@given(views)
def test_a_view_survives_being_written_as_plain_words(view: View) -> None:
    assert from_table(json.loads(json.dumps(as_table(view)))) == view


def test_the_default_view_is_an_empty_table() -> None:
    assert as_table(View()) == {}
    assert from_table({}) == View()


@pytest.mark.parametrize(
    ("table", "place"),
    [
        ({"dissektion": "psoas"}, "dissektion"),
        ({"labels": 1}, "labels"),
        ({"glassy": "psoas"}, "glassy"),
        ({"camera": {"up": [0, 1]}}, "camera, up"),
        ({"camera": {"position": [0, 1, 2]}}, "position"),
        ({"camera": 3}, "camera"),
        ({"portal": {"at": "middle"}}, "portal, at"),
        ({"portal": {"level": "L6"}}, "L6"),
    ],
)
def test_a_wrong_table_is_refused_with_its_place(table: dict[str, object], place: str) -> None:
    with pytest.raises(FurcalError, match=place):
        from_table(table, "scene.toml")


@given(layers, layers, layers, st.sampled_from(STATES))
def test_the_handle_takes_along_what_it_passes_and_nothing_else(start: str, end: str, layer: str, state: str) -> None:
    thing = part(layer, name="thing")
    view = View(dissection=start).with_state("thing", state)  # type: ignore[arg-type]
    moved = view.dissected_to(end, [thing])
    a, b = sorted((DISSECTION.index(start), DISSECTION.index(end)))
    passed = a <= DISSECTION.index(layer) < b
    kept = "thing" in moved.shown | moved.glassy | moved.hidden
    assert kept != passed
    assert moved.dissection == end
    if passed:
        assert moved.own_state(thing) == View(dissection=end).own_state(thing)
