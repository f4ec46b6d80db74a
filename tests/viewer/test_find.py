"""Looking for structures by typing."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.find import find_structures, short_names
from meshes.body import Body
from meshes.reference import all_courses, solid_rows
from meshes.structures import Structure


def found(words: str, body: Body) -> list[str]:
    return [s.id for s in find_structures(words, body.structures.values())]


@pytest.mark.parametrize(
    ("words", "first"),
    [
        ("femoral", "femoral_left"),
        ("fem", "femoral_left"),
        ("femoral right", "femoral_right"),
        ("right femoral", "femoral_right"),
        ("femoral artery", "femoral_artery_left"),
        ("FEMORAL NERVE", "femoral_left"),
        ("genito", "genitofemoral_left"),
        ("n. fem", "femoral_left"),
        ("a. femoral", "femoral_artery_left"),
        ("v. femoral right", "femoral_vein_right"),
        ("m. psoas", "psoas_major_left"),
        ("nervus obturatorius", "obturator_left"),
        ("obturatorius", "obturator_left"),
        ("iliohypo", "iliohypogastric_left"),
        ("l4-5", "disc_l4_5"),
        ("L3", "l3"),
        ("ramus L3", "l3_ramus_left"),
        ("lumbosacral", "lumbosacral_trunk_left"),
        ("psoas_major_right", "psoas_major_right"),
        ("LFCN", "lateral_femoral_cutaneous_left"),
        ("ihn", "iliohypogastric_left"),
        ("iin r", "ilioinguinal_right"),
        ("gfn", "genitofemoral_left"),
        ("QL", "quadratus_lumborum_left"),
        ("EO", "external_oblique_left"),
        ("IO", "internal_oblique_left"),
        ("TA", "transversus_abdominis_left"),
        ("IVC", "inferior_vena_cava"),
        ("ALL", "anterior_longitudinal_ligament"),
        ("SIJ", "sacrum"),
        ("kidney", "kidney_left"),
        ("fémoral", "femoral_left"),
    ],
)
def test_the_best_find_comes_first(alder: Body, words: str, first: str) -> None:
    assert found(words, alder)[0] == first


def test_the_left_comes_just_before_the_right(alder: Body) -> None:
    assert found("femoral", alder)[:2] == ["femoral_left", "femoral_right"]
    assert found("kidney", alder) == ["kidney_left", "kidney_right"]


def test_a_word_in_the_middle_of_a_word_finds_nothing(alder: Body) -> None:
    assert "genitofemoral_left" not in found("femoral", alder)
    assert found("emoral", alder) == []
    assert found("femoral zz", alder) == []


def test_no_words_find_nothing(alder: Body) -> None:
    for words in ("", "  ", "-", "\t"):
        assert found(words, alder) == []


def test_nerves_before_muscles_before_the_rest(alder: Body) -> None:
    names = found("ili", alder)
    kinds = [alder.structures[n].kind for n in names if alder.structures[n].name.lower().startswith("ili")]
    order = ["nerve" if k == "nerve" else "muscle" if k == "muscle" else "rest" for k in kinds]
    assert order == sorted(order, key=["nerve", "muscle", "rest"].index)
    assert set(order) == {"nerve", "muscle", "rest"}


def test_a_root_finds_every_nerve_that_it_reaches(alder: Body) -> None:
    names = found("L3", alder)
    for nerve in ("femoral_left", "obturator_right", "lateral_femoral_cutaneous_left", "saphenous_left"):
        assert nerve in names
    assert "iliohypogastric_left" not in names


def test_a_letter_with_a_stop_stands_for_the_kind(alder: Body) -> None:
    assert {alder.structures[n].group for n in found("v.", alder)} == {"vein"}
    assert set(found("n.", alder)) == set(alder.ids("nerve"))


def test_every_structure_is_found_by_each_of_its_names(alder: Body) -> None:
    structures = list(alder.structures.values())
    for s in structures:
        for words in (s.name, s.latin, s.id, f"{s.name} {s.side}"):
            assert s in find_structures(words, structures), (s.id, words)
        same = [o for o in structures if o.name == s.name]
        assert find_structures(s.name, structures)[: len(same)] == same, s.id


@given(st.integers(0, 99), st.sampled_from(["femoral", "l3", "ili", "a.", "obl"]))
def test_the_order_of_the_body_does_not_matter(alder: Body, seed: int, words: str) -> None:
    structures = list(alder.structures.values())
    shuffled = random.Random(seed).sample(structures, len(structures))
    assert find_structures(words, shuffled) == find_structures(words, structures)


@given(st.text(max_size=20))
def test_whatever_is_typed_every_find_holds_every_word(alder: Body, words: str) -> None:
    everything = list(alder.structures.values())
    some = find_structures(words, everything)
    assert len(set(some)) == len(some)
    assert set(find_structures(f"{words} zzz", everything)) == set()
    narrowed = find_structures(f"{words} left", everything)
    if some:
        assert set(narrowed) <= set(some)


def test_every_short_form_names_a_structure_of_the_tables() -> None:
    known = set(all_courses()) | {
        r.structure.id.removesuffix("_left") if r.paired else r.structure.id for r in solid_rows()
    }
    for form, ids in short_names().items():
        assert form.isupper()
        assert set(ids) <= known, form


def test_a_structure_whose_words_are_only_its_own() -> None:
    lone = Structure("twig_right", "Twig", "ramulus", "nerve", "right", "L2-L3")
    for words in ("twig", "ramu", "l2", "L3 right", "n. tw"):
        assert find_structures(words, [lone]) == [lone]
    for words in ("l4", "left", "a. twig"):
        assert find_structures(words, [lone]) == []
