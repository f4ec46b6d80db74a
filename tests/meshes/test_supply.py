"""The table of supply: what it may say, what it must define, and how a mistake in it is told."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from meshes.reference import all_courses, solid_rows
from meshes.structures import segments
from meshes.supply import Joint, Muscle, Reflex, read_supply, supply
from meshes.tables import ANATOMY
from tests.meshes.refusals import refused

TABLE = ANATOMY / "supply.toml"
NERVES = [name for name, course in all_courses().items() if course.structure.kind == "nerve"]
SUPPLY = supply()


def first(pattern: str, put: str) -> Callable[[str], str]:
    """Replaces the first match; it must be there."""

    def make(text: str) -> str:
        changed, count = re.subn(pattern, put, text, count=1, flags=re.MULTILINE)
        assert count == 1
        return changed

    return make


MISTAKES = {
    "muscle": (
        first('muscle = "iliacus"', 'muscle = "iliacos"'),
        "[nerve.femoral]",
        "unknown muscle 'iliacos'. Nearest: iliacus",
    ),
    "patch": (
        first('patch = "obturator"', 'patch = "obturatr"'),
        "[nerve.obturator_anterior]",
        "unknown patch 'obturatr'. Nearest: obturator",
    ),
    "joint": (first('joint = "knee"', 'joint = "elbow"'), "[nerve.femoral_muscular]", "unknown joint 'elbow'"),
    "reflex": (
        first('reflex = "patellar"', 'reflex = "patela"'),
        "[nerve.femoral_muscular]",
        "unknown reflex 'patela'. Nearest: patellar",
    ),
    "limb": (first('limb = "both"', 'limb = "in"'), "[nerve.subcostal]", "unknown limb of a reflex 'in'"),
    "nerve": (
        first(r"^\[nerve\.saphenous\]", "[nerve.safenous]"),
        "[nerve.safenous]",
        "unknown nerve 'safenous'. Nearest: saphenous",
    ),
    "place": (
        first(r'^way = \["thigh"\]', 'way = ["thight"]'),
        "[nerve.femoral_muscular]",
        "unknown place 'thight'. Nearest: thigh",
    ),
    "off the way": (
        first('"iliacus", at = "iliac_fossa"', '"iliacus", at = "canal"'),
        "[nerve.femoral]",
        "unknown place on its way 'canal'",
    ),
    "key": (
        first("^prime = true", "primed = true"),
        "[muscle.external_oblique]",
        "unknown key 'primed'. Nearest: prime",
    ),
    "part": (
        first(r"^\[muscle\.iliacus\]", "[muscel.iliacus]"),
        "supply.toml",
        "unknown key 'muscel'. Nearest: muscle",
    ),
    "missing": (first('^movement = "trunk wall"\n', ""), "[muscle.external_oblique]", "'movement' is missing"),
    "segment": (
        first('^roots = "T7-T12"', 'roots = "T7-T13"'),
        "[muscle.external_oblique], roots",
        "unknown segment 'T13'",
    ),
    "span": (first('^roots = "T7-T12"', 'roots = "T12-T7"'), "[muscle.external_oblique], roots", "upper segment first"),
    "flag": (
        first("^prime = true", 'prime = "yes"'),
        "[muscle.external_oblique], prime",
        "expected true or false, found 'yes'",
    ),
    "words": (
        first('^name = "external oblique"', "name = 3"),
        "[muscle.external_oblique], name",
        "expected words in quotes, found 3",
    ),
    "list": (
        first(r'^way = \["thigh"\]', 'way = "thigh"'),
        "[nerve.femoral_muscular], way",
        "expected a list, found 'thigh'",
    ),
    "table": (
        first(r"^main = \{.*\}$", 'main = "L3"'),
        "[muscle.vastus_lateralis], main",
        "expected a table, found 'L3'",
    ),
    "order": (first("^order = 1", 'order = "one"'), "[place.foramen], order", "expected a number, found 'one'"),
    "source": (
        first('^source = "mrc_aids"', 'source = "hearsay"'),
        "[muscle.external_oblique], source",
        "unknown source 'hearsay'",
    ),
    "basis": (
        first('^basis = "from_memory"', 'basis = "hearsay"'),
        "[muscle.external_oblique], basis",
        "unknown basis 'hearsay'. Legal: published",
    ),
    "dispute": (first('^dispute = "psoas_supply"', 'dispute = "psoas"'), "[nerve.femoral]", "unknown dispute 'psoas'"),
    "overlap": (
        first('^overlaps = ."iliohypogastric_lateral", "lfcn_posterior".', 'overlaps = ["hand"]'),
        "[patch.subcostal_lateral]",
        "unknown patch 'hand'",
    ),
    "key muscle": (
        first('^key_muscles = ."tibialis_anterior".', 'key_muscles = ["tibialis"]'),
        "[level.L4]",
        "unknown muscle 'tibialis'",
    ),
    "level": (first(r"^\[level\.L4\]", "[level.L6]"), "[level.L6]", "unknown segment 'L6'"),
    "spares": (
        first('^spares = ."rectus_femoris"', 'spares = ["rectus"'),
        "[outside.psoas_trauma]",
        "unknown muscle 'rectus'",
    ),
    "compound": (first('^of = ."femoral"', 'of = ["femur"'), "[compound.plexus_in_psoas]", "unknown nerve 'femur'"),
    "grade": (first("^3 = .*\n", ""), "[grade]", "'3' is missing"),
    "toml": (first(r"^\[grade\]", "[grade"), "supply.toml", "not valid TOML"),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_is_one_sentence_with_file_and_place(tmp_path: Path, mistake: str) -> None:
    make, place, named = MISTAKES[mistake]
    path = tmp_path / "supply.toml"
    path.write_text(make(TABLE.read_text(encoding="utf-8")), encoding="utf-8")
    said = refused(read_supply, path, NERVES)
    assert said.startswith(str(path))
    assert place in said
    assert named in said


def test_without_a_mistake_the_table_is_read() -> None:
    assert read_supply(TABLE, NERVES) == SUPPLY
    assert supply() is SUPPLY


def test_whatever_is_defined_is_served_by_a_nerve() -> None:
    nerves = SUPPLY.nerves.values()
    assert {row.muscle for n in nerves for row in n.motor} == set(SUPPLY.muscles)
    assert {row.patch for n in nerves for row in n.skin} == set(SUPPLY.patches)
    assert {row.joint for n in nerves for row in n.joints} == set(SUPPLY.joints)
    assert {row.reflex for n in nerves for row in n.reflexes} == set(SUPPLY.reflexes)


def test_every_row_shares_a_segment_with_its_nerve_and_with_what_it_serves() -> None:
    for nerve in SUPPLY.nerves.values():
        own = set(segments(all_courses()[nerve.id].structure.roots))
        for motor in nerve.motor:
            assert own & set(segments(motor.roots)), (nerve.id, motor)
            assert set(segments(motor.roots)) & set(segments(SUPPLY.muscles[motor.muscle].roots)), (nerve.id, motor)
        for skin in nerve.skin:
            assert own & set(segments(skin.roots)), (nerve.id, skin)
        for reflex in nerve.reflexes:
            assert own & set(segments(SUPPLY.reflexes[reflex.reflex].roots)), (nerve.id, reflex)


def test_muscles_get_every_segment_that_is_theirs() -> None:
    """Together the rows of a muscle bring its segments, but for those above T12, which the body does not have."""
    for name, muscle in SUPPLY.muscles.items():
        brought = {s for n in SUPPLY.nerves.values() for r in n.motor if r.muscle == name for s in segments(r.roots)}
        assert {s for s in segments(muscle.roots) if s not in segments("T1-T11")} <= brought, name
        assert muscle.main is None or set(segments(muscle.main.roots)) <= set(segments(muscle.roots)), name


def test_ways_run_outwards() -> None:
    for nerve in SUPPLY.nerves.values():
        order = [SUPPLY.sites[place].order for place in nerve.way]
        assert order == sorted(set(order)), nerve.id


def test_a_muscle_of_the_body_is_one_that_the_body_has() -> None:
    solids = {row.structure.id.removesuffix("_left") for row in solid_rows() if row.structure.kind == "muscle"}
    named = {muscle.body for muscle in SUPPLY.muscles.values() if muscle.body}
    assert named <= solids
    assert {"psoas_major", "iliacus", "quadratus_lumborum", "external_oblique"} <= named


def test_borders_are_shared_both_ways() -> None:
    for name, patch in SUPPLY.patches.items():
        assert name not in patch.overlaps
        assert all(name in SUPPLY.patches[other].overlaps for other in patch.overlaps), name


def test_nerves_with_a_course_of_their_own_can_be_examined() -> None:
    for name, nerve in SUPPLY.nerves.items():
        if not name.endswith("_ganglion"):
            assert nerve.says, name
            assert nerve.examine, name
            assert nerve.touch, name


def test_every_named_nerve_of_the_body_has_a_row() -> None:
    named = {
        name for name in NERVES
        if all_courses()[name].structure.group != "root" and not all_courses()[name].target and name != "dural_sac"
    }  # fmt: skip
    assert named <= set(SUPPLY.nerves)


def test_english_and_latin() -> None:
    for row in [*SUPPLY.muscles.values(), *SUPPLY.joints.values(), *SUPPLY.reflexes.values()]:
        assert isinstance(row, Muscle | Joint | Reflex)
        assert row.name, row.id
        assert re.fullmatch(r"(musculus|musculi|articulatio|articulationes|reflexus) [a-z ]+", row.latin), row.id
