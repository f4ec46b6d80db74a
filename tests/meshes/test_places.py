"""The places along the nerves: in the order that handbooks of anatomy tell, on both sides, in every variant.

The orders are from memory, as handbooks agree on them; nothing here is taken from what the body shows.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes.body import Body, load_body
from meshes.contact import Ready
from meshes.errors import FurcalError
from meshes.places import PLACES, Place, place_at, places_of, sites
from meshes.probes import away, close, held
from meshes.specimen import MIDLINE_VARIANTS, SIDED_VARIANTS, Specimen
from meshes.structures import SIDES
from meshes.surfaces import Surface
from tests.meshes.waysonce import places_once

#: The nine main nerves and their branches below: the places in order; those in brackets may be there or not.
WAYS = {
    "subcostal": "(foramen) retroperitoneum wall",
    "iliohypogastric": "(foramen) psoas retroperitoneum wall",
    "ilioinguinal": "(foramen) psoas retroperitoneum (iliac_fossa) wall canal",
    "genitofemoral": "(foramen) psoas retroperitoneum",
    "lateral_femoral_cutaneous": "(foramen) psoas (retroperitoneum) iliac_fossa ligament thigh",
    "femoral": "(foramen) psoas (iliac_fossa) ligament thigh",
    "obturator": "(foramen) psoas pelvis canal",
    "obturator_anterior": "canal thigh",
    "obturator_posterior": "canal thigh",
    "lumbosacral_trunk": "pelvis",
    "sympathetic_trunk": "retroperitoneum pelvis",
    "genitofemoral_genital": "retroperitoneum canal",
    "genitofemoral_femoral": "retroperitoneum ligament thigh",
    "saphenous": "thigh",
    "l4_root": "foramen",
    "l4_ganglion": "foramen",
    "l4_ramus": "foramen psoas",
    "l5_ramus": "foramen pelvis",
    "subcostal_lateral_cutaneous": "wall thigh",
}
VARIANTS = (*(f"{v}_{side}" for v in SIDED_VARIANTS for side in SIDES), *MIDLINE_VARIANTS)


def fits(places: tuple[Place, ...], way: str) -> bool:
    """Whether the places are those of a way, leaving out any that stand in brackets."""
    got = [place.place for place in places]
    for word in way.split():
        if got and got[0] == word.strip("()"):
            got.pop(0)
        elif not word.startswith("("):
            return False
    return not got


@pytest.fixture(scope="module")
def varied() -> Body:
    """A body with every variant on both sides."""
    return load_body(Specimen(name="Varied", variants=frozenset(VARIANTS)))


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("nerve", WAYS)
def test_the_order_of_places(alder: Body, nerve: str, side: str) -> None:
    places = places_once(alder, f"{nerve}_{side}")
    assert fits(places, WAYS[nerve]), [place.place for place in places]


def test_an_order_that_is_not_told_does_not_fit(alder: Body) -> None:
    assert not fits(places_once(alder, "femoral_left"), "psoas ligament")
    assert not fits(places_once(alder, "femoral_left"), "retroperitoneum (psoas) iliac_fossa ligament thigh")


def test_stretches_cover_the_whole_of_every_nerve(varied: Body) -> None:
    for nerve in varied.ids("nerve"):
        places = places_once(varied, nerve)
        assert places[0].from_mm == 0.0
        assert places[-1].to_mm == pytest.approx(varied.centrelines[nerve].length)
        for first, second in pairwise(places):
            assert first.to_mm == second.from_mm
            assert first.site.key != second.site.key
        for place in places:
            assert place.to_mm > place.from_mm
            assert place.place in PLACES
            assert 0.0 <= place.depth_mm[0] <= place.depth_mm[1]


def test_both_sides_are_told_alike(alder: Body) -> None:
    for nerve in (n.removesuffix("_left") for n in alder.ids("nerve") if n.endswith("_left")):
        left, right = (places_once(alder, f"{nerve}_{side}") for side in SIDES)
        assert [p.site.key for p in left] == [p.site.key for p in right]
        for a, b in zip(left, right, strict=True):
            assert a.to_mm == pytest.approx(b.to_mm, abs=1.0 + 1e-6), nerve  # a sample may fall to either place
            assert a.depth_mm == pytest.approx(b.depth_mm, abs=0.5), nerve


@pytest.mark.parametrize("side", SIDES)
def test_the_ways_that_variants_give(varied: Body, side: str) -> None:
    assert fits(places_once(varied, f"accessory_obturator_{side}"), "(foramen) psoas (retroperitoneum) ligament thigh")
    assert fits(
        places_once(varied, f"lateral_femoral_cutaneous_{side}"),
        "(foramen) psoas (retroperitoneum) iliac_fossa (retroperitoneum) ligament thigh",
    )
    assert fits(places_once(varied, f"genitofemoral_genital_{side}"), "psoas retroperitoneum canal")
    assert fits(places_once(varied, f"genitofemoral_femoral_{side}"), "psoas retroperitoneum ligament thigh")


def test_small_and_tall_bodies_keep_the_order() -> None:
    for stature in (1400.0, 2100.0):
        body = load_body(Specimen(name="Larch", stature_mm=stature))
        for nerve in ("femoral", "obturator", "lateral_femoral_cutaneous", "ilioinguinal", "subcostal"):
            places = places_of(body, f"{nerve}_left")
            assert fits(places, WAYS[nerve]), (stature, nerve, [p.place for p in places])


def test_the_subcostal_nerve_never_lies_in_psoas(varied: Body) -> None:
    for side in SIDES:
        assert "psoas" not in {p.place for p in places_once(varied, f"subcostal_{side}")}


def test_a_prepared_body_serves_as_well(alder: Body) -> None:
    assert places_of(Ready.of(alder), "femoral_left") == places_once(alder, "femoral_left")


def test_the_place_of_a_point(alder: Body) -> None:
    places = places_once(alder, "femoral_left")
    for place in places:
        assert place_at(places, (place.from_mm + place.to_mm) / 2.0) == place
        assert place_at(places, place.from_mm) == place
    assert place_at(places, 1e6) == places[-1]
    assert place_at(places, -1.0) == places[0]


def test_what_is_no_nerve_is_told(alder: Body) -> None:
    with pytest.raises(FurcalError, match=r"unknown nerve 'femorl_left'\. Nearest: femoral_left"):
        places_of(alder, "femorl_left")
    with pytest.raises(FurcalError, match="aorta: is no nerve"):
        places_of(alder, "aorta")


def test_every_word_has_a_site() -> None:
    assert {site.place for site in sites().values()} == set(PLACES)


@given(st.lists(st.tuples(*[st.floats(-3.0, 3.0)] * 3), min_size=1, max_size=20))
def test_probes_of_a_cube(points: list[tuple[float, float, float]]) -> None:
    """A cube from -1 to 1: inside, distance and nearness are known in closed form."""
    import trimesh

    box = trimesh.creation.box(extents=(2.0, 2.0, 2.0))
    cube = Surface(np.array(box.vertices), np.array(box.faces, dtype=np.int32))
    p = np.array(points)
    p = p[(np.abs(np.abs(p) - 1.0) > 1e-6).all(axis=1)]  # on a face either answer is right
    if not len(p):
        return
    inside = (np.abs(p) < 1.0).all(axis=1)
    out = np.linalg.norm(np.maximum(np.abs(p) - 1.0, 0.0), axis=1)
    wanted = np.where(inside, (1.0 - np.abs(p)).min(axis=1), out)
    assert np.array_equal(held(cube, p), inside)
    assert away(cube, p) == pytest.approx(wanted, abs=1e-9)
    clear = np.abs(wanted - 0.7) > 1e-9
    assert np.array_equal(close(cube, p, 0.7)[clear], (inside | (wanted <= 0.7))[clear])
