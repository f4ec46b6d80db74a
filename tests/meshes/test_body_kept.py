"""A body that is kept on disk is the body that is built, and a cache that fails costs time and nothing else."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from meshes import body as module
from meshes import store
from meshes.body import Body, build, load_body
from meshes.reference import reference
from meshes.specimen import ALDER, VARIANTS, Specimen
from tests.meshes.everyone import EVERYONE, body_of


def same(one: Body, other: Body) -> None:
    assert one.structures == other.structures
    assert list(one.structures) == list(other.structures)
    assert list(one.surfaces) == list(other.surfaces)
    assert list(one.centrelines) == list(other.centrelines)
    for name, line in one.centrelines.items():
        np.testing.assert_array_equal(other.centrelines[name].points, line.points, err_msg=name)
        np.testing.assert_array_equal(other.centrelines[name].radius, line.radius, err_msg=name)
        assert other.centrelines[name].flat == line.flat
    for name, surface in one.surfaces.items():
        np.testing.assert_array_equal(other.surfaces[name].faces, surface.faces, err_msg=name)
        np.testing.assert_array_equal(other.surfaces[name].vertices, surface.vertices, err_msg=name)


@pytest.mark.parametrize("name", ["alder", "broken left", "variants, supine"])
def test_the_kept_body_is_the_built_body_to_the_last_bit(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One question has one answer, whether the body was built for it or kept from before."""
    reference()
    (kept,) = store.folder().glob(f"reference-{store.tables_hash()}.npz")
    shutil.copy(kept, tmp_path)
    monkeypatch.setenv("FURCAL_CACHE", str(tmp_path))
    first = load_body(EVERYONE[name])
    assert len(list(tmp_path.iterdir())) == 2
    monkeypatch.setattr(module, "build", None)
    same(first, load_body(EVERYONE[name]))


def test_building_twice_gives_the_same_body() -> None:
    same(build(EVERYONE["broken left"]), build(EVERYONE["broken left"]))


def test_a_kept_body_is_found_by_what_shapes_it_and_not_by_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    usual = body_of("alder")
    monkeypatch.setenv("FURCAL_CACHE", str(tmp_path))
    built: list[Specimen] = []

    def watched(specimen: Specimen, progress: object = None) -> Body:
        built.append(specimen)
        return replace(usual, specimen=specimen)

    monkeypatch.setattr(module, "build", watched)
    first = load_body(ALDER)
    again = load_body(Specimen(name="Yew", seed=7))
    assert [first.specimen.name, again.specimen.name] == ["Alder", "Yew"]
    assert built == [ALDER]
    for other in (Specimen(psoas_scale=1.1), Specimen(posture="supine"), Specimen(variants=frozenset({VARIANTS[0]}))):
        load_body(other)
        assert built[-1] == other
    for path in tmp_path.iterdir():
        path.write_bytes(b"damaged")
    load_body(ALDER)
    assert built[-1] == ALDER
    assert len(built) == 5


def test_a_cache_that_cannot_be_used_costs_time_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    usual = body_of("alder")
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("FURCAL_CACHE", str(tmp_path / "file"))
    monkeypatch.setattr(module, "build", lambda *_: usual)
    same(load_body(ALDER), usual)
    assert (tmp_path / "file").read_text() == "in the way"
