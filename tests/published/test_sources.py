"""A source either builds the body or checks it; every key that is cited exists, and every source is used."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from meshes.figures import published
from meshes.tables import ANATOMY, RESERVED_SOURCES, read_toml, source_keys

SOURCES = read_toml(ANATOMY / "sources.toml")
TABLES = [path for path in sorted(ANATOMY.rglob("*")) if path.suffix in (".csv", ".toml")]
ROWS = [path for path in TABLES if path.name not in ("published.csv", "sources.toml")]
#: Sources that no row cites, with the reason why they stand in the table all the same.
UNCITED: dict[str, str] = {}


def _cited(value: Any) -> Iterator[str]:
    """Every source key below a table's value, however deep."""
    if isinstance(value, dict):
        for key, inner in value.items():
            if key == "sources" or key.endswith("source"):
                words = inner if isinstance(inner, list) else [inner]
                yield from (w.strip() for word in words for w in str(word).split("+"))
            else:
                yield from _cited(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _cited(inner)


def _keys(path: Path) -> set[str]:
    if path.suffix == ".toml":
        return set(_cited(read_toml(path)))
    import csv

    with path.open(encoding="utf-8", newline="") as file:
        return {k.strip() for row in csv.DictReader(file) for k in str(row["source"]).split("+")}


@pytest.mark.parametrize("path", ROWS, ids=lambda p: p.name)
def test_no_row_of_the_body_cites_a_source_that_checks_it(path: Path) -> None:
    keys = _keys(path)
    assert keys, f"{path.name} cites nothing"
    assert keys <= source_keys()
    assert {k: SOURCES[k]["use"] for k in keys - set(RESERVED_SOURCES) if SOURCES[k]["use"] != "build"} == {}


def test_the_scan_finds_what_is_planted() -> None:
    planted = {"a": [{"b": {"source": "lu_2011+judgement"}}], "sources": ["moro_2003"]}
    assert set(_cited(planted)) == {"lu_2011", "judgement", "moro_2003"}


def test_every_source_says_what_for_and_is_cited() -> None:
    for key, source in SOURCES.items():
        assert set(source) >= {"cite", "use"}, key
        assert source["use"] in ("build", "check", "shown"), key
        assert key not in RESERVED_SOURCES
    cited = set().union(*(_keys(path) for path in ROWS))
    shown = {key for row in published() for key in row.source.split("+")}
    assert set(SOURCES) - cited - shown == set(UNCITED)


def test_a_source_that_checks_is_used_to_check() -> None:
    checked = {key for row in published() if row.use == "check" for key in row.source.split("+")}
    assert {key for key, source in SOURCES.items() if source["use"] == "check"} == checked


def test_a_figure_that_builds_cites_a_source_that_some_table_cites() -> None:
    """Otherwise the figure would stand beside ours by chance, and could as well check it."""
    cited = set().union(*(_keys(path) for path in ROWS))
    assert {row.source for row in published() if row.use == "build"} - cited == set()
