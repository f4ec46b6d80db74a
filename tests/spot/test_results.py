"""A result is read as it was written, and whatever was done to its file since is told in one sentence."""

from __future__ import annotations

import base64
import errno
import hashlib
import hmac
import json
import os
import stat
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.spot.item import KINDS, OBJECTIVES, QUARTERS
from lessons.spot.response import Arranged, Clicked, Picked, Placed, Quarter, Response, Said, Segments, Skipped
from lessons.spot.results import (
    Given,
    Result,
    fingerprint,
    new_key,
    read_key,
    read_result,
    signed,
    unsigned,
    write_result,
)
from lessons.view import Placement
from meshes.errors import FurcalError
from meshes.structures import SEGMENTS

KEY = bytes(range(32))
OTHER = bytes(32)
RESPONSES: tuple[Response, ...] = (
    Said("femoral <nerve> \u202e\n"), Clicked("femoral_left", (1.25, -2.0, 1e-2)), Segments(("L2", "L3")),
    Arranged(("a", "b", "c")), Picked('the "one"'), Quarter("III"), Placed(Placement()), Skipped(),
)  # fmt: skip


def result_of(*responses: Response, candidate: str = "17") -> Result:
    answers = tuple(
        Given(
            f"item_{n}", KINDS[n % len(KINDS)], OBJECTIVES[n % len(OBJECTIVES)], response, n % 2 == 0, 0.25 * (n % 4), n
        )
        for n, response in enumerate(responses or RESPONSES)
    )
    return Result("winter_1", "ab" * 32, candidate, "2026-01-20T10:15:00+00:00", answers)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "17.json"
    write_result(path, result_of(), KEY)
    return path


def refused(path: Path, key: bytes | None = KEY, allow_unsigned: bool = False) -> str:
    with pytest.raises(FurcalError) as told:
        read_result(path, key, allow_unsigned)
    sentence = str(told.value)
    assert sentence.startswith(str(path))
    assert "\n" not in sentence
    return sentence


def changed(path: Path, change: Callable[[dict[str, Any]], object]) -> None:
    table = json.loads(path.read_text())
    change(table)
    path.write_text(json.dumps(table))


def test_what_was_written_is_read(file: Path) -> None:
    assert read_result(file, KEY) == result_of()
    assert read_result(file, None) == result_of()


texts = st.text(st.characters(codec=None), min_size=1).filter(str.strip)
responses = st.one_of(
    st.builds(Said, st.text()), st.builds(Picked, st.text()), st.sampled_from(QUARTERS).map(Quarter),
    st.lists(st.text()).map(lambda words: Arranged(tuple(words))),
    st.lists(st.sampled_from(SEGMENTS)).map(lambda roots: Segments(tuple(roots))), st.just(Skipped()),
)  # fmt: skip


@given(st.lists(responses, min_size=1, max_size=6), texts)
def test_every_result_is_read_as_it_was_written(
    tmp_path_factory: pytest.TempPathFactory, said: list[Response], paper: str
) -> None:
    path = tmp_path_factory.mktemp("any") / "r.json"
    result = replace(result_of(*said), paper=paper)
    write_result(path, result, KEY)
    assert read_result(path, KEY) == result


def test_the_signature_is_that_of_the_canonical_json_in_the_terms_of_the_standard_library(file: Path) -> None:
    table = json.loads(file.read_text())
    signature = table.pop("signature")
    bare = json.dumps(table, sort_keys=True, separators=(",", ":")).encode()
    assert signature == hmac.digest(KEY, bare, "sha256").hex()


def test_white_space_and_order_of_keys_are_no_change(file: Path) -> None:
    table = json.loads(file.read_text())
    file.write_text(json.dumps(dict(reversed(table.items())), indent=7))
    assert read_result(file, KEY) == result_of()


CHANGES: dict[str, Callable[[dict[str, Any]], object]] = {
    "right": lambda t: t["answers"][1].update(right=True),
    "score": lambda t: t["answers"][1].update(score=1.0),
    "seconds": lambda t: t["answers"][1].update(seconds=1.5),
    "response": lambda t: t["answers"][4].update(response={"picked": "the other"}),
    "item": lambda t: t["answers"][4].update(item="item_99"),
    "objective": lambda t: t["answers"][0].update(objective=OBJECTIVES[3]),
    "one answer less": lambda t: t["answers"].pop(),
    "answers in another order": lambda t: t["answers"].reverse(),
    "candidate": lambda t: t.update(candidate="18"),
    "when": lambda t: t.update(when="2026-01-20T10:16:00+00:00"),
    "paper": lambda t: t.update(paper="winter_2"),
    "paper_hash": lambda t: t.update(paper_hash="cd" * 32),
    "signature": lambda t: t.update(signature="0" * 64),
}


@pytest.mark.parametrize("change", CHANGES)
def test_whatever_is_changed_by_hand_is_noticed(file: Path, change: str) -> None:
    changed(file, CHANGES[change])
    read_result(file, None)  # well-formed: only the key tells
    assert "signature: does not match, so the file was changed" in refused(file)


def test_a_result_signed_with_another_key_is_told_as_that(file: Path) -> None:
    sentence = refused(file, OTHER)
    assert "another key" in sentence
    assert fingerprint(KEY) in sentence
    assert fingerprint(OTHER) in sentence


def test_a_forged_fingerprint_does_not_help(file: Path) -> None:
    changed(file, lambda t: t.update(signed_with=fingerprint(OTHER)))
    assert "does not match" in refused(file, OTHER)


def test_unsigned_files_are_taken_only_where_they_are_allowed(tmp_path: Path) -> None:
    path = tmp_path / "u.json"
    path.write_text(unsigned(result_of()))
    assert "signature: is missing" in refused(path)
    assert "signature: is missing" in refused(path, None)
    assert read_result(path, KEY, allow_unsigned=True) == result_of()


def test_that_unsigned_files_are_allowed_excuses_no_wrong_signature(file: Path) -> None:
    changed(file, CHANGES["right"])
    assert "does not match" in refused(file, allow_unsigned=True)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is no whole JSON"),
        ('{"furcal_result": 1, "answers": [', "is no whole JSON (line 1"),
        ("[" * 100_000, "is no whole JSON"),
        ("[1]", "is no result"),
        ("{}", "it has no furcal_result"),
        ('{"furcal_result": 2}', "written by a newer furcal (schema 2)"),
        ('{"furcal_result": 0}', "furcal_result: expected the whole number 1, found 0"),
        ('{"furcal_result": true}', "furcal_result: expected the whole number 1, found True"),
        ('{"furcal_result": 1, "furcal_result": 1}', "the key 'furcal_result' stands twice"),
        ('{"furcal_result": 1, "score": NaN}', "holds NaN, which is no number"),
        ('{"furcal_result": 1, "score": ' + "9" * 5000 + "}", "digits"),
        ('{"furcal_result": 1, "name": "x"}', "unknown key 'name'"),
        ('{"furcal_result": 1, "signature": "abc"}', "signature: expected 64 hexadecimal digits"),
    ],
)  # fmt: skip
def test_what_is_no_result_is_told(tmp_path: Path, text: str, says: str) -> None:
    path = tmp_path / "broken.json"
    path.write_text(text)
    assert says in refused(path)


SHAPES: list[tuple[Callable[[dict[str, Any]], object], str]] = [
    (lambda t: t.update(candidate="Smith"), "candidate: expected a number"),
    (lambda t: t.update(candidate=17), "candidate: expected a text"),
    (lambda t: t.update(paper=""), "paper: expected a text"),
    (lambda t: t.update(paper_hash="xyz"), "paper_hash: expected 64"),
    (lambda t: t.update(when="yesterday"), "when: expected a date"),
    (lambda t: t.update(when="2026-01-20T10:15:00"), "when: expected a date and time with its zone"),
    (lambda t: t.update(answers=[]), "answers: expected a list"),
    (lambda t: t.update(answers={}), "answers: expected a list"),
    (lambda t: t["answers"].append(3), "answer 9: expected an object"),
    (lambda t: t["answers"].append(t["answers"][0]), "answer 9, item: 'item_0' was answered before"),
    (lambda t: t["answers"][2].update(right=1), "answer 3, right: expected true or false"),
    (lambda t: t["answers"][2].update(score=1.5), "answer 3, score: expected a number from 0 to 1"),
    (lambda t: t["answers"][2].update(score=True), "answer 3, score"),
    (lambda t: t["answers"][2].update(score=10**400), "answer 3, score"),
    (lambda t: t["answers"][2].update(seconds=-1), "answer 3, seconds"),
    (lambda t: t["answers"][2].update(kind="essay"), "answer 3: unknown kind 'essay'"),
    (lambda t: t["answers"][2].update(objective="luck"), "answer 3: unknown objective 'luck'"),
    (lambda t: t["answers"][2].update(name="x"), "answer 3: unknown key 'name'"),
    (lambda t: t["answers"][2].update(response={}), "answer 3, response: expected an object"),
    (lambda t: t["answers"][2].update(response={"sung": "x"}), "answer 3, response: unknown response 'sung'"),
    (lambda t: t["answers"][2].update(response={"segments": ["L9"]}), "answer 3, response, segments: unknown segment"),
    (lambda t: t["answers"][1]["response"]["clicked"].update(point_mm=[1, 2, 10**400]), "an id and three numbers"),
]


@pytest.mark.parametrize(("change", "says"), SHAPES)
def test_a_wrong_shape_is_told_with_its_place(
    file: Path, change: Callable[[dict[str, Any]], object], says: str
) -> None:
    changed(file, change)
    assert says in refused(file, None)


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.just(10**400) | st.floats(allow_nan=False) | st.text(max_size=3),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=3), inner, max_size=3),
    max_leaves=6,
)


@given(st.data())
def test_whatever_stands_in_any_place_of_a_file_is_read_or_told(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    path = tmp_path_factory.mktemp("odd") / "r.json"
    table = json.loads(signed(result_of(), KEY))
    places: list[tuple[Any, Any]] = [(table, name) for name in table]
    places += [(table["answers"], n) for n in range(8)]
    places += [(row, name) for row in table["answers"] for name in row]
    places += [(row["response"], name) for row in table["answers"] for name in row["response"]]
    holder, name = data.draw(st.sampled_from(places))
    before = holder[name]
    holder[name] = data.draw(json_values)
    path.write_text(json.dumps(table))
    if holder[name] != before or type(holder[name]) is not type(before):
        refused(path)  # with the key whatever it is
    with suppress(FurcalError):  # and without it nothing but such a sentence
        read_result(path, None, allow_unsigned=True)


def test_a_file_that_is_none_is_told(tmp_path: Path) -> None:
    assert "no such file" in refused(tmp_path / "none.json")
    assert "is a folder" in refused(tmp_path)
    os.mkfifo(tmp_path / "pipe")
    assert "not a plain file" in refused(tmp_path / "pipe")
    (tmp_path / "large").write_bytes(b" " * 4_000_001)
    assert "which no result is" in refused(tmp_path / "large")
    (tmp_path / "latin").write_bytes(b'{"\xff')
    assert "not UTF-8" in refused(tmp_path / "latin")


def test_what_no_reader_would_take_is_not_written(tmp_path: Path) -> None:
    for wrong in (replace(result_of(), candidate="Smith"), replace(result_of(), answers=())):
        with pytest.raises(FurcalError):
            write_result(tmp_path / "r.json", wrong, KEY)
    assert list(tmp_path.iterdir()) == []


def test_a_key_is_new_whole_private_and_never_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "key.txt"
    key = new_key(path)
    assert len(key) == 32
    assert key != new_key(tmp_path / "second.txt")
    assert read_key(path) == key
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert base64.b64decode(path.read_text().splitlines()[1]) == key
    assert "give it to no candidate" in path.read_text().splitlines()[0]
    before = path.read_bytes()
    with pytest.raises(FurcalError, match="never overwritten"):
        new_key(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize("text", ["", "hello\n", "furcal examination key 1\n", "furcal examination key 1\nAAAA\n",
                                  "furcal examination key 1\n" + "A" * 43 + "=\nmore\n"])  # fmt: skip
def test_what_is_no_key_is_told(tmp_path: Path, text: str) -> None:
    path = tmp_path / "key.txt"
    path.write_text(text)
    with pytest.raises(FurcalError, match=r"key\.txt, line [12]: "):
        read_key(path)


def test_a_key_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    with pytest.raises(FurcalError, match="cannot be written"):
        new_key(tmp_path / "nowhere" / "key.txt")


def test_the_key_stands_in_no_results_file_and_its_fingerprint_is_no_part_of_it() -> None:
    text = signed(result_of(), KEY)
    assert KEY.hex() not in text
    assert base64.b64encode(KEY).decode() not in text
    assert hashlib.sha256(KEY).hexdigest()[:16] != fingerprint(KEY)


def test_a_disk_that_is_full_leaves_no_half_key_and_no_half_result(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    write_result(tmp_path / "r.json", result_of(), KEY)
    before = (tmp_path / "r.json").read_bytes()
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(FurcalError, match=r"key\.txt: the key cannot be written \(No space left on device\)"):
        new_key(tmp_path / "key.txt")
    with pytest.raises(FurcalError, match=r"r\.json: cannot be written \(No space left on device\)"):
        write_result(tmp_path / "r.json", result_of(Skipped()), KEY)
    assert [path.name for path in tmp_path.iterdir()] == ["r.json"]
    assert (tmp_path / "r.json").read_bytes() == before
