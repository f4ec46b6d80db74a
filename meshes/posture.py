"""Specimen -> where its rigid parts stand and how large they are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from meshes.curves import Array
from meshes.errors import FurcalError, unknown_word
from meshes.landmarks import Frame, Landmarks, place_landmarks
from meshes.specimen import ALDER, Specimen
from meshes.spine import DISCS, Joints, spine_frames
from meshes.tables import ANATOMY, check_keys, cited, number, read_toml

SECTIONS = ("says", "source", "table_break", "viscera_forward", "plexus_forward_mm", "extension_deg")


@cache
def _postures() -> dict[str, Any]:
    path = ANATOMY / "postures.toml"
    table = read_toml(path)
    for name, posture in table.items():
        where = f"{path}, [{name}]"
        check_keys(posture, SECTIONS, where)
        for key in SECTIONS[2:]:
            if key in posture:
                cited(posture[key], f"{where}, {key}")
        for disc in (*posture.get("plexus_forward_mm", {}), *posture.get("extension_deg", {})):
            if disc not in (*DISCS, "source"):
                raise unknown_word(disc, DISCS, "disc", where)
    return table


def _numbers(table: Mapping[str, Any], where: str) -> dict[str, float]:
    return {k: number(v, f"{where}, {k}") for k, v in table.items() if k != "source"}


def joints_for(specimen: Specimen) -> Joints:
    """Joint angles of the specimen's posture: lordosis added, and bending away from the side that is up."""
    posture = _postures()[specimen.posture]
    extension = _numbers(posture.get("extension_deg", {}), f"postures.toml, {specimen.posture}")
    bend: dict[str, float] = {}
    if specimen.posture == "side_lying" and specimen.table_break_deg:
        shares = _numbers(posture["table_break"]["share"], "postures.toml, table_break")
        away = -1.0 if specimen.up == "right" else 1.0
        bend = {disc: away * share * specimen.table_break_deg for disc, share in shares.items()}
    return Joints(extension, bend)


def plexus_forward_mm(specimen: Specimen) -> dict[str, float]:
    """How far forward the plexus inside psoas lies at each disc, against the reference, mm."""
    return _numbers(_postures()[specimen.posture].get("plexus_forward_mm", {}), "postures.toml, plexus_forward_mm")


def viscera_forward_mm(specimen: Specimen) -> dict[str, float]:
    """How far forward each viscus lies, against its table, mm."""
    return _numbers(_postures()[specimen.posture].get("viscera_forward", {}), "postures.toml, viscera_forward")


@dataclass(frozen=True)
class Build:
    """Sizes against the reference body: factors along a part's left, back and up directions."""

    spine: Array
    pelvis: Array

    def of(self, frame: str) -> Array:
        """Factors (3,) of one frame."""
        return self.pelvis if frame == "pelvis" else self.spine


@cache
def _sexes(path: Path) -> dict[str, Any]:
    """The table of sizes, read once: it is asked for every rigid part of every posture tried."""
    return read_toml(path)


def build_of(specimen: Specimen) -> Build:
    """Sizes of the specimen's bones; they scale with its stature, widths also with its sex."""
    path = ANATOMY / "sexes.toml"
    table = _sexes(path)
    name = specimen.sex or "average"
    if name not in table:
        raise FurcalError(f"{path}: no row for {name}.")
    row = {k: number(v, f"{path}, {name}, {k}") for k, v in table[name].items() if k != "source"}
    stature = specimen.stature_mm or row["stature_mm"]
    size = stature / number(table["average"]["stature_mm"], f"{path}, average")
    spine, pelvis = (size * np.array([row[k], 1.0, 1.0]) for k in ("spine_width", "pelvis_width"))
    return Build(spine, pelvis)


def frames_for(specimen: Specimen) -> dict[str, Frame]:
    """Frames of pelvis, vertebrae and discs as the specimen lies."""
    return spine_frames(joints_for(specimen), height=float(build_of(specimen).spine[2]))


def landmarks_for(specimen: Specimen) -> Landmarks:
    """All landmarks of a specimen, mm."""
    build = build_of(specimen)
    return place_landmarks(frames_for(specimen), specimen.psoas_scale, build.of)


@cache
def reference_landmarks() -> Landmarks:
    """Landmarks of the reference body: the average adult, unbent, as the tables are written."""
    return landmarks_for(ALDER)
