"""Typed words name the structure that is meant, and never another one."""

import re
from collections.abc import Iterator
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.spot.names import LETTERS_MOST, distance, is_called, named_by
from lessons.spot.wordbook import bare_id, read_synonyms, synonyms
from meshes.body import Body
from meshes.errors import FurcalError
from meshes.structures import SEGMENTS, SIDES, segments
from tests.spot.everyname import BY_TWO, EVERY, NAMES, ONCE, OWN_NAMES, OWNERS, published, without_side

WORDS = re.compile(r"[a-z]{6,}")


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
