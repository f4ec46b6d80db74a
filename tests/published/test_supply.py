"""What a lesion takes, against publications that built none of it; each test names its source.

Where nothing was published that did not build the table, the test says so in its first line.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from meshes.lesion import Loss, cut_in, ids_of, loss
from meshes.specimen import ALDER
from meshes.structures import SIDES
from meshes.supply import supply
from meshes.tables import ANATOMY, RESERVED_SOURCES, read_toml, source_keys

CHECKS = read_toml(Path(__file__).with_name("supply_checks.toml"))
SOURCES = read_toml(ANATOMY / "sources.toml")
SUPPLY = supply()
PRESENT = ids_of(ALDER)
#: The thigh's muscles by the words that a clinician has for them.
QUADRICEPS = {"rectus_femoris", "vastus_lateralis", "vastus_medialis", "vastus_intermedius"}
ADDUCTORS = {"adductor_longus", "adductor_brevis", "adductor_magnus", "gracilis"}


def by(key: str) -> None:
    """The source that a test checks by; it must be one that builds nothing."""
    assert key in CHECKS or SOURCES[key]["use"] == "check"


def cut(nerve: str, place: str = "") -> Loss:
    """The same loss on both sides."""
    left, right = (
        loss(f"{nerve}_{side}", PRESENT, cut_in(f"{nerve}_{side}", place) if place else None) for side in SIDES
    )
    assert left == right
    return left


def weak(found: Loss) -> set[str]:
    """Muscles that lose strength in everybody."""
    return {one.row.muscle for one in found.motor if not one.row.variable}


def spared(found: Loss) -> set[str]:
    return {one.muscle for one in found.spared}


def numb(found: Loss) -> set[str]:
    return {one.row.patch for one in found.skin}


def reflexes(found: Loss) -> dict[str, bool]:
    """Reflexes that are less, and whether something of them is kept."""
    return {one.row.reflex: one.partial for one in found.reflexes if not one.row.disputed}


def test_a_femoral_nerve_cut_at_the_ligament_spares_iliacus_and_in_psoas_does_not() -> None:
    by("femoral_page")
    low, high = cut("femoral", "ligament"), cut("femoral", "psoas")
    assert weak(low) >= QUADRICEPS
    assert "iliacus" not in weak(low)
    assert ("iliacus", "leaves before the lesion") in {(one.muscle, one.because) for one in low.spared}
    assert weak(high) == weak(low) | {"iliacus"}
    assert reflexes(low) == reflexes(high) == {"patellar": False}


@pytest.mark.parametrize("place", ["", "psoas", "iliac_fossa", "ligament", "thigh"])
def test_a_femoral_palsy_spares_the_adductors(place: str) -> None:
    by("femoral_page")
    found = cut("femoral", place)
    assert weak(found) >= QUADRICEPS
    assert not any(one.partial for one in found.motor if one.row.muscle in QUADRICEPS)
    assert spared(found) >= ADDUCTORS
    assert not ADDUCTORS & {one.row.muscle for one in found.motor}


@pytest.mark.parametrize("root", ["l2", "l3"])
@pytest.mark.parametrize("part", ["root", "ganglion", "ramus"])
def test_a_root_of_the_femoral_nerve_weakens_the_adductors_too(root: str, part: str) -> None:
    by("femoral_handbook")
    assert weak(cut(f"{root}_{part}")) >= QUADRICEPS | ADDUCTORS


@pytest.mark.parametrize("part", ["root", "ganglion", "ramus"])
def test_a_lesion_of_l4_reaches_quadriceps_and_tibialis_anterior(part: str) -> None:
    by("femoral_handbook")
    found = cut(f"l4_{part}")
    assert QUADRICEPS | {"tibialis_anterior"} <= weak(found)
    assert all(one.partial and one.roots == "L4" for one in found.motor)
    assert reflexes(found)["patellar"], "L2 and L3 keep some of the knee jerk"


@pytest.mark.parametrize("place", ["", "psoas", "ligament"])
def test_the_lateral_femoral_cutaneous_nerve_changes_no_muscle(place: str) -> None:
    by("ratliff_meralgia")
    found = cut("lateral_femoral_cutaneous", place)
    assert (found.motor, found.reflexes) == ((), ())
    assert numb(found) == {"lfcn_anterior", "lfcn_posterior"}
    assert QUADRICEPS | ADDUCTORS | {"iliacus", "psoas_major"} <= spared(found)


def test_an_obturator_palsy_weakens_the_adductors_and_keeps_the_knee_jerk() -> None:
    by("obturator_emg")
    found = cut("obturator")
    assert weak(found) >= ADDUCTORS
    assert spared(found) >= QUADRICEPS
    assert "patellar" not in reflexes(found)


def test_the_lumbosacral_trunk_looks_like_the_common_fibular_nerve_or_l5() -> None:
    by("williams_2019")
    fibular = SUPPLY.outside["common_fibular"]
    trunk, l5 = cut("lumbosacral_trunk"), cut("l5_ramus")
    assert set(fibular.motor) <= weak(trunk) & weak(l5)
    assert "lumbosacral_l5" in numb(trunk) & numb(l5)
    assert spared(trunk) >= QUADRICEPS
    assert {"gastrocnemius", "soleus"} & weak(trunk) == set()


def test_loss_of_the_subcostal_nerve_in_the_wall_lets_the_flank_bulge() -> None:
    """It has most branches to the obliques of all nerves of the wall; what the bulge itself says built the table."""
    by("alonso_2017")
    found = cut("subcostal", "wall")
    flat = {"external_oblique", "internal_oblique", "transversus_abdominis"}
    assert flat <= weak(found)
    assert {SUPPLY.muscles[name].movement for name in flat} == {"trunk wall"}
    assert all(one.partial for one in found.motor), "the nerves above and L1 serve the wall as well"
    told = SUPPLY.nerves["subcostal"]
    assert "bulge" in " ".join([told.says.words if told.says else "", *(e.expect for e in told.examine)])
    serves = [n.id for n in SUPPLY.nerves.values() if any(row.muscle == "external_oblique" for row in n.motor)]
    assert serves == ["subcostal"]


@pytest.mark.parametrize(
    ("level", "words", "source"),
    [
        ("L1", ("midway", "T12", "L2"), "isncsci_restatement"),
        ("L2", ("thigh", "midpoint", "inguinal ligament", "inner femoral condyle"), "isncsci_restatement"),
        ("L3", ("inner femoral condyle", "above the knee"), "isncsci_restatement"),
        ("L4", ("inner malleolus",), "foot_points_2016"),
        ("L5", ("back of the foot", "third metatarsophalangeal"), "foot_points_2016"),
        ("S1", ("outer side", "heel"), "foot_points_2016"),
    ],
)
def test_key_sensory_points(level: str, words: tuple[str, ...], source: str) -> None:
    by(source)
    assert [word for word in words if word not in SUPPLY.levels[level].point] == []


def test_key_muscles() -> None:
    """From memory of the international standard: no restatement of them was read that did not build the table."""
    assert {level: set(row.key_muscles) for level, row in SUPPLY.levels.items() if row.key_muscles} == {
        "L2": {"psoas_major", "iliacus"},
        "L3": QUADRICEPS,
        "L4": {"tibialis_anterior"},
        "L5": {"extensor_hallucis_longus"},
        "S1": {"gastrocnemius", "soleus"},
    }
    for level, row in SUPPLY.levels.items():
        reached = weak(cut(f"{level.lower()}_ramus"))
        assert set(row.key_muscles) <= reached, level
        assert {SUPPLY.muscles[m].movement for m in row.key_muscles} <= {row.movement}


def test_the_dorsal_ramus_goes_with_the_root_and_not_with_the_plexus() -> None:
    """From memory: a needle in multifidus tells a root from the plexus."""
    assert "multifidus" in weak(cut("l4_root")) & weak(cut("l4_ganglion"))
    assert "multifidus" not in weak(cut("l4_ramus"))


def test_every_source_of_this_page_is_used_and_builds_nothing() -> None:
    text = Path(__file__).read_text(encoding="utf-8")
    for key, row in CHECKS.items():
        assert set(row) == {"cite", "checks"}
        assert f'"{key}"' in text
        assert key not in source_keys()
    built = {SOURCES[key]["cite"] for key in SOURCES if SOURCES[key]["use"] == "build"}
    assert built.isdisjoint({row["cite"] for row in CHECKS.values()})


DISPUTED = {
    "lfcn_roots": {"plexus_review", "woo_2011", "common_practice"},
    "obturator_skin": {"standring", "bouaziz_2002", "jessen"},
    "cremasteric_afferent": {"cremasteric_page", "genitofemoral_page"},
    "psoas_supply": {"standring", "preston_23"},
    "tibialis_anterior": {"phillips_1991", "isncsci_2019", "hashimoto_2024", "common_practice"},
}


def test_every_disputed_fact_keeps_its_sides_with_their_sources() -> None:
    """By their own sources, which build the table: a dispute is shown, not checked."""
    assert {
        name: {key for view in dispute.views for key in view.source} for name, dispute in SUPPLY.disputes.items()
    } == DISPUTED
    for dispute in SUPPLY.disputes.values():
        assert len({view.says for view in dispute.views}) >= 2
        assert len({view.source for view in dispute.views}) >= 2


def test_a_dispute_is_hung_on_what_it_is_about() -> None:
    hung = {
        row.dispute
        for part in (SUPPLY.muscles, SUPPLY.patches, SUPPLY.reflexes, SUPPLY.nerves, SUPPLY.levels)
        for row in part.values()
        if row.dispute
    }
    assert hung == set(SUPPLY.disputes)


def test_what_was_not_read_is_from_memory() -> None:
    """A row that rests on a book that was only remembered, or on nothing, says so."""
    unread = {"standring", "mrc_aids", "isncsci_2019", *RESERVED_SOURCES}
    for part in (SUPPLY.muscles, SUPPLY.patches, SUPPLY.joints, SUPPLY.reflexes, SUPPLY.levels, SUPPLY.outside):
        for row in part.values():
            assert row.basis in ("from_memory", "judgement") or not set(row.source) <= unread, row.id
    for nerve in SUPPLY.nerves.values():
        for rows in (nerve.motor, nerve.skin, nerve.joints, nerve.reflexes, nerve.functions, nerve.examine):
            for one in rows:
                assert one.basis in ("from_memory", "judgement") or not set(one.source) <= unread, nerve.id
