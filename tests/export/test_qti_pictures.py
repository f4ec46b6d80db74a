"""Items handed on with their pictures: what is clicked on a picture is what lies there on the body."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET
import zipfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from lessons.spot.bank import bundled_items
from lessons.spot.item import Item, Pointed
from lessons.spot.qti import ASI
from meshes.errors import FurcalError
from viewer.export.qti import REACH_PX, SIZE_PX, write_qti
from viewer.spotshots import Sitter

NAMES = {"q": ASI}


def first(kind: str) -> Item:
    return next(item for item in bundled_items() if item.kind == kind)


@pytest.fixture(scope="module")
def package(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[Item], list[float]]:
    """One item of each of three kinds, written once."""
    items, shares = [first("point"), first("name"), first("find")], []
    target = tmp_path_factory.mktemp("qti") / "harbour.zip"
    assert write_qti(items, target, lambda share, _: shares.append(share)) == ()
    return target, items, shares


def test_each_item_is_there_with_a_picture_where_it_is_seen(package: tuple[Path, list[Item], list[float]]) -> None:
    target, items, shares = package
    with zipfile.ZipFile(target) as file:
        names = set(file.namelist())
        assert {f"items/{item.id}.xml" for item in items} <= names
        assert {n for n in names if n.endswith(".png")} == {f"pictures/{item.id}.png" for item in items[:2]}
        for item in items[:2]:
            assert Image.open(io.BytesIO(file.read(f"pictures/{item.id}.png"))).size == SIZE_PX
    assert shares == sorted(shares)
    assert shares[0] >= 0.0
    assert shares[-1] < 1.0


def test_the_right_spot_lies_on_its_structure_and_no_other_one_does(
    package: tuple[Path, list[Item], list[float]],
) -> None:
    target, (item, *_), _ = package
    assert isinstance(item.answer, Pointed)
    with zipfile.ZipFile(target) as file:
        root = ET.fromstring(file.read(f"items/{item.id}.xml"))
    right = root.findtext(".//q:qti-correct-response/q:qti-value", namespaces=NAMES)
    spots = {
        spot.get("identifier"): [int(n) for n in str(spot.get("coords")).split(",")]
        for spot in root.iterfind(".//q:qti-hotspot-choice", NAMES)
    }
    assert len(spots) >= 3
    with Sitter(SIZE_PX) as sitter:
        seen = sitter.pixels(item, sitter.body(item).surfaces[item.answer.target].vertices)
    gaps = {name: float(np.hypot(*(seen - spot[:2]).T).min()) for name, spot in spots.items()}
    assert gaps[right] < 4.0
    assert {spot[2] for spot in spots.values()} == {REACH_PX}
    assert min(gaps, key=lambda name: gaps[name]) == right
    assert all(0 <= x < SIZE_PX[0] and 0 <= y < SIZE_PX[1] for x, y, _ in spots.values())


def test_what_cannot_be_handed_on_is_told_and_nothing_is_written(tmp_path: Path) -> None:
    with pytest.raises(FurcalError, match=r"end its name in \.zip"):
        write_qti([first("find")], tmp_path / "a.xml")
    with pytest.raises(FurcalError, match="none of the items has a form"):
        write_qti([first("dock")], tmp_path / "a.zip")
    twice = first("find")
    with pytest.raises(FurcalError, match=twice.id):
        write_qti([twice, replace(twice, ask="Another one?")], tmp_path / "a.zip")
    assert list(tmp_path.iterdir()) == []
