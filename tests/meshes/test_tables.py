"""Tables are read whole or refused with file, line and what was expected."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes import tables
from meshes.errors import FurcalError
from meshes.tables import (
    ANATOMY,
    RESERVED_SOURCES,
    check_keys,
    cited,
    number,
    read_csv,
    read_text,
    read_toml,
    require,
    source_keys,
)
from tests.meshes.refusals import refused

COLUMNS = ("name", "lateral_mm", "note")


def written(folder: Path, text: str | bytes) -> Path:
    path = folder / "larch.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def test_a_file_that_is_not_there_a_folder_and_no_text_are_told_apart(tmp_path: Path) -> None:
    assert refused(read_text, tmp_path / "birch.toml") == f"{tmp_path / 'birch.toml'}: no such file; check the path."
    assert refused(read_text, tmp_path) == f"{tmp_path}: is a folder; name a file."
    assert refused(read_text, written(tmp_path, b"caf\xe9")) == f"{tmp_path / 'larch.csv'}: is not UTF-8 text."


def test_a_path_through_a_file_is_told_with_the_systems_reason(tmp_path: Path) -> None:
    path = written(tmp_path, "") / "inside.toml"
    assert refused(read_text, path) == f"{path}: cannot be read (Not a directory)."


def test_toml_is_read_as_it_stands_and_a_mistake_is_told_with_its_line(tmp_path: Path) -> None:
    assert read_toml(written(tmp_path, 'a = 1\n[b]\nc = "d"\n')) == {"a": 1, "b": {"c": "d"}}
    said = refused(read_toml, written(tmp_path, "a = 1\nb = = 2\n"))
    assert said.startswith(f"{tmp_path / 'larch.csv'}: is not valid TOML: ")
    assert "line 2" in said


@pytest.mark.parametrize(
    "text", ["a = " + "[" * 100_000, "a = " + "9" * 5000, "a = 1\na = 2", "\x00", "[a]\n[a]", "a = 1979-13-01"]
)
def test_toml_that_breaks_its_reader_is_refused_like_any_other(text: str, tmp_path: Path) -> None:
    said = refused(read_toml, written(tmp_path, text))
    assert said.startswith(f"{tmp_path / 'larch.csv'}: is not valid TOML")


@given(st.text(max_size=60))
def test_any_text_is_toml_or_refused(text: str) -> None:
    said = ""
    try:
        tables.parsed_toml(text, "yew.toml")
    except FurcalError as error:
        said = str(error)
    assert not said or said.startswith("yew.toml: is not valid TOML: ")
    assert len(said.splitlines()) <= 1


def test_rows_come_stripped_and_by_column(tmp_path: Path) -> None:
    path = written(tmp_path, 'name,lateral_mm,note\nasis , 1.5,"both, apart"\npsis,2,\n')
    assert read_csv(path, COLUMNS) == [
        {"name": "asis", "lateral_mm": "1.5", "note": "both, apart"},
        {"name": "psis", "lateral_mm": "2", "note": ""},
    ]


@pytest.mark.parametrize(
    "head", ["", "name,lateral_mm", "lateral_mm,name,note", "name,lateral_mm,note,more", "name,lateral_mm,Note"]
)
def test_other_columns_are_refused(head: str, tmp_path: Path) -> None:
    said = refused(read_csv, written(tmp_path, f"{head}\nasis,1,x\n"), COLUMNS)
    assert said == f"{tmp_path / 'larch.csv'}, line 1: the columns must be name, lateral_mm, note."


@pytest.mark.parametrize("row", ["psis,2", "psis,2,a,b", "psis", ",,,"])
def test_a_row_of_another_length_is_told_with_its_line(row: str, tmp_path: Path) -> None:
    said = refused(read_csv, written(tmp_path, f"name,lateral_mm,note\nasis,1,x\n{row}\n"), COLUMNS)
    assert said == f"{tmp_path / 'larch.csv'}, line 3: expected 3 cells."


def test_a_blank_line_is_refused_so_that_the_lines_told_later_are_right(tmp_path: Path) -> None:
    said = refused(read_csv, written(tmp_path, "name,lateral_mm,note\nasis,1,x\n\npsis,2,y\n"), COLUMNS)
    assert said == f"{tmp_path / 'larch.csv'}, line 3: expected 3 cells."


def test_a_cell_too_long_for_the_reader_is_refused(tmp_path: Path) -> None:
    said = refused(read_csv, written(tmp_path, f"name,lateral_mm,note\nasis,1,{'x' * 200_000}\n"), COLUMNS)
    assert said.startswith(f"{tmp_path / 'larch.csv'}, line 2: ")


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_number_comes_back_from_a_number_and_from_its_text(value: float) -> None:
    assert number(value, "here") == value
    assert number(repr(value), "here") == value


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, "nan", "-inf", "1e999"])
def test_what_is_not_finite_is_refused(value: object) -> None:
    assert refused(number, value, "larch.csv, line 7") == (
        f"larch.csv, line 7: expected a finite number, found {value!r}."
    )


@pytest.mark.parametrize("value", [True, None, [], {}, "", "wide", "1,5", "0x10", b"1", 1j])
def test_what_is_no_number_is_refused(value: object) -> None:
    assert refused(number, value, "larch.csv, line 7") == f"larch.csv, line 7: expected a number, found {value!r}."


@pytest.mark.parametrize("value", [10**400, -(10**400), 1 << 100_000], ids=["long", "negative", "unprintable"])
def test_a_whole_number_too_large_to_work_with_is_refused(value: int) -> None:
    assert refused(number, value, "here").startswith("here: expected a ")


@given(st.recursive(st.none() | st.booleans() | st.integers() | st.floats() | st.text(), st.lists))
def test_a_number_is_finite_or_refused(value: object) -> None:
    said, result = "", 0.0
    try:
        result = number(value, "here")
    except FurcalError as error:
        said = str(error)
    assert math.isfinite(result)
    assert not said or said.startswith("here: expected a ")


def test_unknown_keys_are_refused_with_the_legal_ones() -> None:
    check_keys({}, ("at",), "here")
    check_keys({"at": 1}, ("at", "up"), "here")
    said = refused(check_keys, {"at": 1, "upp": 2}, ("at", "up"), "nerves.toml, [femoral]")
    assert said == "nerves.toml, [femoral]: unknown key 'upp'. Nearest: up. Legal: at, up."


def test_a_missing_key_is_named() -> None:
    assert require({"a": None}, "a", "here") is None
    assert refused(require, {"a": 1}, "b", "here") == "here: 'b' is missing."


def test_sources_may_be_joined_and_every_one_must_be_known() -> None:
    publication = sorted(source_keys() - set(RESERVED_SOURCES))[0]
    assert cited({"source": publication}, "here") == (publication,)
    assert cited({"source": f"{publication} + judgement"}, "here") == (publication, "judgement")
    assert refused(cited, {}, "here") == "here: 'source' is missing."
    for bad in ("", "hearsay", f"{publication}+", f"{publication}+hearsay", 7):
        assert refused(cited, {"source": bad}, "here").startswith("here: unknown source ")


def test_the_reserved_sources_are_not_publications_and_every_publication_says_what_it_is_for() -> None:
    published = read_toml(ANATOMY / "sources.toml")
    assert not set(RESERVED_SOURCES) & set(published)
    for key, row in published.items():
        assert row["cite"].strip(), key
        assert row["use"] in ("build", "check", "shown"), key


def test_every_table_of_the_body_can_be_read() -> None:
    found = sorted(p for p in ANATOMY.rglob("*") if p.is_file())
    assert any(p.parent != ANATOMY for p in found), "those of a folder are tables too"
    assert {p.suffix for p in found} <= {".csv", ".toml"}
    for path in found:
        if path.suffix == ".toml":
            assert read_toml(path), path


def test_the_reader_of_tables_loads_nothing_heavy() -> None:
    assert not {"numpy", "scipy", "vtkmodules"} & set(vars(sys.modules["meshes.tables"]))
