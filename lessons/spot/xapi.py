"""A learner's answers as statements of the xAPI (IEEE 9274.1.1-2023, "xAPI 2.0"): one array of JSON, for a file.

Nothing is sent anywhere. The actor is the record's random id on a home page of a domain that is reserved for having no
meaning (RFC 2606, `.invalid`), and no name. `version`, `stored` and `authority` are left to the store that takes it in.

What the kinds of items become:

| answer | interactionType | pattern of the right responses |
|---|---|---|
| one of some options; a quarter; segments | choice | ids of the options, `[,]` between several |
| words in order | sequencing | ids of the words in their order |
| a name, typed | fill-in | none: a pattern is to be the whole list of what is right, and spelling is forgiven |
| a place pointed to, a portal docked | other | none, for the same reason |

What is right is told for every kind as an extension of the activity, in furcal's own words.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote, urljoin
from uuid import UUID, uuid5

from lessons.spot.item import OBJECTIVE_WORDS, QUARTERS
from lessons.spot.record import Answered, Record
from lessons.spot.schedule import in_utc
from meshes.errors import FurcalError, shown
from meshes.structures import SEGMENTS

HOME = "https://furcal.invalid/"
VERB = "http://adlnet.gov/expapi/verbs/answered"
INTERACTION = "http://adlnet.gov/expapi/activities/cmi.interaction"
OBJECTIVE = "http://adlnet.gov/expapi/activities/objective"
LANGUAGE = "en"
#: Between the parts of a response that is a list.
BETWEEN = "[,]"


@dataclass(frozen=True)
class Interaction:
    """How an answer is told.

    ids   : what was offered, in its own words -> its id; empty for what is typed, pointed to or docked
    right : patterns of right responses, any of which is right; None where they cannot be listed
    """

    type: str
    ids: Mapping[str, str]
    right: tuple[str, ...] | None


def xapi_json(record: Record) -> str:
    """All answers of a record as the text of a file."""
    return json.dumps(statements(record.learner.id, record.answers()), indent=1, allow_nan=False) + "\n"


def statements(learner: str, answers: Iterable[Answered]) -> list[dict[str, Any]]:
    """A statement for each answer, in their order. The same record gives the same statements, ids and all.

    Raises FurcalError for a record that was changed by hand.
    """
    try:
        space = UUID(learner)
    except ValueError:
        raise FurcalError(f"the learner's id {shown(learner)} is not as furcal writes it; undo the change.") from None
    made = []
    for answer in answers:
        try:
            made.append(_statement(learner, space, answer))
        except (AttributeError, KeyError, TypeError, ValueError):
            raise FurcalError(f"answer {answer.number} is not as furcal writes it; undo the change.") from None
    return made


def _statement(learner: str, space: UUID, answer: Answered) -> dict[str, Any]:
    how = interaction(answer.asked)
    return {
        "id": str(uuid5(space, f"answer {answer.number}")),
        "actor": {"objectType": "Agent", "account": {"homePage": HOME, "name": learner}},
        "verb": {"id": VERB, "display": {LANGUAGE: "answered"}},
        "object": {"objectType": "Activity", "id": iri("items", answer.item), "definition": _definition(answer, how)},
        "result": _result(answer, how),
        "context": _context(space, answer),
        "timestamp": in_utc(answer.when).isoformat(timespec="milliseconds").replace("+00:00", "Z"),
    }


def iri(*words: str) -> str:
    """A name of ours as an absolute IRI."""
    return urljoin(HOME, "/".join(quote(word, safe="") for word in words))


# --- what was asked


def interaction(asked: Mapping[str, Any]) -> Interaction:
    """How an item is told; an answer of which is not known what was asked is of the type `other`."""
    answer = asked.get("answer", {})
    match answer.get("sort"):
        case "chosen":
            ids = _numbered("option", (answer["right"], *answer["wrong"]))
            return Interaction("choice", ids, (ids[answer["right"]],))
        case "quartered":
            return Interaction("choice", {word: word for word in QUARTERS}, tuple(answer["right"]))
        case "rooted":
            return Interaction("choice", {word: word for word in SEGMENTS}, (BETWEEN.join(answer["roots"]),))
        case "ordered":
            ids = _numbered("word", answer["right"])
            return Interaction("sequencing", ids, (BETWEEN.join(ids[word] for word in answer["right"]),))
        case "named":
            return Interaction("fill-in", {}, None)
    return Interaction("other", {}, None)


def _numbered(what: str, words: Sequence[str]) -> dict[str, str]:
    """Ids without a space for some words; they follow the alphabet, so that none tells what is right."""
    return {word: f"{what}_{number}" for number, word in enumerate(sorted(words), start=1)}


def _definition(answer: Answered, how: Interaction) -> dict[str, Any]:
    asked = answer.asked
    made: dict[str, Any] = {"name": {LANGUAGE: answer.item}, "type": INTERACTION, "interactionType": how.type}
    if asked:
        made["description"] = {LANGUAGE: " ".join(text for text in (asked["vignette"], asked["ask"]) if text)}
        made["extensions"] = {iri("extensions", key): asked[key] for key in ("kind", "structure", "depth", "answer")}
    if how.right is not None:
        made["correctResponsesPattern"] = list(how.right)
    if how.ids:
        made["choices"] = [{"id": name, "description": {LANGUAGE: word}} for word, name in how.ids.items()]
    return made


# --- what was answered


def _result(answer: Answered, how: Interaction) -> dict[str, Any]:
    made: dict[str, Any] = {
        "score": {"scaled": min(max(answer.score, -1.0), 1.0)},
        "success": answer.right,
        "completion": "skipped" not in answer.response,
        "duration": duration(answer.seconds),
    }
    response = _response(answer.response, how)
    return made if response is None else {**made, "response": response}


def _response(response: Mapping[str, Any], how: Interaction) -> str | None:
    """The response as the type wants it; None where none was given, or one that was not offered."""
    ((sort, value),) = response.items()
    if sort == "skipped":
        return None
    if how.ids:
        words = value if isinstance(value, list) else [value]
        known = all(isinstance(word, str) and word in how.ids for word in words)
        return BETWEEN.join(how.ids[word] for word in words) if known and words else None
    if isinstance(value, str):
        return value.replace(BETWEEN, ",")  # typed by hand it would make two answers of one
    return json.dumps(value, sort_keys=True)


def duration(seconds: float) -> str:
    """A time as ISO 8601 tells it, to a hundredth of a second."""
    return f"PT{f'{seconds:.2f}'.rstrip('0').rstrip('.')}S"


def _context(space: UUID, answer: Answered) -> dict[str, Any]:
    made: dict[str, Any] = {
        "registration": str(uuid5(space, "record")),
        "platform": "furcal",
        "language": LANGUAGE,
    }
    if answer.asked:
        name = answer.asked["objective"]
        words = {"name": {LANGUAGE: OBJECTIVE_WORDS.get(name, name)}, "type": OBJECTIVE}
        grouping = [{"objectType": "Activity", "id": iri("objectives", name), "definition": words}]
        made["contextActivities"] = {"grouping": grouping}
    return made
