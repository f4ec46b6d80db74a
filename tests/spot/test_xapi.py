"""Answers as statements: every rule of `tests.spot.xapirules` holds for any answer, and every rule can be broken."""

from __future__ import annotations

import json
from collections.abc import Callable
from copy import deepcopy
from datetime import timedelta
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lessons.spot.item import (
    QUARTERS,
    Answer,
    Chosen,
    Item,
    Named,
    Ordered,
    Pointed,
    Quartered,
    Rooted,
)
from lessons.spot.mark import marked
from lessons.spot.record import open_record, spare_record
from lessons.spot.response import (
    Arranged,
    Clicked,
    Picked,
    Placed,
    Quarter,
    Response,
    Said,
    Segments,
    Skipped,
)
from lessons.spot.verdict import Verdict
from lessons.spot.xapi import duration, iri, statements, xapi_json
from meshes.errors import FurcalError
from meshes.structures import SEGMENTS
from tests.lessons.anyview import IDS, placements
from tests.spot.anyitem import items
from tests.spot.records import ASKED, LEARNER, MORNING, RIGHT, answer_all, write_schema_1
from tests.spot.xapirules import RULES, Statement

Break = Callable[[Statement], Any]
millimetres = st.floats(-400, 400)


def responses(answer: Answer) -> st.SearchStrategy[Response]:
    """Any response that fits an answer."""
    match answer:
        case Chosen():
            return st.sampled_from(answer.options).map(Picked)
        case Quartered():
            return st.sampled_from(QUARTERS).map(Quarter)
        case Ordered(right):
            return st.permutations(right).map(lambda words: Arranged(tuple(words)))
        case Rooted():
            return st.lists(st.sampled_from(SEGMENTS), unique=True).map(lambda roots: Segments(tuple(roots)))
        case Named():
            return st.one_of(st.text(max_size=30), st.just("obturator[,]femoral")).map(Said)
        case Pointed():
            return st.builds(Clicked, IDS, st.tuples(millimetres, millimetres, millimetres))
    return st.builds(Placed, placements)


@st.composite
def answered(draw: st.DrawFn) -> tuple[Item, Response, Verdict, float]:
    """Any item and a response to it, marked where that needs no body."""
    item = draw(items())
    response = draw(st.one_of(st.just(Skipped()), responses(item.answer)))
    if isinstance(item.answer, (Chosen, Quartered, Ordered, Rooted)) and not isinstance(response, Skipped):
        verdict = marked(item, response)
    else:
        verdict = Verdict(draw(st.booleans()), draw(st.floats(0, 1)), "")
    return item, response, verdict, draw(st.floats(0, 1e5))


def broken(statement: Statement) -> list[str]:
    """Names of the rules that a statement breaks."""
    return [rule.__name__ for rule in RULES if not rule(statement)]


def told(*answers: tuple[Item, Response, Verdict, float]) -> list[Statement]:
    record = spare_record()
    for item, response, verdict, seconds in answers:
        record.add(item, response, verdict, seconds, MORNING)
    made: list[Statement] = json.loads(xapi_json(record))
    return made


@given(st.lists(answered(), min_size=1, max_size=3))
@settings(max_examples=50)
def test_no_rule_is_broken_by_any_answer(answers: list[tuple[Item, Response, Verdict, float]]) -> None:
    for statement in told(*answers):
        assert broken(statement) == []


# --- each rule bites


def of(kind: str) -> Statement:
    """The statement of an answer of ASKED."""
    (found,) = (one for one in told(*((i, r, RIGHT, 61.257) for i, r in ASKED)) if one["object"]["id"].endswith(kind))
    return found


def put(*path: str, value: Any) -> Break:
    def change(statement: Statement) -> None:
        node = statement
        for key in path[:-1]:
            node = node[key]
        node[path[-1]] = value

    return change


DEFINITION = ("object", "definition")
CHOICES = [{"id": "option_1", "description": {"en": "The knee."}}, {"id": "option_2", "description": {"en": "x"}}]
#: The item, what is done to its statement, and the rule that must tell.
BROKEN: tuple[tuple[str, Break, str], ...] = (
    ("chosen", put("weather", value="fine"), "properties_are_those_of_a_statement"),
    ("chosen", put("context", "team", value=None), "nothing_is_null_or_an_empty_object"),
    ("chosen", put("result", "extensions", value={}), "nothing_is_null_or_an_empty_object"),
    ("chosen", put("result", "success", value="false"), "numbers_and_booleans_are_no_strings"),
    ("chosen", put("id", value="answer 5"), "the_id_is_a_uuid"),
    ("chosen", put("actor", "mbox", value="mailto:a@example.org"), "the_actor_has_exactly_one_identifier"),
    ("chosen", put("actor", "age", value=20), "the_actor_has_no_other_properties"),
    ("chosen", put("actor", "account", "homePage", value="furcal"), "the_account_has_a_home_page_and_an_opaque_name"),
    ("chosen", put("actor", "account", "name", value="Grey Heron"), "the_account_has_a_home_page_and_an_opaque_name"),
    ("chosen", put("verb", "display", value="answered"), "the_verb_is_an_iri_with_words"),
    ("chosen", put("verb", "id", value="answered"), "the_verb_is_an_iri_with_words"),
    ("chosen", put("object", "id", value="items/chosen"), "the_object_is_an_activity_with_an_iri"),
    ("chosen", put("object", "id", value="https://furcal.invalid/a b"), "the_object_is_an_activity_with_an_iri"),
    ("chosen", put(*DEFINITION, "name", value={"english": "x"}), "its_definition_has_language_maps_and_a_type"),
    ("named", put(*DEFINITION, "interactionType", value="click"), "the_interaction_has_a_type_and_only_its_components"),
    ("named", put(*DEFINITION, "choices", value=CHOICES), "the_interaction_has_a_type_and_only_its_components"),
    ("chosen", put(*DEFINITION, "choices", value=[CHOICES[0]] * 2), "components_have_distinct_ids_without_space"),
    ("chosen", put(*DEFINITION, "correctResponsesPattern", value=["The thigh."]),
     "patterns_and_response_are_made_of_the_components"),
    ("chosen", put("result", "response", value="option_1[,]"), "patterns_and_response_are_made_of_the_components"),
    ("ordered", put("result", "response", value="word_1[,]word_2"), "patterns_and_response_are_made_of_the_components"),
    ("ordered", put("result", "response", value="word_1,word_2,word_3"),
     "patterns_and_response_are_made_of_the_components"),
    ("named", put("result", "response", value="a[,]b"), "a_typed_response_is_one"),
    ("chosen", put("result", "success", value=True), "what_is_right_matches_the_pattern"),
    ("chosen", put("result", "grade", value="A"), "the_result_has_its_own_properties"),
    ("chosen", put("result", "score", "scaled", value=1.01), "the_scaled_score_lies_between_minus_one_and_one"),
    ("chosen", put("result", "duration", value="61.26"), "the_duration_is_iso_8601"),
    ("chosen", put("result", "duration", value="PT61.257S"), "the_duration_is_iso_8601"),
    ("chosen", put("context", "registration", value="record"), "the_context_has_its_own_properties"),
    ("chosen", put("context", "contextActivities", "group", value=[]), "context_activities_are_arrays_of_activities"),
    ("chosen", put("context", "contextActivities", "grouping", value={"id": "https://furcal.invalid/a"}),
     "context_activities_are_arrays_of_activities"),
    ("chosen", put(*DEFINITION, "extensions", value={"kind": "find"}), "extensions_have_iris_for_keys"),
    ("chosen", put("timestamp", value="2026-01-12T09:30:00.000"), "the_timestamp_is_rfc_3339_in_utc"),
    ("chosen", put("timestamp", value="2026-01-12 09:30"), "the_timestamp_is_rfc_3339_in_utc"),
    ("chosen", put("timestamp", value="2999-01-12T09:30:00.000Z"), "the_timestamp_is_not_to_come"),
)  # fmt: skip


@pytest.mark.parametrize(("kind", "change", "rule"), BROKEN)
def test_a_statement_that_breaks_a_rule_is_told(kind: str, change: Break, rule: str) -> None:
    statement = deepcopy(of(kind))
    if rule == "what_is_right_matches_the_pattern":
        statement["result"]["success"] = False  # picked was the knee, right is the thigh
        assert broken(statement) == []
    (found,) = (one for one in RULES if one.__name__ == rule)
    change(statement)
    assert not found(statement)


def test_every_rule_has_something_that_breaks_it() -> None:
    assert {rule for *_, rule in BROKEN} == {rule.__name__ for rule in RULES}


# --- what becomes of which kind


@pytest.mark.parametrize(
    ("kind", "type_", "pattern", "response"),
    [
        ("named", "fill-in", None, "Femoral nerve"),
        ("pointed", "other", None, '{"point_mm": [1.0, 2.5, -3.0], "structure": "psoas_left"}'),
        ("rooted", "choice", ["L2[,]L3[,]L4"], "L2[,]L3"),
        ("ordered", "sequencing", ["word_3[,]word_1[,]word_2"], "word_1[,]word_3[,]word_2"),
        ("chosen", "choice", ["option_3"], "option_2"),
        ("quartered", "choice", ["II", "III"], "IV"),
        ("skipped", "fill-in", None, None),
    ],
)
def test_kinds(kind: str, type_: str, pattern: list[str] | None, response: str | None) -> None:
    statement = of(kind)
    found = statement["object"]["definition"]
    assert found["interactionType"] == type_
    assert found.get("correctResponsesPattern") == pattern
    assert statement["result"].get("response") == response
    assert statement["result"]["completion"] is (kind != "skipped")
    assert statement["object"]["id"] == f"https://furcal.invalid/items/{kind}"
    assert found["description"] == {"en": "A fall. Which is it?"}
    assert statement["timestamp"] == "2026-01-12T09:30:00.000Z"
    assert statement["result"]["duration"] == "PT61.26S"
    assert statement["context"]["contextActivities"]["grouping"][0]["id"] == "https://furcal.invalid/objectives/course"


def test_one_thing_typed_is_one_response() -> None:
    (statement,) = told((ASKED[0][0], Said("obturator[,]femoral"), RIGHT, 3.0))
    assert statement["result"]["response"] == "obturator,femoral"


def test_a_docked_portal_is_told_whole() -> None:
    statement = of("docked")
    assert statement["object"]["definition"]["interactionType"] == "other"
    assert json.loads(statement["result"]["response"])["side"] == "right"
    assert statement["object"]["definition"]["extensions"][iri("extensions", "answer")]["clear_mm"] == 1.0


@given(st.floats(0, 1e7))
def test_a_duration_is_the_time_to_a_hundredth(seconds: float) -> None:
    text = duration(seconds)
    assert text.startswith("PT")
    assert text.endswith("S")
    assert abs(float(text[2:-1]) - seconds) <= 0.005 + 1e-9 * seconds


# --- ids


def test_ids_are_stable_and_no_two_are_alike(tmp_path: Path) -> None:
    path = tmp_path / "record.sqlite"
    with open_record(path) as record:
        answer_all(record, rounds=2)
        first = statements(record.learner.id, record.answers())
        record.add(*ASKED[0], RIGHT, 3.0, MORNING + timedelta(days=9))
    with open_record(path) as record:
        later = statements(record.learner.id, record.answers())
    assert later[: len(first)] == first
    ids = [statement["id"] for statement in later]
    assert len(set(ids)) == len(ids) == 2 * len(ASKED) + 1
    assert {UUID(one).version for one in ids} == {5}
    others = statements(LEARNER, spare_answers())
    assert len({one["id"] for one in others} - set(ids)) == len(ASKED)


def spare_answers() -> Any:
    record = spare_record()
    answer_all(record)
    return record.answers()


def test_the_pseudonym_is_not_told_and_the_file_is_one_array() -> None:
    record = spare_record()
    answer_all(record)
    record.call("grey heron")
    text = xapi_json(record)
    assert "heron" not in text
    assert text.isascii()  # any reader of JSON takes it, also with half a sign typed

    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        assert len(dict(pairs)) == len(pairs)  # 2.2.s2.b2
        return dict(pairs)

    assert [one["object"]["definition"]["name"]["en"] for one in json.loads(text, object_pairs_hook=once)] == [
        item.id for item, _ in ASKED
    ]
    assert json.loads(xapi_json(spare_record())) == []


# --- answers of which less is known


def test_answers_of_schema_1_keep_the_rules(tmp_path: Path) -> None:
    write_schema_1(tmp_path / "record.sqlite")
    with open_record(tmp_path / "record.sqlite") as record:
        made = json.loads(xapi_json(record))
    assert len(made) == 12
    for statement in made:
        assert broken(statement) == []
        assert statement["object"]["definition"]["interactionType"] == "other"
        assert statement["result"]["response"] == "Femoral"


@pytest.mark.parametrize(
    "change", [{"response": {}}, {"response": []}, {"asked": {"answer": 3}}, {"asked": {"ask": ""}}]
)
def test_an_answer_that_a_hand_has_changed_is_named(change: dict[str, Any]) -> None:
    from dataclasses import replace

    first, second, *_ = spare_answers()
    with pytest.raises(FurcalError, match=r"^answer 2 is not as furcal writes it"):
        statements(LEARNER, [first, replace(second, **change)])
    with pytest.raises(FurcalError, match=r"^the learner's id 'heron' is not"):
        statements("heron", [first])
