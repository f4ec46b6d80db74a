"""Gauges of how the plexus is made up, and of how often bodies differ."""

from __future__ import annotations

from meshes.body import Body
from meshes.errors import unknown_word
from meshes.gauges.courses import leaves_psoas_at, ligament_medial_of_asis
from meshes.gauges.parts import AbsentError
from meshes.structures import SIDES
from meshes.tables import ANATOMY, number, read_toml


def has_roots(body: Body, nerve: str, roots: str) -> float:
    """100 when the nerve of this body comes from these roots on both sides, else 0."""
    names = [f"{nerve}_{side}" for side in SIDES]
    for name in names:
        if name not in body.structures:
            raise AbsentError(f"{name}: this body has no such nerve.")
    return 100.0 * all(body.structures[name].roots == roots for name in names)


def plexus_is(body: Body, roots: str) -> float:
    """100 when rami of these roots, and no others, are drawn on in the plexus, else 0."""
    first, last = (int(word.removeprefix("L")) for word in roots.split("-"))
    wanted = {f"l{i}" for i in range(first, last + 1)}
    if "t12_share_left" in body.structures:
        wanted ^= {"t12"}
    feeding = {
        name.split("_")[0]
        for name in body.structures
        if name.endswith(("_ramus_left", "_share_left")) and body.structures[name].layer == "psoas"
    }
    return 100.0 * (feeding == wanted)


def variant_share(_body: Body, variant: str) -> float:
    """Share of people, percent, in whom the cohort draws this variant (per side where it has sides)."""
    table = read_toml(ANATOMY / "variants.toml")
    if variant not in table or "share" not in table[variant]:
        raise unknown_word(variant, [k for k, v in table.items() if "share" in v], "variant", "variants.toml")
    return 100.0 * number(table[variant]["share"], f"variants.toml, {variant}, share")


def one_trunk(body: Body, first: str, second: str) -> float:
    """100 when two nerves of this body leave psoas as one, else 0."""
    apart = leaves_psoas_at(body, first) - leaves_psoas_at(body, second)
    return 100.0 * bool((apart**2).sum() < 1.0)


def medial_to_asis(body: Body, nerve: str) -> float:
    """100 when the nerve passes the ligament medial to the ASIS on both sides, else 0."""
    return 100.0 * all(ligament_medial_of_asis(body, nerve, side) > 0.0 for side in SIDES)
