"""Items that ask in which way a body differs: one variant, put on where the body has none."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache, partial

from lessons.spot.made.draft import Asked, Draft, Making, option
from lessons.spot.made.seen import told_from, view_of
from lessons.spot.made.told import marks
from lessons.view import Camera
from meshes.body import load_body
from meshes.reference import all_courses
from meshes.specimen import MIDLINE_VARIANTS, SIDED_VARIANTS, VARIANTS, Specimen
from meshes.structures import SIDES
from meshes.tables import ANATOMY, Table, read_toml

#: Half of what the picture is high, mm: so much is seen about what differs.
HALF_MM = 150.0


def differ_items(asked: Asked) -> Iterator[Making]:
    """Which variant a body has: each of its own, or where it has none each that it may be given."""
    own = asked.body.specimen.variants
    for variant in VARIANTS:
        if variant in own if own else True:
            yield variant, partial(_differs, asked, variant)


def bare_variant(variant: str) -> tuple[str, str]:
    """A variant's word in the table, and its side."""
    for word in (*SIDED_VARIANTS, *MIDLINE_VARIANTS):
        if variant.startswith(word):
            return word, variant[len(word) + 1 :]
    return variant, ""


def with_variant(specimen: Specimen, variant: str) -> Specimen:
    """The specimen with a variant put on; its name says that it is another."""
    if variant in specimen.variants:
        return specimen
    return replace(specimen, variants=specimen.variants | {variant})


def shown_by(variant: str) -> tuple[str, ...]:
    """Ids of the nerves and vessels that are there, or run otherwise, with a variant."""
    bare, side = bare_variant(variant)
    found = []
    for course in all_courses().values():
        if bare == course.variant or bare in course.when:
            id_ = course.structure.id
            found.append(id_.removesuffix(f"_{SIDES[0]}") + f"_{side}" if side and course.paired else id_)
    return tuple(found)


@cache
def _table() -> Table:
    return read_toml(ANATOMY / "variants.toml")


def _differs(asked: Asked, variant: str) -> Draft | None:
    bare, side = bare_variant(variant)
    has = {bare_variant(v)[0] for v in asked.body.specimen.variants}
    row = _table()[bare]
    ids = shown_by(variant)
    words = (*SIDED_VARIANTS, *MIDLINE_VARIANTS)
    pool = tuple(option(str(_table()[other]["says"])) for other in words if other not in has | {bare})
    where = f" on the {side} side" if side else ""
    specimen = with_variant(asked.body.specimen, variant)
    varied = asked if specimen == asked.body.specimen else Asked.of(load_body(specimen))
    view = next((view for id_ in ids if (view := view_of(varied, id_)) is not None), None)
    if view is None:
        return None
    view = replace(view, camera=Camera(view.camera.name, on=frozenset(ids), half_height_mm=HALF_MM))
    says, keys = str(row["says"]), [str(row["source"])]
    share = round(100 * float(row["share"]))
    of = "sides" if bare in SIDED_VARIANTS else "people"
    return Draft(
        "differs", variant, "variation", variant,
        f"{told_from(view)} In which way does this body differ from the usual{where}?",
        f"{option(says)}. {marks(keys)} Here it is given to about {share} of 100 {of}. {marks(keys)}",
        view, specimen, None,
        option(says), pool, depth="recall", lit=ids,
    )  # fmt: skip
