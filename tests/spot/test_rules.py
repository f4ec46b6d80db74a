"""How items are written, rule by rule, on items that break one each; and the bundled bank, which breaks none."""

from __future__ import annotations

from dataclasses import replace

import pytest
import tomlkit

from lessons.film import Film
from lessons.spot.bank import bundled_items
from lessons.spot.item import Chosen, Item, Ordered, Quartered
from lessons.spot.rules import broken_rules, hints_of
from lessons.view import Camera, View
from lessons.view import from_table as view_from

GOOD = Item(
    id="good",
    kind="predict",
    objective="loss",
    structure="obturator_left",
    vignette="A learner of 40 is operated on at L4-5 from the left.",
    ask="The obturator nerve is cut. Which movement is weak?",
    answer=Chosen("Adduction of the hip", ("Extension of the knee", "Flexion of the knee", "Dorsiflexion of the foot")),
    explain="The adductors are served by it. [common_practice]",
    where="bank.toml, item 1 (good)",
)


def test_a_good_item_breaks_no_rule() -> None:
    assert broken_rules(GOOD) == []
    assert hints_of(GOOD) == []


@pytest.mark.parametrize(
    ("changed", "word"),
    [
        ({"ask": "Which movement is not weak?"}, "negative"),
        ({"ask": "All of these are weak except which movement?"}, "negative"),
        ({"ask": "Which movement doesn't get weak?"}, "negative"),
        ({"ask": "Which of the following is true?"}, "covered"),
        ({"ask": "The nerve that is cut is an?"}, "article"),
        ({"ask": "Which movement is weak"}, "question mark"),
        ({"vignette": "A learner of 40. What is cut?"}, "question comes last"),
        ({"ask": "What does the yellow nerve do?"}, "colour"),
        ({"kind": "name", "vignette": "", "ask": "Name the marked nerve."}, "from where"),
        ({"explain": "The adductors are served by it."}, "no source"),
        ({"answer": Chosen("Adduction", ("Extension", "Flexion", "All of the above"))}, "own answer"),
        ({"answer": Chosen("Adduction", ("Extension", "Flexion", "Never any movement"))}, "absolute"),
        ({"answer": Chosen("Adduction of the hip.", ("Extension of the knee", "Flexion of the knee"))}, "full stop"),
        ({"answer": Chosen("Adduction of the hip", ("extension of the knee", "Flexion of the knee"))}, "capital"),
        (
            {
                "answer": Chosen(
                    "Adduction of the hip, with the knee bent", ("Knee extension", "Knee flexion")
                )
            },
            "longer",
        ),
        (
            {"answer": Chosen("Adduction", ("Extension", "Flexion of the knee with the foot turned outwards, lying"))},
            "three times",
        ),
        (
            {"ask": "The adductors twitch. Which are hurt?", "answer": Chosen("Adductors", ("Flexors", "Extensors"))},
            "repeats",
        ),
    ],
)  # fmt: skip
def test_each_rule_is_seen_alone_and_named(changed: dict[str, object], word: str) -> None:
    found = broken_rules(replace(GOOD, **changed))  # type: ignore[arg-type]
    assert len(found) == 1
    assert word in found[0]
    assert found[0].startswith("bank.toml, item 1 (good), ")


@pytest.mark.parametrize(
    "ask",
    [
        "Which nerve is a knot of the others made of?",  # knot
        "What does a note of the examiner say?",
        "Which is the innermost?",
    ],
)
def test_words_that_hold_a_rules_word_break_none(ask: str) -> None:
    assert broken_rules(replace(GOOD, ask=ask)) == []


def test_the_map_of_the_skin_and_a_figure_are_hinted_at() -> None:
    assert "map of the skin" in hints_of(replace(GOOD, ask="Which patch is numb?"))[0]
    assert hints_of(replace(GOOD, ask="Which patch is numb, by nerve territory?")) == []
    assert "figure" in hints_of(replace(GOOD, explain="It is 5 mm thick."))[0]


def test_no_map_of_the_skin_is_hinted_at_where_the_skin_is_a_layer() -> None:
    ask = "Seen from the left. Put the layers in order, from the skin inwards."
    layers = replace(GOOD, kind="order", ask=ask, answer=Ordered(("Fat", "Psoas major", "L4-5 disc")))
    assert hints_of(layers) == []
    for kind in ("predict", "examine", "find"):
        assert "map of the skin" in hints_of(replace(layers, kind=kind))[0]


QUARTER = replace(
    GOOD, kind="quarter", answer=Quartered("L4-5", "right", ("II",)), vignette="",
    ask="Seen from the right. In which quarter may its middle stand?",
)  # fmt: skip
DISC = frozenset({"disc_l4_5"})


@pytest.mark.parametrize(
    ("view", "small"),
    [
        (View(), True),
        (View(Camera("right")), True),
        (View(Camera("right", half_height_mm=120.5)), True),
        (View(Camera("right", half_height_mm=150.0, on=DISC)), True),
        (View(Camera("right", half_height_mm=120.0)), False),
        (View(Camera("right", on=DISC)), False),
        (View(Camera("right", on=DISC, half_height_mm=60.0)), False),
        (View(Camera("portal")), False),
        (View(Camera("right"), film=Film("right")), False),
    ],
)
def test_a_quarter_of_a_disc_that_is_small_in_its_picture_is_hinted_at(view: View, small: bool) -> None:
    found = hints_of(replace(QUARTER, view=view))
    assert len(found) == small
    if small:
        assert found[0].startswith("bank.toml, item 1 (good), view, camera: the disc is small")
        form = found[0].split("bring it near, as ")[1].removesuffix(".")
        mended = view_from(tomlkit.parse(form).unwrap())
        assert mended.camera == Camera("right", half_height_mm=60.0, on=DISC)
        assert hints_of(replace(QUARTER, view=mended)) == []
    assert hints_of(replace(GOOD, view=view)) == []


def test_no_disc_of_the_bundled_bank_is_small_in_its_picture() -> None:
    assert [hint for item in bundled_items() for hint in hints_of(item) if "small" in hint] == []


def test_the_bundled_bank_breaks_no_rule() -> None:
    assert [sentence for item in bundled_items() for sentence in broken_rules(item)] == []
