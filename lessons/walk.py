"""An approach, layer by layer: what a docked portal passes and comes near in this body, beside what the books name.

Everything measured is the docking's own answer (`meshes.contact.dock`); the books are joined to it by the layers that
they name.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from lessons.caution import CAUTION
from lessons.readout import CLOSE_MM
from meshes.contact import Contact, Docking
from meshes.incidence import Incidence, NotFound, reported
from meshes.layers import Layer, opened_with
from meshes.risk import WRITTEN_FOR, ApproachRisk, AtLevel, Stage, approach_risk, of_level
from meshes.structures import SIDES, side_of
from meshes.told import Told

#: What a layer can be and yet no place for something else to be near.
_PASSERS = ("nerve",)


@dataclass(frozen=True, eq=False)
class Step:
    """One layer of the portal's way.

    dissection : the layer of the dissection with which it lies open; "" leaves what is open as it is
    at_risk : nerves, vessels and viscera that are touched or close where the axis is in this layer, the worst first
    told    : steps of the books that go through this layer
    """

    layer: Layer
    dissection: str
    at_risk: tuple[Contact, ...]
    told: tuple[Stage, ...]


@dataclass(frozen=True, eq=False)
class Walk:
    """An approach walked.

    not_met   : steps of the books whose layers this path does not meet, or that the body does not show
    published : ranges for the approach, of all levels or of this one
    """

    docking: Docking
    steps: tuple[Step, ...]
    not_met: tuple[Stage, ...]
    risk: ApproachRisk
    published: tuple[Incidence, ...]

    @property
    def usual_level(self) -> bool:
        """Whether the books hold the approach for usual at this level."""
        return self.docking.portal.level in self.risk.levels

    @property
    def at_level(self) -> tuple[AtLevel, ...]:
        """What the books say of this level."""
        return tuple(row for row in self.risk.at if row.level == self.docking.portal.level)

    @property
    def not_found(self) -> tuple[NotFound, ...]:
        """Rates that were looked for in vain."""
        return tuple(row for row in reported().not_found if row.approach == self.risk.approach)

    @cached_property
    def contacts(self) -> dict[str, Contact]:
        """Every nerve, vessel and viscus of the docking by id."""
        docking = self.docking
        return {c.id: c for c in (*docking.nerves, *docking.vessels, *docking.viscera)}

    def named(self, words: Iterable[str]) -> list[tuple[str, Contact | None]]:
        """Ids that words of the books stand for on the docked side, with the contact where it is one of the docking."""
        portal = self.docking.portal
        ids = [bare for word in words for bare in of_level(word, portal.level)]
        present = self.docking.ready.body.structures
        sided = [n if n in present else f"{n}_{portal.side}" for n in ids]
        return [(n, self.contacts.get(n)) for n in sided if n in present]


def walk(docking: Docking) -> Walk:
    """Walk the approach of a docking, from the skin inwards."""
    portal, layers = docking.portal, docking.layers
    risk = approach_risk()[portal.approach]
    near: dict[Layer, list[Contact]] = {}
    for contact in (*docking.nerves, *docking.vessels, *docking.viscera):
        if contact.clearance_mm <= CLOSE_MM:
            near.setdefault(_layer_of(contact, docking), []).append(contact)
    steps = tuple(
        Step(
            layer,
            opened_with(layer.id, docking.ready.body.structures),
            tuple(sorted(near.get(layer, []), key=lambda c: (c.clearance_mm, c.id))),
            _told(layer, risk, portal.level),
        )
        for layer in layers
    )
    met = {id(stage) for step in steps for stage in step.told}
    not_met = tuple(stage for stage in risk.stages if id(stage) not in met)
    return Walk(docking, steps, not_met, risk, reported().after(portal.approach, portal.level))


def _layer_of(contact: Contact, docking: Docking) -> Layer:
    """The layer in which the axis is where a contact is nearest; of several that which begins deepest."""
    present = docking.ready.body.structures
    places = [
        layer
        for layer in docking.layers
        if layer.by == "axis"
        and layer.id != contact.id
        and (layer.id not in present or present[layer.id].kind not in _PASSERS)
    ]
    depth = contact.depth_mm
    return min(places, key=lambda y: (max(y.from_mm - depth, depth - y.to_mm, 0.0), -y.from_mm))


def _told(layer: Layer, risk: ApproachRisk, level: str) -> tuple[Stage, ...]:
    bare = layer.id.removesuffix(f"_{side_of(layer.id)}") if side_of(layer.id) in SIDES else layer.id
    return tuple(s for s in risk.stages if bare in {n for word in s.crosses for n in of_level(word, level)})


# --- for programs


def as_json(walked: Walk) -> dict[str, Any]:
    """The walk for programs: layers, portal and clearances are those of `meshes.contact.as_json`; per cent as printed.

    at_risk : nerves; others_at_risk : vessels and viscera
    """
    from meshes.contact import as_json as docking_json

    answer = docking_json(walked.docking)
    by_id = {row["id"]: row for key in ("nerves", "vessels", "viscera") for row in answer[key]}
    kept = ("schema", "furcal_version", "specimen", "portal", "reaches_disc", "barred_by")
    near = [
        _near_json(by_id[c.id], step.layer) | {"kind": c.structure.kind} for step in walked.steps for c in step.at_risk
    ]
    near.sort(key=lambda row: row["clearance_mm"])
    layers = [
        layer | {"at_risk": [c.id for c in step.at_risk], "told": [stage.name for stage in step.told]}
        for layer, step in zip(answer["layers"], walked.steps, strict=True)
    ]
    return {
        **{key: answer[key] for key in kept},
        "usual_level": walked.usual_level,
        "usual_posture": walked.risk.posture,
        "layers": layers,
        "at_risk": [{"nerve": row["id"]} | _without(row, "id", "kind") for row in near if row["kind"] == "nerve"],
        "others_at_risk": [row for row in near if row["kind"] != "nerve"],
        "told": {
            "written_for": WRITTEN_FOR,
            "before": {key: _told_json(told) for key, told in walked.risk.before.items()},
            "steps": [_stage_json(stage, walked) for stage in walked.risk.stages],
            "not_met": [stage.name for stage in walked.not_met],
            "level": [_level_json(row, walked) for row in walked.at_level],
            "whole": [_told_json(told) for told in walked.risk.whole],
        },
        "published": [_published_json(row) for row in walked.published],
        "not_found": [{"nerves": list(row.nerves)} | _told_json(row.told) for row in walked.not_found],
        "cautions": [CAUTION, reported().caution],
    }


def _without(row: dict[str, Any], *keys: str) -> dict[str, Any]:
    return {key: value for key, value in row.items() if key not in keys}


def _near_json(row: dict[str, Any], layer: Layer) -> dict[str, Any]:
    kept = {key: row[key] for key in ("id", "name", "side", "touched", "clearance_mm", "depth_mm")}
    return kept | {"layer": layer.id}


def _told_json(told: Told) -> dict[str, Any]:
    return {"says": told.says, "source": told.source, "basis": told.basis, "caution": told.caution or None}


def _named_json(words: Sequence[str], walked: Walk) -> list[dict[str, Any]]:
    return [
        {"id": n, "clearance_mm": None if contact is None else round(contact.clearance_mm, 4) + 0.0}
        for n, contact in walked.named(words)
    ]


def _stage_json(stage: Stage, walked: Walk) -> dict[str, Any]:
    named = _named_json(stage.at_risk, walked)
    return {"name": stage.name} | _told_json(stage.told) | {"at_risk": named, "beside": list(stage.beside)}


def _level_json(row: AtLevel, walked: Walk) -> dict[str, Any]:
    return _told_json(row.told) | {"at_risk": _named_json(row.at_risk, walked), "beside": list(row.beside)}


def _published_json(row: Incidence) -> dict[str, Any]:
    series = [
        {
            "low": one.low, "high": one.high, "n": one.n, "of": one.of, "printed": one.printed, "kind": one.kind,
            **_told_json(one.told),
        }
        for one in row.series
    ]  # fmt: skip
    return {
        "deficit": row.deficit,
        "when": row.when,
        "level": row.level or None,
        "low": row.low,
        "high": row.high,
        "denominators": [f"{one.denominator}: {one.told.says}" for one in row.series],
        "source": row.source,
        "nerves": list(row.nerves),
        "series": series,
        "note": row.note or None,
    }
