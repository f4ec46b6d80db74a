"""Rules of the published standard for statements, each as a check of its own.

The standard is IEEE 9274.1.1-2023 ("xAPI 2.0"). Its text is sold and was not at hand; the numbers below are those of
Part Two of its open predecessor, version 1.0.3 (github.com/adlnet/xAPI-Spec, xAPI-Data.md), which was read for this.
That the rules stand in the standard too, with SHALL for MUST, that timestamps are those of RFC 3339 there, and that no
other properties may be added, is from memory.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from typing import Any
from urllib.parse import urlsplit

Statement = dict[str, Any]
#: 2.4: the properties of a statement. "stored" and "authority" are set by the store, "version" is not recommended.
OURS = {"id", "actor", "verb", "object", "result", "context", "timestamp"}
#: 2.4.2.3: what may identify an actor.
IDENTIFIERS = {"mbox", "mbox_sha1sum", "openid", "account"}
#: 2.4.4.1: types of interaction and the lists of components that each may have.
COMPONENTS: dict[str, set[str]] = {
    "true-false": set(), "choice": {"choices"}, "fill-in": set(), "long-fill-in": set(), "likert": {"scale"},
    "matching": {"source", "target"}, "performance": {"steps"}, "sequencing": {"choices"}, "numeric": set(),
    "other": set(),
}  # fmt: skip
ALL_COMPONENTS = set().union(*COMPONENTS.values())
#: RFC 4122 in standard string form, variant 2.
UUID_FORM = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[1-8][0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}")
#: RFC 3339, to the millisecond at least, in UTC.
MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3,}(Z|\+00:00)")
#: ISO 8601:2004 4.4.3.2, as far as seconds go, with at most two decimals.
DURATION = re.compile(r"PT(\d+H)?(\d+M)?(\d+(\.\d{1,2})?S)?")
#: RFC 5646: language, script, region.
TAG = re.compile(r"[a-z]{2,3}(-[A-Z][a-z]{3})?(-([A-Z]{2}|\d{3}))?")


def values(node: Any) -> Iterator[Any]:
    """Everything in a statement but what stands in extensions, which may be anything."""
    yield node
    if isinstance(node, dict):
        for key, value in node.items():
            yield from [value] if key == "extensions" else values(value)
    elif isinstance(node, list):
        for value in node:
            yield from values(value)


def is_iri(text: Any) -> bool:
    if not isinstance(text, str) or re.search(r'[\s<>"{}|\\^`\x00-\x20]', text):
        return False
    parts = urlsplit(text)
    return bool(re.fullmatch(r"[a-z][a-z0-9+.-]*", parts.scheme)) and bool(parts.netloc)


def is_language_map(value: Any) -> bool:
    return (
        isinstance(value, dict)
        and bool(value)
        and all(TAG.fullmatch(key) and isinstance(text, str) for key, text in value.items())
    )


# --- 2.2 Formatting requirements


def properties_are_those_of_a_statement(s: Statement) -> bool:
    """2.2.s2.b3, 2.2.s3.b6: actor, verb and object, and none that is not allowed."""
    return {"actor", "verb", "object"} <= set(s) <= OURS


def nothing_is_null_or_an_empty_object(s: Statement) -> bool:
    """2.2.s4.b1.b1, 2.2.s2.b1: nulls are rejected but in extensions; empty objects should not be."""
    return all(value is not None and value != {} for value in values(s))


def numbers_and_booleans_are_no_strings(s: Statement) -> bool:
    """2.2.s4.b1.b2 and b3."""
    result = s["result"]
    scaled = result["score"]["scaled"]
    numbers = isinstance(scaled, (int, float)) and not isinstance(scaled, bool)
    return numbers and isinstance(result["success"], bool) and isinstance(result["completion"], bool)


# --- 2.4.1 to 2.4.3


def the_id_is_a_uuid(s: Statement) -> bool:
    """2.4.1, 4.4: standard string form, lower case (2.2.s3.b5)."""
    return bool(UUID_FORM.fullmatch(s["id"]))


def the_actor_has_exactly_one_identifier(s: Statement) -> bool:
    """2.4.2.1.s2.b1 and b2."""
    return s["actor"].get("objectType", "Agent") == "Agent" and len(IDENTIFIERS & set(s["actor"])) == 1


def the_actor_has_no_other_properties(s: Statement) -> bool:
    """2.4.2.1, table: objectType, name and the identifier."""
    return set(s["actor"]) <= IDENTIFIERS | {"objectType", "name"}


def the_account_has_a_home_page_and_an_opaque_name(s: Statement) -> bool:
    """2.4.2.4: both required, the one an IRL; b2: where a person is not to be told, the name is opaque."""
    account = s["actor"]["account"]
    return (
        set(account) == {"homePage", "name"}
        and is_iri(account["homePage"])
        and bool(UUID_FORM.fullmatch(account["name"]))
    )


def the_verb_is_an_iri_with_words(s: Statement) -> bool:
    """2.4.3: the id an IRI, the display a language map."""
    return set(s["verb"]) == {"id", "display"} and is_iri(s["verb"]["id"]) and is_language_map(s["verb"]["display"])


# --- 2.4.4 Object


def the_object_is_an_activity_with_an_iri(s: Statement) -> bool:
    """2.4.4.1."""
    found = s["object"]
    return (
        found["objectType"] == "Activity" and is_iri(found["id"]) and set(found) <= {"objectType", "id", "definition"}
    )


def its_definition_has_language_maps_and_a_type(s: Statement) -> bool:
    """2.4.4.1.s2: name and description are language maps, type is an IRI; 2.4.4.1.s13.b2: that of interactions."""
    found = s["object"]["definition"]
    maps = all(is_language_map(found[key]) for key in ("name", "description") if key in found)
    return maps and "name" in found and found["type"] == "http://adlnet.gov/expapi/activities/cmi.interaction"


def the_interaction_has_a_type_and_only_its_components(s: Statement) -> bool:
    """2.4.4.1.s13.b1 and the table of component lists; the definition has no other properties."""
    found = s["object"]["definition"]
    kind = found.get("interactionType")
    if kind not in COMPONENTS or ALL_COMPONENTS & set(found) - COMPONENTS[kind]:
        return False
    rest = {"name", "description", "type", "extensions", "interactionType", "correctResponsesPattern", "moreInfo"}
    return set(found) <= rest | ALL_COMPONENTS


def components_have_distinct_ids_without_space(s: Statement) -> bool:
    """2.4.4.1.s15 and s16: id required and distinct, without white space; description a language map."""
    found = s["object"]["definition"]
    for name in ALL_COMPONENTS & set(found):
        ids = [one["id"] for one in found[name]]
        if len(set(ids)) != len(ids) or any(not one or re.search(r"\s|\[[,.:]\]", one) for one in ids):
            return False
        if not all(is_language_map(one["description"]) and set(one) == {"id", "description"} for one in found[name]):
            return False
    return True


def patterns_and_response_are_made_of_the_components(s: Statement) -> bool:
    """2.4.4.1.s10: lists of ids with [,] between them, of one id without; sequencing orders all of them, once each."""
    found = s["object"]["definition"]
    patterns = found.get("correctResponsesPattern", [])
    if not isinstance(patterns, list) or not all(isinstance(one, str) for one in patterns):
        return False
    if found["interactionType"] not in ("choice", "sequencing"):
        return True
    ids = {one["id"] for one in found["choices"]}
    response = s["result"].get("response")
    for text in patterns if response is None else [*patterns, response]:
        parts = text.split("[,]")
        if not set(parts) <= ids or len(set(parts)) != len(parts):
            return False
        if found["interactionType"] == "sequencing" and set(parts) != ids:
            return False
    return bool(patterns)


def a_typed_response_is_one(s: Statement) -> bool:
    """2.4.4.1.s10: [,] parts a list, and one thing was typed."""
    kind = s["object"]["definition"]["interactionType"]
    return kind != "fill-in" or "[,]" not in s["result"].get("response", "")


def what_is_right_matches_the_pattern(s: Statement) -> bool:
    """2.4.4.1.s11: the pattern is the whole list of right responses, so that success and match go together."""
    patterns, result = s["object"]["definition"].get("correctResponsesPattern"), s["result"]
    if patterns is None or "response" not in result:
        return True
    order = s["object"]["definition"]["interactionType"] == "sequencing"
    form: Callable[[str], Any] = (lambda text: text) if order else (lambda text: frozenset(text.split("[,]")))
    return result["success"] is (form(result["response"]) in {form(one) for one in patterns})


# --- 2.4.5 to 2.4.7, 4


def the_result_has_its_own_properties(s: Statement) -> bool:
    """2.4.5, table; the response is a text."""
    result = s["result"]
    legal = {"score", "success", "completion", "response", "duration", "extensions"}
    return set(result) <= legal and isinstance(result.get("response", ""), str) and set(result["score"]) == {"scaled"}


def the_scaled_score_lies_between_minus_one_and_one(s: Statement) -> bool:
    """2.4.5.1."""
    return bool(-1.0 <= s["result"]["score"]["scaled"] <= 1.0)


def the_duration_is_iso_8601(s: Statement) -> bool:
    """4.6: 4.4.3.2 of ISO 8601:2004, to a hundredth of a second at most."""
    text = s["result"]["duration"]
    return bool(DURATION.fullmatch(text)) and text != "PT"


def the_context_has_its_own_properties(s: Statement) -> bool:
    """2.4.6: registration a UUID; language a tag; platform only beside an activity (s4.b2)."""
    context = s["context"]
    legal = {"registration", "contextActivities", "platform", "language"}
    return (
        set(context) <= legal
        and bool(UUID_FORM.fullmatch(context["registration"]))
        and bool(TAG.fullmatch(context["language"]))
        and s["object"]["objectType"] == "Activity"
    )


def context_activities_are_arrays_of_activities(s: Statement) -> bool:
    """2.4.6.2.s4: four keys, arrays of activities."""
    groups = s["context"].get("contextActivities", {})
    return set(groups) <= {"parent", "grouping", "category", "other"} and all(
        isinstance(group, list) and group and all(is_iri(one["id"]) and is_language_map(one["definition"]["name"])
                                                  and is_iri(one["definition"]["type"]) for one in group)
        for group in groups.values()
    )  # fmt: skip


def extensions_have_iris_for_keys(s: Statement) -> bool:
    """4.1.s3.b1."""
    return all(is_iri(key) for key in s["object"]["definition"].get("extensions", {}))


def the_timestamp_is_rfc_3339_in_utc(s: Statement) -> bool:
    """4.5: to the millisecond, with its zone; it can be read."""
    return bool(MOMENT.fullmatch(s["timestamp"])) and datetime.fromisoformat(s["timestamp"]).tzinfo is not None


def the_timestamp_is_not_to_come(s: Statement) -> bool:
    """2.4.7.s3.b4."""
    return datetime.fromisoformat(s["timestamp"]) <= datetime.now(UTC)


RULES: tuple[Callable[[Statement], bool], ...] = (
    properties_are_those_of_a_statement,
    nothing_is_null_or_an_empty_object,
    numbers_and_booleans_are_no_strings,
    the_id_is_a_uuid,
    the_actor_has_exactly_one_identifier,
    the_actor_has_no_other_properties,
    the_account_has_a_home_page_and_an_opaque_name,
    the_verb_is_an_iri_with_words,
    the_object_is_an_activity_with_an_iri,
    its_definition_has_language_maps_and_a_type,
    the_interaction_has_a_type_and_only_its_components,
    components_have_distinct_ids_without_space,
    patterns_and_response_are_made_of_the_components,
    a_typed_response_is_one,
    what_is_right_matches_the_pattern,
    the_result_has_its_own_properties,
    the_scaled_score_lies_between_minus_one_and_one,
    the_duration_is_iso_8601,
    the_context_has_its_own_properties,
    context_activities_are_arrays_of_activities,
    extensions_have_iris_for_keys,
    the_timestamp_is_rfc_3339_in_utc,
    the_timestamp_is_not_to_come,
)
