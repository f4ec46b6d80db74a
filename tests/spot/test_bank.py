"""Banks of items: read word by word, everything wrong told with file, item and key; the bundled one whole."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from lessons.reading import text_of
from lessons.spot.bank import (
    ANSWER_KEYS,
    ITEMS_MAX,
    all_looked_over,
    bank_files,
    bundled_items,
    looked_over,
    read_banks,
)
from lessons.spot.item import KINDS, OBJECTIVES, SORTS, Docked, Named, Pointed, Quartered, Rooted
from lessons.spot.itemtext import row, sources_of
from meshes.errors import FurcalError

PATH = Path("harbour.toml")
HEAD: dict[str, Any] = {
    "id": "one", "objective": "course", "structure": "femoral_left", "ask": "Seen from in front. Which?",
    "explain": "So it is. [common_practice]",
}  # fmt: skip
#: A good answer of every kind.
ANSWERS: dict[str, dict[str, Any]] = {
    "name": {"mark": "femoral_left"},
    "point": {"target": "femoral_left"},
    "trace": {"roots": ["L3", "L2", "L4"]},
    "order": {"right": ["a", "b", "c"]},
    "predict": {"right": "a", "wrong": ["b", "c"]},
    "examine": {"right": "a", "wrong": ["b", "c"]},
    "find": {"right": "a", "wrong": ["b", "c"]},
    "quarter": {"disc": "L4-5", "right": ["III", "II"]},
    "dock": {"portal": {"level": "L4-5", "side": "left"}},
    "wire": {"mark": "femoral_left", "view": {"film": {"view": "front"}}},
    "differs": {"right": "a", "wrong": ["b", "c"], "specimen": {"variants": {"accessory_obturator_left": True}}},
}


def text(*items: dict[str, Any], **head: Any) -> str:
    return tomlkit.dumps({"furcal_items": 1, **head, "items": list(items)})


def wrongs(*items: dict[str, Any], **head: Any) -> list[str]:
    return looked_over(text(*items, **head), PATH)[1]


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_read_with_an_answer_of_its_sort(kind: str) -> None:
    items, problems = looked_over(text({**HEAD, "kind": kind, **ANSWERS[kind]}), PATH)
    assert problems == []
    assert isinstance(items[0].answer, SORTS[kind])
    assert not items[0].view.labels
    assert items[0].where == "harbour.toml, item 1 (one)"


def test_what_an_answer_leaves_out_is_the_usual_and_words_are_put_in_order() -> None:
    items, _ = looked_over(
        text(*({**HEAD, "id": kind, "kind": kind, **ANSWERS[kind]} for kind in ("point", "trace", "quarter", "dock"))),
        PATH,
    )
    point, trace, quarter, dock = (item.answer for item in items)
    assert isinstance(point, Pointed)
    assert point.within_mm == 6.0
    assert trace == Rooted(("L2", "L3", "L4"))
    assert quarter == Quartered("L4-5", "left", ("II", "III"))
    assert isinstance(dock, Docked)
    assert dock.clear_mm == 0.0


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"id": "One"}, "item 1, id: expected small letters"),
        ({"kind": "nam"}, "item 1 (one), kind: unknown kind 'nam'"),
        ({"objective": "corse"}, "objective: unknown objective 'corse'"),
        ({"ask": ""}, "ask: is empty"),
        ({"explain": "So. [no_such_source]"}, "explain: unknown source 'no_such_source'"),
        ({"mark": 3}, "mark: expected a text"),
        ({"roots": ["L2"]}, "unknown key of a name item 'roots'"),
        ({"view": {"dissection": "psoa"}}, "view"),
        ({"view": {"theme": "dark"}}, "reader's choice"),
        ({"specimen": {"sex": "other"}}, "specimen"),
        ({"lit": "femoral_left"}, "lit: expected a list of texts"),
        ({"ask": "a\x07?"}, "control character"),
        ({"kind": "point", "target": "femoral_left", "within_mm": True}, "within_mm: expected a number"),
        ({"kind": "point", "target": "femoral_left", "within_mm": 500}, "within_mm: expected a number from 1 to 30"),
        ({"kind": "trace", "roots": ["L9"]}, "unknown segment 'L9'"),
        ({"kind": "order", "right": ["a", "b"]}, "expected 3 to 7 different words"),
        ({"kind": "order", "right": ["a", "b", "a"]}, "expected 3 to 7 different words"),
        ({"kind": "find", "right": "a", "wrong": ["b"]}, "3 to 5 options"),
        ({"kind": "find", "right": "a", "wrong": ["A", "b"]}, "two options are the same"),
        ({"kind": "quarter", "disc": "L4-5", "right": ["V"]}, "unknown quarter 'V'"),
        ({"kind": "quarter", "disc": "L4-5", "right": ["I", "II", "III", "IV"]}, "nothing to ask"),
        ({"kind": "dock", "portal": {"level": "L9"}}, "unknown level 'L9'"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_with_item_and_key(changed: dict[str, Any], said: str) -> None:
    kind = changed.get("kind", "name")
    answer = {} if kind == "nam" else {k: v for k, v in ANSWERS[kind].items() if k not in changed}
    found = wrongs({**HEAD, "kind": kind, **answer, **changed})
    assert found
    assert any(said in sentence and sentence.startswith("harbour.toml, item 1") for sentence in found), found


def test_every_problem_of_every_item_is_told_and_ids_given_twice() -> None:
    mark = {"kind": "name", "mark": "femoral_left"}
    found = wrongs({**HEAD, **mark, "x": 1}, {**HEAD, "id": "two", "kind": "name"})
    assert found[0].startswith("harbour.toml, item 1 (one): unknown key of a name item 'x'")
    assert found[1].startswith("harbour.toml, item 2 (two), mark: is missing")
    again = wrongs({**HEAD, **mark}, {**HEAD, **mark})
    assert again == [
        "harbour.toml, item 2 (one): one is the id of harbour.toml, item 1 (one) too; give each item its own."
    ]


def test_ids_given_twice_in_two_files_are_told(tmp_path: Path) -> None:
    paths = [tmp_path / name for name in ("a.toml", "b.toml")]
    for path in paths:
        path.write_text(text({**HEAD, "kind": "name", "mark": "femoral_left"}))
    assert len(read_banks(paths[:1])) == 1
    with pytest.raises(FurcalError, match=r"b\.toml, item 1 \(one\): one is the id of .*a\.toml"):
        read_banks(paths)


def test_what_the_page_on_writing_items_shows_can_be_copied() -> None:
    page = (bank_files()[0].parent.parent / "ITEMS.md").read_text()
    example = "\n".join(line[4:] for line in page.splitlines() if line.startswith("    "))
    items, problems = looked_over(example.split("furcal_blueprint")[0], PATH)
    assert problems == []
    assert [item.id for item in items] == ["femoral_named_in_fossa"]
    forms = [tomlkit.parse(form).unwrap() for form in re.findall(r"`((?:specimen|view) = \{[^`]+\})`", page)]
    assert [next(iter(form)) for form in forms] == ["specimen", "view"]
    differs = {**HEAD, "id": "two", "kind": "differs", **ANSWERS["differs"], **forms[0]}
    assert wrongs({**HEAD, "kind": "quarter", **ANSWERS["quarter"], **forms[1]}, differs) == []
    for kind, answer in re.findall(r"^\| `(\w+)` \|.*?\|(.*)\|$", page, re.MULTILINE):
        for key in re.findall(r"`(\w+) =", answer):
            assert key in (*ANSWER_KEYS[kind], "specimen"), (kind, key)


LISTED = "; furcal lesson ids lists them."


@pytest.mark.parametrize(
    ("kind", "key", "given"),
    [
        ("name", "mark", "genitofemoral"),
        ("wire", "mark", "genitofemoral"),
        ("point", "target", "genitofemoral"),
        ("predict", "lit", ["femoral_left", "genitofemoral"]),
    ],
)
def test_an_id_that_no_body_has_is_told_with_the_nearest(kind: str, key: str, given: Any) -> None:
    (found,) = wrongs({**HEAD, "kind": kind, **ANSWERS[kind], key: given})
    start = f"harbour.toml, item 1 (one), {key}: unknown structure 'genitofemoral'. Nearest: genitofemoral_left, "
    assert found.startswith(f"{start}genitofemoral_right")
    assert found.endswith(LISTED)
    assert "variant" not in found


def test_an_id_that_only_a_variant_has_is_read_and_left_to_the_body() -> None:
    assert wrongs({**HEAD, "kind": "name", "mark": "accessory_obturator_left", "lit": ["t12_share_left"]}) == []


@pytest.mark.parametrize(
    "word",
    [
        *("femoral_left", "femoral", "L4-5", "disc_l4_5", "l4", "dural_sac"),
        *("accessory_obturator", "lfcn_lateral_to_asis_left", "lfcn_lateral_to_asis", "aorta_divides_high"),
    ],
)
def test_an_item_is_about_an_id_a_level_or_a_variant(word: str) -> None:
    assert wrongs({**HEAD, "kind": "name", "mark": "femoral_left", "structure": word}) == []


@pytest.mark.parametrize(
    ("word", "near"), [("femorl", "femoral"), ("L4-L5", "L4-5"), ("lfcn_left", "lateral_femoral_cutaneous_left")]
)
def test_a_word_that_no_item_is_about_is_told_with_the_nearest(word: str, near: str) -> None:
    (found,) = wrongs({**HEAD, "kind": "name", "mark": "femoral_left", "structure": word})
    assert found.startswith(
        f"harbour.toml, item 1 (one), structure: unknown structure, level or variant {word!r}. Nearest: "
    )
    assert near in found.split("Nearest: ")[1].removesuffix(LISTED).split(", ")
    assert found.endswith(LISTED)


def test_where_nothing_is_near_some_legal_words_are_told_and_where_the_rest_is() -> None:
    (found,) = wrongs({**HEAD, "kind": "name", "mark": "femoral_left", "structure": "qqq"})
    assert "Legal: T12-L1, L1-2, " in found
    assert found.endswith(f", ...{LISTED}")


@pytest.mark.parametrize(
    ("kind", "key", "given", "form"),
    [
        ("quarter", "right", "II", '["II"]'),
        ("quarter", "right", "II, III", '["II", "III"]'),
        ("trace", "roots", "L2-L4", '["L2", "L3", "L4"]'),
        ("trace", "roots", "L2-4", '["L2", "L3", "L4"]'),
        ("trace", "roots", "L2", '["L2"]'),
        ("order", "right", "skin, fat, psoas", '["skin", "fat", "psoas"]'),
        ("order", "right", "L2-L4", '["L2-L4"]'),
        ("predict", "wrong", "None", '["None"]'),
        ("predict", "wrong", "long " * 20, '["...", "..."]'),
        ("predict", "wrong", ",", '["...", "..."]'),
    ],
)
def test_a_text_in_place_of_a_list_is_told_with_the_list_that_is_meant(
    kind: str, key: str, given: str, form: str
) -> None:
    found = wrongs({**HEAD, "kind": kind, **ANSWERS[kind], key: given})
    said = f"harbour.toml, item 1 (one), {key}: expected a list of texts, at least one, as {form}; found {given[:5]!r}"
    assert found[0].startswith(said.removesuffix("'"))


AVERAGE: list[dict[str, Any]] = [
    {},
    {"specimen": {"name": "Alder"}},
    {"specimen": {"name": "Ash", "table_break_deg": 30}},
]


@pytest.mark.parametrize("given", AVERAGE)
def test_a_body_that_is_to_differ_and_does_not_is_told(given: dict[str, Any]) -> None:
    row = {**HEAD, "kind": "differs", "right": "a", "wrong": ["b", "c"], **given}
    (found,) = wrongs(row)
    assert found.startswith("harbour.toml, item 1 (one), specimen: ")
    assert ("is missing; the average adult differs in nothing, give the variant" in found) == (not given)
    assert "differs in nothing" in found
    form = found.split("that is asked for: ")[1].removesuffix(".")
    assert wrongs({**row, **tomlkit.parse(form)}) == []


@pytest.mark.parametrize("given", [{"psoas_scale": 1.4}, {"sex": "female"}, {"stature_mm": 1900}, {"seed": 4}])
def test_a_body_that_differs_without_a_variant_may_be_asked_about(given: dict[str, Any]) -> None:
    assert wrongs({**HEAD, "kind": "differs", **ANSWERS["differs"], "specimen": given}) == []


def test_the_good_items_are_read_beside_all_that_is_wrong(tmp_path: Path) -> None:
    mark = {"kind": "name", "mark": "femoral_left"}
    paths = [tmp_path / name for name in ("a.toml", "b.toml", "none.toml")]
    paths[0].write_text(text({**HEAD, **mark}, {**HEAD, **mark}, {**HEAD, **mark, "id": "bad", "mark": "femora"}))
    paths[1].write_text(text({**HEAD, **mark}, {**HEAD, **mark, "id": "two"}))
    items, problems = all_looked_over(paths)
    assert [(item.id, Path(item.where.split(",")[0]).name) for item in items] == [
        ("one", "a.toml"), ("one", "a.toml"), ("one", "b.toml"), ("two", "b.toml"),
    ]  # fmt: skip
    assert len(problems) == 4
    for said in ("a.toml, item 3 (bad), mark: unknown", "a.toml, item 2 (one): one is the id", "none.toml: ",
                 "b.toml, item 1 (one): one is the id"):  # fmt: skip
        assert len([problem for problem in problems if said in problem]) == 1, said


@pytest.mark.parametrize(
    ("broken", "said"),
    [
        ("", "a bank of items begins with the line furcal_items = 1"),
        ("furcal_items = 2", "written by a newer furcal"),
        ("furcal_items = 1", "at least one item"),
        ("furcal_items = 1\n[items]\nid = 1", "at least one item"),
        ("furcal_items = 1\n[[items]\n", "line 2"),
    ],
)
def test_what_is_no_bank_is_told(broken: str, said: str) -> None:
    items, problems = looked_over(broken, PATH)
    assert items == ()
    assert len(problems) == 1
    assert said in problems[0]


def test_too_many_items_are_refused() -> None:
    many = "furcal_items = 1\n" + "[[items]]\n" * (ITEMS_MAX + 1)
    assert looked_over(many, PATH)[1] == [
        f"harbour.toml, item {ITEMS_MAX + 1}: {ITEMS_MAX} items are the most in a file, and there are {ITEMS_MAX + 1}; "
        "divide it."
    ]


KEYS = sorted({*HEAD, *(key for keys in ANSWER_KEYS.values() for key in keys), "kind", "view", "lit", "specimen"})
VALUES = st.one_of(
    st.sampled_from(KINDS), st.booleans(), st.integers(), st.floats(), st.text(max_size=5),
    st.lists(st.text(max_size=3), max_size=3), st.dictionaries(st.text(max_size=3), st.integers(), max_size=2),
)  # fmt: skip


@given(st.dictionaries(st.sampled_from(KEYS), VALUES))
def test_no_item_whatever_it_holds_makes_the_reader_stumble(item: dict[str, Any]) -> None:
    try:
        written = text(item)
    except (ValueError, TypeError):  # what TOML cannot hold
        return
    items, problems = looked_over(written, PATH)
    assert bool(items) != bool(problems)


# --- the bank that comes with furcal


def test_the_bundled_bank_is_large_and_covers_every_kind_and_objective() -> None:
    items = bundled_items()
    assert len(items) >= 150
    kinds = Counter(item.kind for item in items)
    assert set(kinds) == set(KINDS)
    assert min(kinds.values()) >= 6
    assert {item.objective for item in items} == set(OBJECTIVES)
    nerves = {item.structure.removesuffix("_left").removesuffix("_right") for item in items}
    plexus = {
        "subcostal", "iliohypogastric", "ilioinguinal", "genitofemoral", "lateral_femoral_cutaneous", "femoral",
        "obturator", "lumbosacral_trunk",
    }  # fmt: skip
    assert plexus <= nerves
    assert {item.specimen.name for item in items} >= {"Alder"}


def test_every_bundled_item_has_a_source_and_says_where_it_stands() -> None:
    for item in bundled_items():
        assert sources_of(item), item.id
        assert row(item)["source"], item.id
        assert str(bank_files()[0].parent) in item.where
        if isinstance(item.answer, Named):
            assert item.answer.mark


def test_the_bundled_files_say_nothing_wrong() -> None:
    for path in bank_files():
        assert looked_over(text_of(path), path)[1] == []
