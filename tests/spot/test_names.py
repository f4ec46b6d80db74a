"""Typed words name the structure that is meant, and never another one."""

import re
from collections.abc import Iterator
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.find import short_names
from lessons.spot.names import LETTERS_MOST, distance, is_called, named_by
from lessons.spot.wordbook import bare_id, read_synonyms, synonyms
from meshes.body import Body
from meshes.errors import FurcalError
from meshes.reference import all_courses, solid_rows
from meshes.structures import SEGMENTS, SIDES, Structure, other_side, segments


def everything() -> dict[str, Structure]:
    """Every structure that any body can have, both sides."""
    from dataclasses import replace

    rows = [(row.structure, row.paired) for row in solid_rows()]
    rows += [(course.structure, course.paired) for course in all_courses().values()]
    found = {s.id: s for s, _ in rows}
    for s, paired in rows:
        if paired:
            found[other_side(s.id)] = replace(s, id=other_side(s.id), side="right")
    return found


EVERY = everything()
WORDS = re.compile(r"[a-z]{6,}")


def without_side(name: str) -> str:
    return re.sub(r"^(left|right) | (sinist|dext)\w+$", "", name)


def published(s: Structure) -> set[str]:
    """Names that tables of the body, the short forms and the table of synonyms give, straight from them."""
    short = {form for form, ids in short_names().items() if bare_id(s) in ids}
    return {s.name, s.latin, *short, *synonyms().also.get(bare_id(s), ())}


def owners() -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for s in EVERY.values():
        for name in published(s):
            found.setdefault(without_side(name.casefold()), set()).add(bare_id(s))
    return found


OWNERS = owners()
BY_TWO = {name for name, ids in OWNERS.items() if len(ids) > 1}
NAMES = sorted((name, s.id) for s in EVERY.values() for name in published(s))
OWN_NAMES = [(name, id_) for name, id_ in NAMES if len(OWNERS[without_side(name.casefold())]) == 1]
#: Of the right side only what has no twin: both are called the same.
ONCE = [
    (name, id_)
    for name, id_ in OWN_NAMES
    if EVERY[id_].side != "right" or name not in published(EVERY[other_side(id_)])
]


def test_only_what_two_structures_share_by_their_own_tables_names_none() -> None:
    shared = BY_TWO
    assert shared == {"divisio anterior", "divisio posterior", "drg", "sij"}
    assert not [(name, id_) for name, id_ in NAMES if name.casefold() in BY_TWO and named_by(name, EVERY.values())]


def test_every_published_name_is_a_name_of_its_structure() -> None:
    assert not [(name, id_) for name, id_ in OWN_NAMES if not is_called(name, id_, EVERY)]


def test_no_published_name_of_one_structure_is_one_of_another() -> None:
    wrong = []
    for name, id_ in NAMES:
        others = {bare_id(s) for s in named_by(name, EVERY.values())} - {bare_id(EVERY[id_])}
        wrong += [(name, id_, other) for other in others]
    assert not wrong
    for name, _ in NAMES[::9]:  # `is_called` is of one mind with `named_by`, over every pair
        assert {s.id for s in EVERY.values() if is_called(name, s.id, EVERY)} == {
            s.id for s in named_by(name, EVERY.values())
        }


#: Words as notes shorten them; of these no two names may become one.
SHORT = {
    "obturator": "obt.", "femoral": "fem.", "femoralis": "fem.", "femoris": "fem.", "ilioinguinal": "ilioing.",
    "iliohypogastric": "iliohyp.", "genitofemoral": "genitofem.", "inferior": "inf.", "lateral": "lat.",
    "lateralis": "lat.", "cutaneous": "cut.", "cutaneus": "cut.", "anterior": "ant.", "posterior": "post.",
    "internal": "int.", "external": "ext.", "accessory": "acc.", "branch": "br.", "branches": "brs.", "nerve": "nv.",
}  # fmt: skip


def shortened(name: str) -> str:
    return re.sub(r"[a-z]+", lambda word: SHORT.get(word[0], word[0]), name.casefold())


def variants(name: str) -> Iterator[str]:
    """The same name as people write it."""
    yield name.upper()
    yield f"  the {name}. "
    yield name.replace(" ", "-") if not re.search(r"\d", name) else name
    yield " ".join(reversed(name.split()))
    for word, short in (("nerve", "n."), ("muscle", "m."), ("artery", "a."), ("vein", "v."), ("nervus", "n")):
        yield re.sub(rf"\b{word}\b", short, name, flags=re.IGNORECASE)
    yield shortened(name)
    yield f"{name} (as seen here)"
    words = name.split()
    if len(words) < 5:
        yield from (", ".join(order) for order in permutations(words))


def test_however_a_name_is_written_it_names_its_own_structure_only() -> None:
    wrong = []
    for name, id_ in ONCE:
        for text in variants(name):
            found = {bare_id(s) for s in named_by(text, EVERY.values())}
            if found != {bare_id(EVERY[id_])}:
                wrong.append((text, id_, found))
    assert not wrong


def test_the_wrong_side_is_wrong_and_the_right_one_may_be_left_out() -> None:
    for name, id_ in OWN_NAMES[::2]:
        side, bare = EVERY[id_].side, without_side(name)
        assert is_called(bare, id_, EVERY), (bare, id_)
        for said in SIDES:
            assert is_called(f"{said} {bare}", id_, EVERY) == (said == side), (said, bare, id_)
            assert is_called(f"{bare}, {said}", id_, EVERY) == (said == side), (said, bare, id_)
        assert not is_called(f"left right {bare}", id_, EVERY)


LONG = [(name, id_, m.span()) for name, id_ in OWN_NAMES for m in WORDS.finditer(name.casefold())]
KNOWN = {word for name in OWNERS for word in re.findall(r"[a-z]+", name)} | set(synonyms().means)


@given(st.sampled_from(LONG), st.data())
def test_a_slip_of_one_letter_in_a_long_word_passes_and_never_for_another(
    name: tuple[str, str, tuple[int, int]], data: st.DataObject
) -> None:
    text, id_, (begin, end) = name
    word = text.casefold()[begin:end]
    at = data.draw(st.integers(0, len(word) - 1))
    letter = data.draw(st.sampled_from("abcdefghijklmnopqrstuvwxyz"))
    slip = data.draw(
        st.sampled_from(
            [
                word[:at] + word[at + 1 :],
                word[:at] + letter + word[at + 1 :],
                word[:at] + letter + word[at:],
                word[: at - 1] + word[at : at + 1] + word[at - 1 : at] + word[at + 1 :] if at else word,
            ]
        )
    )
    said = text[:begin] + slip + text[end:]
    found = {bare_id(s) for s in named_by(said, EVERY.values())}
    own = bare_id(EVERY[id_])
    if slip in KNOWN - {word}:
        assert found <= {own} | OWNERS.get(without_side(said.casefold()), set())
    else:
        assert found == {own}, (said, own, found)


@given(st.text(max_size=60), st.sampled_from(sorted(EVERY)))
def test_any_text_is_answered_and_what_is_accepted_names_nothing_else(text: str, id_: str) -> None:
    if is_called(text, id_, EVERY):
        assert {bare_id(s) for s in named_by(text, EVERY.values())} == {bare_id(EVERY[id_])}


#: What each may be called, and what it may not, by the brief of the issue and by how people write.
SAID = {
    "lateral_femoral_cutaneous_left": (
        [
            "LFCN",
            "lfcn",
            "lateral cutaneous nerve of the thigh",
            "cutaneous nerve of thigh, lateral femoral",
            "lateral femoral cutaneus n.",
            "n. cutaneus femoris lateralis",
            "Left LFCN",
            "lateral femoral cutanious nerve",
            "n. cut. fem. lat.",
            "lat. cut. nv. of thigh (LFCN, L2/3)",
        ],
        ["femoral", "lateral femoral", "right LFCN", "anterior femoral cutaneous nerve", "cutaneous nerve"],
    ),
    "femoral_left": (
        ["nerve, femoral", "femoral", "Femoralis", "FN", "L femoral nerve", "femorall nerve", "n. femoralis"],
        [
            "genitofemoral",
            "genito-femoral nerve",
            "lateral femoral cutaneous",
            "femoral artery",
            "femoral vein",
            "femoral branch",
            "femur",
            "R femoral nerve",
            "obturator",
            "femoral muscle",
            "femoral branch of the genitofemoral",
            "femoral nerve (artery)",
            "femoral nerve (genito-)",
            "fem. a.",
            "fem. br.",
        ],
    ),
    "obturator_left": (
        [
            "obturator",
            "ON",
            "nervus obturatorius",
            "obturater nerve",
            "obdurator",
            "obt. n.",
            "obt n",
            "obturator nv.",
            "obturator nerve (L2-4)",
            "obturator nerve (L2, 3, 4)",
            "obturator nerve (L 2 to L 4)",
            "(left) obt. nv. (ON; L2\u2013L4)",
            "obturator nerve (n. obturatorius)",
            "obturator nerve (to the medial thigh)",
        ],
        [
            "accessory obturator",
            "obturator internus",
            "anterior branch of the obturator nerve",
            "obturator muscle",
            "acc. obt. n.",
            "obt. int.",
            "obturator (internus)",
            "obturator (muscle)",
            "obturator nerve (L3-4)",
            "obturator nerve (L1-L4)",
            "obturator nerve (L2-4, L5)",
            "obturator nerve (2-4)",
            "obturator nerve (FN)",
            "obturator nerve (or femoral)",
            "obturator nerve (its anterior branch)",
            "obturator nerve (right, L2-4)",
            "obturator nerve (ON) (femoral nerve)",
            "obturator nerve (L2-4",
            "(L2-4)",
        ],
    ),
    "accessory_obturator_left": (["accessory obturator nerve", "AON", "accesory obturator"], ["obturator"]),
    "ilioinguinal_left": (
        ["ilio-inguinal", "IIN", "ilioinguinal n", "ilio inguinal nerve", "ilioingunal nerve"],
        ["iliohypogastric", "inguinal", "inguinal ligament", "IHN"],
    ),
    "iliohypogastric_left": (
        ["IHN", "iliohypogastric", "ileohypogastric", "ilio hypogastric"],
        ["ilioinguinal", "hypogastric", "lateral cutaneous branch of the iliohypogastric nerve"],
    ),
    "genitofemoral_left": (
        ["GFN", "genitofemoral", "genito femoral nerve", "nervus genitofemoralis"],
        ["femoral", "genital branch of the genitofemoral nerve", "genital"],
    ),
    "lumbosacral_trunk_left": (
        ["LST", "lumbo-sacral trunk", "lumbosacraltrunk", "truncus lumbosacralis"],
        ["L4", "L5", "lumbosacral plexus", "sacral plexus", "sympathetic trunk"],
    ),
    "l4_root_left": (
        [
            "L4 root",
            "root of L4",
            "4th lumbar root",
            "L4 nerve root",
            "L 4 root",
            "lumbar 4 root",
            "radix nervi lumbalis IV",
        ],
        ["L3 root", "L4", "L4 ganglion", "ventral ramus of L4", "L4-5", "L5 root", "L14 root", "T4 root"],
    ),
    "l3_ramus_left": (
        [
            "L3 ventral ramus",
            "anterior ramus of L3",
            "anterior primary ramus of L3",
            "ramus anterior nervi lumbalis tertii",
        ],
        ["L4 ventral ramus", "posterior ramus of L3", "L3", "L3 root"],
    ),
    "l4": (
        ["L4", "L4 vertebra", "fourth lumbar vertebra", "vertebra lumbalis IV", "L4 vertebral body"],
        ["L5", "L4 root", "L4 nerve"],
    ),
    "disc_l4_5": (
        ["L4-5", "L4/5 disc", "L4-L5", "disc L4 L5", "L4/L5 intervertebral disk"],
        ["L3-4", "L4", "L5-S1 disc"],
    ),
    "disc_l5_s1": (["L5-S1", "L5/S1 disc", "L5 S1 disc"], ["L4-5", "S1"]),
    "inferior_vena_cava": (["IVC", "vena cava", "inferior vena cava"], ["superior vena cava", "aorta", "left IVC"]),
    "quadratus_lumborum_left": (
        ["QL", "quadratus lumborum", "m. quadratus lumborum", "quadratus lumborum muscle"],
        ["quadratus femoris"],
    ),
    "psoas_major_left": (["psoas", "psoas major", "m psoas major"], ["psoas minor", "iliopsoas", "psoas nerve"]),
    "common_iliac_artery_left": (
        ["left common iliac artery", "common iliac a.", "CIA", "a. iliaca communis sinistra"],
        ["right common iliac artery", "common iliac vein", "common iliac", "external iliac artery", "iliac artery"],
    ),
    "internal_oblique_left": (["internal oblique", "IO"], ["external oblique", "oblique", "interior"]),
    "ureter_left": (["ureter", "urether", "left ureter"], ["urethra", "right ureter"]),
}


@pytest.mark.parametrize("id_", SAID)
def test_what_people_write(id_: str) -> None:
    right, wrong = SAID[id_]
    assert [words for words in right if not is_called(words, id_, EVERY)] == []
    assert [words for words in wrong if is_called(words, id_, EVERY)] == []


#: One name of each structure; and those that tell nothing beside it.
ONE_NAME = {id_: name for name, id_ in reversed(ONCE)}


def test_in_brackets_another_structure_spoils_a_name_and_its_own_names_and_segments_do_not() -> None:
    spoilt, kept = [], []
    for id_, name in ONE_NAME.items():
        roots = EVERY[id_].roots
        for text in (*published(EVERY[id_]), *([roots] if roots else [])):
            found = {bare_id(s) for s in named_by(f"{name} ({text})", EVERY.values())}
            kept += [(name, text, found)] if text.casefold() not in BY_TWO and found != {bare_id(EVERY[id_])} else []
        for other, text in ONE_NAME.items():
            found = {bare_id(s) for s in named_by(f"{name} ({text})", EVERY.values())}
            if bare_id(EVERY[other]) != bare_id(EVERY[id_]) and bare_id(EVERY[id_]) in found:
                spoilt.append((name, text, found))
    assert (spoilt, kept) == ([], [])


@given(st.sampled_from(sorted(id_ for id_, s in EVERY.items() if s.roots and id_ in ONE_NAME)), st.data())
def test_segments_in_brackets_are_right_or_the_name_is_not_taken(id_: str, data: st.DataObject) -> None:
    told = data.draw(st.lists(st.sampled_from(SEGMENTS), min_size=1, unique=True))
    said = data.draw(st.sampled_from([", ", " ", " and ", "; "])).join(told)
    found = {bare_id(s) for s in named_by(f"{ONE_NAME[id_]} ({said})", EVERY.values())}
    own = bare_id(EVERY[id_])
    if set(told) == set(segments(EVERY[id_].roots)):
        assert found == {own}
    else:
        assert own not in found or is_called(said, id_, EVERY)


def test_what_is_as_near_to_two_structures_names_neither() -> None:
    between = "enternal"
    assert distance(between, "internal") == distance(between, "external") == 1
    for words in (f"{between} oblique", f"{between} iliac artery", "a femoral", "common iliac"):
        assert named_by(words, EVERY.values()) == []


def test_nothing_and_too_much_name_nothing() -> None:
    for words in (
        "",
        "   ",
        ".,-",
        "nerve",
        "left",
        "the",
        "n.",
        "femoral " * 40,
        "x" * (LETTERS_MOST + 1),
        "5",
        "L",
        "🦴",
    ):
        assert named_by(words, EVERY.values()) == []


def test_a_body_without_a_variant_still_knows_its_name(alder: Body) -> None:
    assert "accessory_obturator_left" not in alder.structures
    assert not is_called("accessory obturator nerve", "obturator_left", alder.structures)
    assert is_called("obturator nerve", "obturator_left", alder.structures)


@given(st.text("abcde", max_size=7), st.text("abcde", max_size=7), st.text("abcde", max_size=7))
def test_a_distance_is_one(a: str, b: str, c: str) -> None:
    assert distance(a, b) == distance(b, a)
    assert (distance(a, b) == 0) == (a == b)
    assert distance(a, b) >= abs(len(a) - len(b))
    assert distance(a, b + c) <= distance(a, b) + len(c)


def test_exchanged_neighbours_are_one_slip() -> None:
    assert distance("femoral", "fmeoral") == 1
    assert distance("femoral", "femral") == 1
    assert distance("femoral", "obturator") > 2


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ('[kind.nerve]\nwords = "nerve"\nsource = "common_practice"', "kind.nerve"),
        ('[kind.nerve]\nwords = ["nerve"]\nsource = "nobody"', "nobody"),
        ('[kind.nerve]\nwords = ["nerve"]', "source"),
        ('[colour.red]\nwords = ["red"]\nsource = "common_practice"', "colour"),
    ],
)
def test_a_table_that_cannot_be_used_is_told_with_its_place(tmp_path, row: str, said: str) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "synonyms.toml"
    path.write_text(row)
    with pytest.raises(FurcalError, match=said) as told:
        read_synonyms(path)
    assert str(path) in str(told.value)
