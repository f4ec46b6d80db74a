"""What the tables say, as sentences an anatomist can read aloud."""

from __future__ import annotations

import re

import pytest

from meshes.body import Body
from meshes.errors import FurcalError
from meshes.reference import all_courses
from meshes.story import NO_PUBLICATION, in_words, story
from meshes.structures import Structure
from meshes.tables import ANATOMY, RESERVED_SOURCES, read_toml

CITES = {key: row["cite"] for key, row in read_toml(ANATOMY / "sources.toml").items()}


def test_every_structure_is_told_in_whole_sentences_with_every_source_resolved(larch: Body) -> None:
    for structure in larch.structures.values():
        told = story(structure)
        assert 1 <= len(told.sentences) <= 4, (structure.id, told.sentences)
        assert told.sources, structure.id
        for sentence in told.sentences:
            assert re.fullmatch(r"[A-Z][^.]*(\.\d[^.]*)*\.", sentence), (structure.id, sentence)
            assert not re.search(r"\band,|, ,|  |,,|\band and\b|,\.", sentence.replace("crest and, as", "crest, as")), (
                structure.id,
                sentence,
            )
        assert {s.text for s in told.sources} <= {*CITES.values(), *NO_PUBLICATION.values()}
        keys = [s.key for s in told.sources]
        assert len(set(keys)) == len(keys)
        assert keys == sorted(keys, key=lambda k: k in RESERVED_SOURCES), "publications first"


def test_every_phrase_of_a_course_is_told_in_order() -> None:
    for course in all_courses().values():
        phrases = [w.says for w in course.way if w.says]
        if course.structure.group == "vein":
            phrases = phrases[::-1]
        text = " ".join(story(course.structure).sentences).lower()
        at = 0
        for phrase in phrases:
            found = text.find(phrase.lower(), at)
            assert found >= 0 or phrase.lower() in text[:at], (course.structure.id, phrase)
            at = max(at, found)


def test_every_phrase_of_a_course_begins_with_what_it_does() -> None:
    """In the tables: phrases are joined to sentences, so each must be able to follow "the nerve"."""
    for name, course in all_courses().items():
        for way in (course.way, *course.when.values()):
            for first in (w.says.split()[0] for w in way if w.says):
                singular = " branches " not in course.structure.name
                assert first == "is" or (first.endswith("s") is singular and first != "across"), (name, first)


def test_where_a_course_comes_from_and_ends_is_told_once(alder: Body) -> None:
    def text(name: str) -> str:
        return " ".join(story(alder.structures[name]).sentences)

    assert text("l4_posterior_division_left") == (
        "Comes from the ventral ramus of L4 and joins the femoral nerve at the L4-5 disc."
    )
    assert text("l3_root_right") == (
        "Leaves the dural sac as a ventral and a dorsal root, drawn as one cord, and passes below the pedicle of L3, "
        "where the dorsal root bears the spinal ganglion of L3."
    )
    assert text("femoral_anterior_cutaneous_left").startswith("Come from the femoral nerve and pierce")
    assert text("lateral_femoral_cutaneous_left").startswith("Arises from the posterior divisions of L2 and L3")
    assert text("common_iliac_vein_left").endswith("and ends in the inferior vena cava.")
    assert text("inferior_vena_cava").startswith("Begins on the right front of the upper half of L5")
    for name, course in all_courses().items():
        told = " ".join(story(course.structure).sentences)
        for end in (course.parent, course.target):
            tells = told.startswith(("Arises", "Forms", "Begins", "Parts from"))
            assert not end or tells or in_words(all_courses()[end].structure).removeprefix("the ") in told, name


def test_a_variant_changes_the_words_of_its_side_only(alder: Body) -> None:
    nerves = {side: alder.structures[f"lateral_femoral_cutaneous_{side}"] for side in ("left", "right")}
    variant = frozenset({"lfcn_lateral_to_asis_right"})
    assert story(nerves["left"], variant) == story(nerves["left"])
    changed = " ".join(story(nerves["right"], variant).sentences)
    assert "crosses over the crest at, or just lateral to, the ASIS" in changed
    assert "a fifth of the way" not in changed
    assert "aszmann_1997" in {s.key for s in story(nerves["right"], variant).sources}
    high = story(alder.structures["aorta"], {"aorta_divides_high"})
    assert high.sentences[-1].endswith("divides in front of the lower half of L3.")


def test_a_solid_is_told_by_its_header_and_has_the_sources_of_its_parts(alder: Body) -> None:
    psoas = story(alder.structures["psoas_major_right"])
    assert psoas.sentences[0].startswith("Arises from the sides of the bodies and discs from T12 to L5")
    assert psoas.sentences[-1].startswith("Its fibres run down along")
    assert {"bogduk_1992", "ivanac_2026"} <= {s.key for s in psoas.sources}
    for muscle in (s for s in alder.structures.values() if s.kind == "muscle"):
        assert story(muscle).sentences[0].startswith("Arises from "), muscle.id
    fifth, fourth = (" ".join(story(alder.structures[n]).sentences) for n in ("l5", "l4"))
    assert "stout cone" in fifth
    assert "stout cone" not in fourth


def test_names_within_a_sentence() -> None:
    for name, wanted in (
        ("Femoral nerve", "the femoral nerve"),
        ("L4-5 disc", "the L4-5 disc"),
        ("aorta", "the aorta"),
    ):
        assert in_words(Structure("x", name, name, "nerve")) == wanted


def test_a_structure_of_no_table_is_told() -> None:
    with pytest.raises(FurcalError, match="elbow_left: no table"):
        story(Structure("elbow_left", "elbow", "cubitus", "bone", "left"))


def test_every_reserved_source_has_words() -> None:
    assert set(NO_PUBLICATION) == set(RESERVED_SOURCES)
