"""Bodies of every posture, size and variant that tests ask, each made once; and how exactly a body is built."""

from __future__ import annotations

from functools import cache

from meshes.body import Body, load_body
from meshes.specimen import ALDER, VARIANTS, Specimen

EVERYONE = {
    "alder": ALDER,
    "supine": Specimen(posture="supine"),
    "prone": Specimen(posture="prone"),
    "broken left": Specimen(table_break_deg=30.0, up="left"),
    "broken right": Specimen(table_break_deg=30.0, up="right"),
    "tall woman": Specimen(sex="female", stature_mm=1850.0),
    "small, bulky": Specimen(stature_mm=1450.0, psoas_scale=1.6),
    "slight": Specimen(psoas_scale=0.5),
    "variants": Specimen(variants=frozenset(VARIANTS)),
    "variants, supine": Specimen(posture="supine", variants=frozenset(VARIANTS)),
}
#: A body's surfaces are built from grids of a millimetre or so.
BUILT_MM = 0.6
#: Left and right differ by rounding alone: a warp works out distances from squares.
SIDES_MM = 1e-3


@cache
def body_of(name: str) -> Body:
    """The body of one of them."""
    return load_body(EVERYONE[name])
