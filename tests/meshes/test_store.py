"""What is kept comes back whole or not at all; damage, crowding and a closed folder are all survived."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from meshes import store
from meshes.tables import ANATOMY
from meshes.tolerances import BODIES_KEPT, PART_KEPT_S

WORDS: dict[str, Any] = {"structures": [{"id": "femoral_left", "flat": [False, True]}], "é": 1.5}
ARRAYS: store.Arrays = {
    "v0": np.arange(12, dtype=np.float32).reshape(4, 3),
    "f0": np.arange(6, dtype=np.int32).reshape(2, 3),
    "c1": np.linspace(0.0, 1.0, 15).reshape(3, 5),
}


@pytest.fixture(autouse=True)
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    folder = tmp_path / "deep" / "cache"
    monkeypatch.setenv("FURCAL_CACHE", str(folder))
    yield folder
    shutil.rmtree(folder, ignore_errors=True)


def is_whole(kept: tuple[dict[str, Any], store.Arrays] | None) -> bool:
    if kept is None or kept[0] != WORDS or list(kept[1]) != list(ARRAYS):
        return False
    return all(kept[1][k].dtype == a.dtype and np.array_equal(kept[1][k], a) for k, a in ARRAYS.items())


def test_what_is_kept_comes_back_to_the_last_bit(cache: Path) -> None:
    assert store.load("birch") is None
    store.save("birch", WORDS, ARRAYS)
    assert is_whole(store.load("birch"))
    assert store.load("larch") is None
    assert [p.name for p in cache.iterdir()] == ["birch.npz"]


def test_keeping_again_replaces(cache: Path) -> None:
    store.save("birch", {"old": True}, {"v0": np.zeros(3)})
    store.save("birch", WORDS, ARRAYS)
    assert is_whole(store.load("birch"))


def test_the_folder_is_the_users_own_unless_named(monkeypatch: pytest.MonkeyPatch, cache: Path) -> None:
    assert store.folder() == cache
    monkeypatch.delenv("FURCAL_CACHE")
    monkeypatch.setenv("XDG_CACHE_HOME", "/nowhere/yew")
    assert store.folder() == Path("/nowhere/yew/furcal")
    monkeypatch.setenv("FURCAL_CACHE", "")
    assert store.folder() == Path("/nowhere/yew/furcal")


def test_one_wrong_byte_anywhere_costs_the_kept_body_or_nothing(cache: Path) -> None:
    """Never an error, never another body."""
    store.save("birch", WORDS, ARRAYS)
    path = cache / "birch.npz"
    data = path.read_bytes()
    lost = 0
    for index, byte in enumerate(data):
        for wrong in {byte ^ 0xFF, byte ^ 0x01, 0x00} - {byte}:
            path.write_bytes(data[:index] + bytes([wrong]) + data[index + 1 :])
            kept = store.load("birch")
            assert kept is None or is_whole(kept), index
            lost += kept is None
    assert lost > len(data)


def test_a_file_that_was_cut_short_anywhere_counts_as_none(cache: Path) -> None:
    store.save("birch", WORDS, ARRAYS)
    path = cache / "birch.npz"
    data = path.read_bytes()
    for length in range(len(data)):
        path.write_bytes(data[:length])
        assert store.load("birch") is None, length


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=200), st.booleans())
def test_any_other_content_counts_as_none(cache: Path, content: bytes, zipped: bool) -> None:
    cache.mkdir(parents=True, exist_ok=True)
    (cache / "birch.npz").write_bytes((b"PK\x03\x04" if zipped else b"") + content)
    assert store.load("birch") is None


def test_well_formed_files_of_another_kind_count_as_none(cache: Path) -> None:
    cache.mkdir(parents=True)
    path = cache / "birch.npz"
    with path.open("wb") as file:
        np.save(file, np.arange(3))
    assert store.load("birch") is None
    for words in (WORDS, [], [WORDS], [WORDS, ["v9"]], [WORDS, 5]):
        text = np.frombuffer(json.dumps(words).encode(), dtype=np.uint8)
        with path.open("wb") as file:
            np.savez(file, words=text, **ARRAYS)
        assert store.load("birch") is None, words
    with path.open("wb") as file:
        np.savez(file, words=np.array([{"a": 1}], dtype=object), allow_pickle=True)
    assert store.load("birch") is None, "nothing from a cache is ever unpickled"
    path.unlink()
    path.mkdir()
    assert store.load("birch") is None


def test_a_damaged_body_is_replaced_when_it_is_built_again(cache: Path) -> None:
    store.save("birch", WORDS, ARRAYS)
    (cache / "birch.npz").write_bytes(b"not a body")
    store.save("birch", WORDS, ARRAYS)
    assert is_whole(store.load("birch"))


@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), KeyboardInterrupt(), MemoryError()])
def test_a_write_that_fails_half_way_leaves_what_was_there(
    error: BaseException, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store.save("birch", WORDS, ARRAYS)

    def fail(file: Any, **arrays: Any) -> None:
        file.write(b"half a body")
        raise error

    monkeypatch.setattr(np, "savez", fail)
    if isinstance(error, OSError):
        store.save("birch", {"new": True}, {})
        store.save("larch", {"new": True}, {})
    else:
        with pytest.raises(type(error)):
            store.save("birch", {"new": True}, {})
    monkeypatch.undo()
    monkeypatch.setenv("FURCAL_CACHE", str(cache))
    assert is_whole(store.load("birch"))
    assert [p.name for p in cache.iterdir()] == ["birch.npz"]


def test_a_reader_never_sees_half_a_file(cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    store.save("birch", WORDS, ARRAYS)
    seen = []
    whole = np.savez

    def watched(file: Any, **arrays: Any) -> None:
        seen.append(is_whole(store.load("birch")))
        whole(file, **arrays)
        seen.append(is_whole(store.load("birch")))

    monkeypatch.setattr(np, "savez", watched)
    store.save("birch", {"new": True}, {"v0": np.zeros(9)})
    assert seen == [True, True]
    kept = store.load("birch")
    assert kept is not None
    assert kept[0] == {"new": True}


def test_a_cache_that_is_no_folder_is_done_without(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("in the way")
    for place in (tmp_path / "file", tmp_path / "file" / "below", Path("/proc/none"), Path("/" + 300 * "x")):
        monkeypatch.setenv("FURCAL_CACHE", str(place))
        store.save("birch", WORDS, ARRAYS)
        assert store.load("birch") is None
    assert (tmp_path / "file").read_text() == "in the way"


def test_a_cache_closed_to_writing_is_still_read(cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Root may write anywhere: the system's refusal is played."""
    store.save("birch", WORDS, ARRAYS)

    def closed(*_: Any, **__: Any) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(tempfile, "mkstemp", closed)
    monkeypatch.setattr(os, "utime", closed)
    store.save("larch", WORDS, ARRAYS)
    assert store.load("larch") is None
    assert is_whole(store.load("birch"))


def aged(path: Path, seconds: float) -> None:
    then = time.time() - seconds
    os.utime(path, (then, then))


def test_what_was_used_last_is_kept_and_the_rest_forgotten(cache: Path) -> None:
    """The reference body is as old as the first specimen, and in use with every new one."""
    store.save("reference", WORDS, ARRAYS)
    aged(cache / "reference.npz", 1e6)
    for number in range(BODIES_KEPT + 5):
        assert is_whole(store.load("reference"))
        store.save(f"body-{number}", WORDS, ARRAYS)
        aged(cache / f"body-{number}.npz", 1e5 - number)
    kept = {p.stem for p in cache.iterdir()}
    assert kept == {"reference", *(f"body-{n}" for n in range(6, BODIES_KEPT + 5))}


def test_parts_that_a_killed_program_left_are_swept_away(cache: Path) -> None:
    cache.mkdir(parents=True)
    for name, age in (("old.part", 2.0 * PART_KEPT_S), ("new.part", 1.0)):
        (cache / name).write_bytes(b"half")
        aged(cache / name, age)
    store.save("birch", WORDS, ARRAYS)
    assert {p.name for p in cache.iterdir()} == {"birch.npz", "new.part"}


def test_a_body_that_another_program_forgets_meanwhile_is_no_error(
    cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store.save("birch", WORDS, ARRAYS)
    found = [*cache.glob("*.npz"), cache / "gone.npz"]
    monkeypatch.setattr(Path, "glob", lambda _, pattern: iter(found if pattern == "*.npz" else []))
    store.save("birch", WORDS, ARRAYS)
    assert is_whole(store.load("birch"))


def test_the_hash_changes_with_any_byte_name_or_file(tmp_path: Path) -> None:
    files = [tmp_path / name for name in ("a.toml", "b.py")]
    for path in files:
        path.write_text("x = 1\n")
    first = store._hash(files)
    assert store._hash(files) == first
    assert len(first) == 24
    files[1].write_text("x = 2\n")
    assert store._hash(files) != first
    files[1].write_text("x = 1\n")
    assert store._hash(files) == first
    assert store._hash(files[:1]) != first
    assert store._hash([files[0], files[1].rename(tmp_path / "c.py")]) != first
    assert store._hash([*files[:1], tmp_path / "c.py", tmp_path]) == store._hash([*files[:1], tmp_path / "c.py"])


@pytest.mark.parametrize("table", ["landmarks.csv", "vertebrae.csv", "nerves.toml", "bones_spine.toml", "ends.toml"])
def test_a_changed_table_means_another_body(table: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "anatomy"
    shutil.copytree(ANATOMY, folder)
    monkeypatch.setattr(store, "ANATOMY", folder)
    before = store.tables_hash.__wrapped__()
    assert before == store.tables_hash.__wrapped__()
    with (folder / table).open("a") as file:
        file.write("# looked at\n")
    assert store.tables_hash.__wrapped__() != before


@pytest.mark.parametrize("table", store.SHAPELESS)
def test_a_table_that_shapes_nothing_means_the_same_body(
    table: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "anatomy"
    shutil.copytree(ANATOMY, folder)
    monkeypatch.setattr(store, "ANATOMY", folder)
    before = store.tables_hash.__wrapped__()
    with (folder / table).open("a") as file:
        file.write("# looked at\n")
    assert store.tables_hash.__wrapped__() == before


def test_keys_depend_on_values_and_not_on_their_order() -> None:
    one = store.key_of({"a": 1, "b": [1.5, "x"]})
    assert one == store.key_of({"b": [1.5, "x"], "a": 1})
    assert len(one) == 16
    others: list[dict[str, Any]] = [{"a": 1, "b": [1.5]}, {"a": 2, "b": [1.5, "x"]}, {"a": "1", "b": [1.5, "x"]}, {}]
    assert len({one, *(store.key_of(o) for o in others)}) == 5
