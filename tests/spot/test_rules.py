"""How items are written, rule by rule, on items that break one each; and the bundled bank, which breaks none."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lessons.spot.bank import bundled_items
from lessons.spot.item import Chosen, Item
from lessons.spot.rules import broken_rules, hints_of

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


def test_the_bundled_bank_breaks_no_rule() -> None:
    assert [sentence for item in bundled_items() for sentence in broken_rules(item)] == []
