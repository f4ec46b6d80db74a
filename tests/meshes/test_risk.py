"""The approaches by the books: a source for every row, ids of the body, mistakes told with their place."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from meshes.body import Body
from meshes.figures import published
from meshes.risk import RISK, ApproachRisk, approach_risk, of_level, read_risk
from meshes.structures import APPROACHES, LEVELS, SIDES
from meshes.tables import RESERVED_SOURCES
from meshes.told import Told, publications
from tests.meshes.refusals import refused

OF_NO_BODY = {
    "skin",
    "subcutaneous_fat",
    "intermuscular_fat",
    "retroperitoneal_fat",
    "psoas_fascia",
    "transversalis_fascia",
}


def told_of(risk: ApproachRisk) -> Iterator[Told]:
    yield from risk.before.values()
    yield from (stage.told for stage in risk.stages)
    yield from risk.whole
    yield from (row.told for row in risk.at)


@pytest.mark.parametrize("approach", APPROACHES)
def test_every_sentence_has_a_source_that_checks_nothing(approach: str) -> None:
    checking = {key for figure in published() if figure.use == "check" for key in figure.source.split("+")}
    for told in told_of(approach_risk()[approach]):
        read = set(told.sources) - set(RESERVED_SOURCES)
        assert told.sources
        assert not read & checking
        assert all(publications()[key]["use"] == "build" for key in read)
        assert read or told.basis in ("from_memory", "judgement"), told.says


@pytest.mark.parametrize("approach", APPROACHES)
def test_every_id_is_one_of_the_body(approach: str, alder: Body) -> None:
    risk = approach_risk()[approach]
    words = {w for s in risk.stages for w in (*s.crosses, *s.at_risk)} | {w for row in risk.at for w in row.at_risk}
    for level in risk.levels:
        ids = {n for word in words for n in of_level(word, level)} - OF_NO_BODY
        for side in SIDES:
            assert {n for n in ids if n not in alder.structures and f"{n}_{side}" not in alder.structures} == set()


@pytest.mark.parametrize("approach", APPROACHES)
def test_every_usual_level_has_words(approach: str) -> None:
    risk = approach_risk()[approach]
    assert risk.levels
    assert set(risk.levels) <= {row.level for row in risk.at}


@pytest.mark.parametrize("approach", APPROACHES)
def test_minutes_and_milliampere_carry_their_caution(approach: str) -> None:
    for told in told_of(approach_risk()[approach]):
        if "minutes" in told.says:
            assert told.caution.startswith("minutes: custom, not a limit")
        if "current" in told.says:
            assert told.caution == "mA: not a ruler"
        if " zone" in told.says:
            assert told.caution.startswith("zones: ")


def test_some_sentence_tells_of_each_of_them() -> None:
    cautions = {told.caution.partition(":")[0] for risk in approach_risk().values() for told in told_of(risk)}
    assert cautions == {"", "minutes", "mA", "zones"}


@pytest.mark.parametrize("level", LEVELS)
def test_the_nerve_that_leaves_is_that_of_the_upper_vertebra(level: str) -> None:
    above = level.split("-")[0].lower()
    assert of_level("exiting_ramus", level) == (f"{above}_ramus",)
    assert of_level("exiting_ganglion", level) == (f"{above}_ganglion",)
    assert of_level("vertebra", level)[0] == above
    assert of_level("femoral", level) == ("femoral",)


@pytest.mark.parametrize(
    ("pattern", "put", "said"),
    [
        (r"\[lateral\]", "[latral]", ("unknown key 'latral'", "Nearest: lateral")),
        (r'levels = \["L1-2"', 'levels = ["L1-3"', ("[lateral]", "unknown levels 'L1-3'", "Legal: T12-L1, L1-2")),
        (r'crosses = \["psoas_fascia"', 'crosses = ["psoas_fasia"', ("[lateral], layer 6", "Nearest: psoas_fascia")),
        (r'at_risk = \["subcostal"\]', 'at_risk = ["subcostel"]', ("[lateral], layer 2", "Nearest: subcostal")),
        (r"at_risk = \[", "at_rsk = [", ("[lateral], layer 1", "unknown key 'at_rsk'", "Nearest: at_risk")),
        (r"order = 2", "order = 3", ("[lateral], layer 2", "order is 3 and should be 2")),
        (r'name = "psoas"', "name = 3", ("[lateral], layer 6, name", "words")),
        (r'source = "obrien_2014"', 'source = "hearsay"', ("[lateral], preload", "unknown source 'hearsay'")),
        (r'source = "obrien_2014"', 'source = "moro_2003"', ("[lateral], preload", "moro_2003 is a source to check")),
        (r'source = "obrien_2014"', 'source = "judgement"', ("[lateral], preload", "no publication")),
        (r'basis = "from_memory"', 'basis = "hearsay"', ("[lateral], position", "unknown basis 'hearsay'")),
        (r'level = "L1-2"', 'level = "L1"', ("[lateral], at 1", "unknown level 'L1'")),
        (r'nerves = \["subcostal"', 'nerves = ["subcostel"', ("[lateral], at 1", "Nearest: subcostal")),
        (r'beside = \["colon"\]', "beside = [3]", ("[lateral], layer 5, beside", "list of words")),
        (r'posture = "side_lying"', 'posture = "sitting"', ("[lateral]", "unknown posture 'sitting'", "prone")),
        (r"position = \{", "psition = {", ("[lateral]", "unknown key 'psition'", "Nearest: position")),
    ],
)
def test_a_mistake_is_told_with_its_place(tmp_path: Path, pattern: str, put: str, said: tuple[str, ...]) -> None:
    text, count = re.subn(pattern, put, RISK.read_text(encoding="utf-8"), count=1)
    assert count == 1
    path = tmp_path / "approach_risk.toml"
    path.write_text(text, encoding="utf-8")
    sentence = refused(read_risk, path)
    assert sentence.startswith(str(path))
    for word in said:
        assert word in sentence
