"""An approach walked: what is measured is the docking's own answer, and the books are joined to it by their layers."""

from __future__ import annotations

from functools import cache
from itertools import product

import pytest

from lessons.readout import CLOSE_MM, layer_name
from lessons.walk import Walk, as_json, walk
from lessons.walktext import walk_text
from meshes.body import Body, load_body
from meshes.contact import Ready, dock
from meshes.contact import as_json as docking_json
from meshes.incidence import reported
from meshes.portal import place
from meshes.risk import approach_risk, of_level
from meshes.specimen import ALDER
from meshes.structures import APPROACHES, LEVELS, SIDES

PATHS = list(product(APPROACHES, LEVELS, SIDES))


@cache
def ready(side: str) -> Ready:
    return Ready.of(load_body(ALDER.facing_up(side)))


@cache
def walked(approach: str, level: str, side: str, radius_mm: float = 11.0) -> Walk:
    body = ready(side).body
    return walk(dock(body, place(body, level, side, approach, 0.5, radius_mm), ready(side)))


@pytest.mark.parametrize(("approach", "level", "side"), PATHS)
def test_it_agrees_with_a_docking_on_the_same_path(approach: str, level: str, side: str) -> None:
    body = ready(side).body
    docked = docking_json(dock(body, place(body, level, side, approach, 0.5, 11.0)))
    answer = as_json(walked(approach, level, side))
    same = ("schema", "furcal_version", "specimen", "portal", "reaches_disc", "barred_by")
    assert {key: answer[key] for key in same} == {key: docked[key] for key in same}
    for layer in answer["layers"]:
        assert layer.keys() - docked["layers"][0].keys() == {"at_risk", "told"}
    assert [{k: layer[k] for k in docked["layers"][0]} for layer in answer["layers"]] == docked["layers"]
    near = {row["nerve"]: row["clearance_mm"] for row in answer["at_risk"]}
    assert near == {n["id"]: n["clearance_mm"] for n in docked["nerves"] if n["clearance_mm"] <= CLOSE_MM}
    others = {row["id"]: row["clearance_mm"] for row in answer["others_at_risk"]}
    things = [*docked["vessels"], *docked["viscera"]]
    assert others == {n["id"]: n["clearance_mm"] for n in things if n["clearance_mm"] <= CLOSE_MM}
    for rows in (answer["at_risk"], answer["others_at_risk"]):
        assert [row["clearance_mm"] for row in rows] == sorted(row["clearance_mm"] for row in rows)
    by_id = {n["id"]: n["clearance_mm"] for n in (*docked["nerves"], *things)}
    told = [*answer["told"]["steps"], *answer["told"]["level"]]
    for row in (named for step in told for named in step["at_risk"]):
        assert row["clearance_mm"] == by_id.get(row["id"])


@pytest.mark.parametrize(("approach", "level", "side"), PATHS)
def test_what_is_near_stands_once_in_the_layer_where_the_axis_is(approach: str, level: str, side: str) -> None:
    walk_ = walked(approach, level, side)
    ids = [c.id for step in walk_.steps for c in step.at_risk]
    assert len(ids) == len(set(ids))
    structures = ready(side).body.structures
    for step in walk_.steps:
        for contact in step.at_risk:
            assert step.layer.by == "axis"
            assert step.layer.id != contact.id
            off = max(step.layer.from_mm - contact.depth_mm, contact.depth_mm - step.layer.to_mm, 0.0)
            for other in (s.layer for s in walk_.steps if s.layer.by == "axis" and s.layer.id != contact.id):
                if other.id in structures and structures[other.id].kind == "nerve":
                    continue
                assert max(other.from_mm - contact.depth_mm, contact.depth_mm - other.to_mm, 0.0) >= off


@pytest.mark.parametrize(("approach", "level", "side"), PATHS)
def test_the_books_stand_at_the_layers_that_they_name(approach: str, level: str, side: str) -> None:
    walk_ = walked(approach, level, side)
    for step in walk_.steps:
        bare = step.layer.id.removesuffix(f"_{step.layer.id.rsplit('_', 1)[-1]}")
        for stage in approach_risk()[approach].stages:
            crossed = {n for word in stage.crosses for n in of_level(word, level)}
            assert (stage in step.told) == bool(crossed & {step.layer.id, bare})
    met = [stage for step in walk_.steps for stage in step.told]
    assert [stage for stage in approach_risk()[approach].stages if stage not in met] == list(walk_.not_met)
    assert walk_.published == reported().after(approach, level)
    assert walk_.usual_level == (level in approach_risk()[approach].levels)


@pytest.mark.parametrize(("approach", "level", "side"), PATHS)
def test_the_text_tells_all_of_it_in_100_columns(approach: str, level: str, side: str) -> None:
    walk_ = walked(approach, level, side)
    text = walk_text(walk_)
    assert max(map(len, text.splitlines())) <= 100
    flat = " ".join(text.split())
    for step in walk_.steps:
        assert layer_name(step.layer, walk_.docking.portal) in flat
    for told in (*walk_.risk.before.values(), *(s.told for s in walk_.risk.stages), *walk_.risk.whole):
        assert told.says in flat
    for row in walk_.published:
        span = f"{row.low:g} %" if row.low == row.high else f"{row.low:g} to {row.high:g} %"
        assert f"{row.deficit}{'' if row.when == 'any' else f', {row.when}'}: {span}" in flat
        for one in row.series:
            assert f"{one.denominator}" in flat
            assert all(f"  {key}: " in text for key in one.told.sources)
    assert "quarters of the disc, I anterior to IV posterior" in flat
    assert ("a specimen whose posture is" in flat) == (walk_.risk.posture != "side_lying")
    assert ("is written here for the left side" in flat) == (side == "right")
    assert ("minute" in flat) <= ("Beside minutes: custom, not a limit" in flat)
    assert "Beside mA: not a ruler." in flat or "alert current" not in flat
    assert reported().caution in flat
    assert text.endswith("not for planning or guiding an operation.")


def test_the_lateral_way_at_l4_5_as_dissection_has_it(alder: Body) -> None:
    """Wall, retroperitoneal fat, psoas with the femoral nerve in it, disc (Benglis DM et al. 2009 build the nerve)."""
    walk_ = walked("lateral", "L4-5", "left")
    order = list(dict.fromkeys(stage.name for step in walk_.steps for stage in step.told))
    assert order.index("retroperitoneal fat") < order.index("psoas") < order.index("disc, and what lies beyond it")
    (psoas,) = [step for step in walk_.steps if step.layer.id == "psoas_major_left"]
    assert "femoral_left" in {c.id for c in psoas.at_risk}


def test_a_wider_channel_comes_nearer_to_everything() -> None:
    thin, wide = (walked("oblique", "L3-4", "left", radius) for radius in (5.0, 11.0))
    for name, contact in wide.contacts.items():
        assert contact.clearance_mm <= thin.contacts[name].clearance_mm + 1e-6
    assert len(as_json(wide)["at_risk"]) >= len(as_json(thin)["at_risk"])
