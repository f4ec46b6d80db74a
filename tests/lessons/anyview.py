"""Every view and every specimen that a step can show, for property tests."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

from hypothesis import strategies as st

from lessons.film import LIMITS, Film
from lessons.scenefile import FAR_MM, HALF_HEIGHT_MIN_MM, LAYER_WORDS, known_ids, known_landmarks
from lessons.stepview import READERS_OWN, STATES
from lessons.view import (
    CAMERAS,
    COLOURINGS,
    DISSECTED_SIDES,
    LANGUAGES,
    OWN_PLACE,
    RAISE_MOST_DEG,
    THEMES,
    TURN_MOST_DEG,
    Camera,
    Placement,
    View,
)
from meshes.film.limits import FILM_VIEWS
from meshes.lesion import nerve_ids
from meshes.specimen import RANGES, SEED_END, SEXES, VARIANTS, Specimen
from meshes.specimen import from_table as specimen_from
from meshes.structures import APPROACHES, DISSECTION, LEVELS, POSTURES, SIDES
from meshes.tolerances import PORTAL_DEPTH_MAX_MM, PORTAL_RADIUS_MAX_MM, PORTAL_TILT_MAX_DEG

IDS = st.sampled_from(sorted(known_ids()))
triples = st.tuples(*[st.floats(-FAR_MM, FAR_MM)] * 3)
heights = st.just(0.0) | st.floats(HALF_HEIGHT_MIN_MM, FAR_MM)
free = st.builds(Camera, st.just("free"), triples, triples, triples, st.booleans(), heights)
down = st.builds(Camera, st.just("portal"), parallel=st.booleans(), half_height_mm=heights)
named = st.builds(
    Camera,
    st.sampled_from([name for name in CAMERAS if name not in OWN_PLACE]),
    parallel=st.booleans(),
    half_height_mm=heights,
    on=st.frozensets(IDS | st.sampled_from(sorted(known_landmarks())), max_size=3),
    turn_deg=st.floats(-TURN_MOST_DEG, TURN_MOST_DEG),
    raise_deg=st.floats(-RAISE_MOST_DEG, RAISE_MOST_DEG),
)
tilts = st.floats(-PORTAL_TILT_MAX_DEG, PORTAL_TILT_MAX_DEG)
placements = st.builds(
    Placement,
    st.sampled_from(LEVELS),
    st.sampled_from(SIDES),
    st.sampled_from(APPROACHES),
    st.floats(0.0, 1.0),
    st.floats(0.0, PORTAL_RADIUS_MAX_MM, exclude_min=True),
    st.floats(0.0, PORTAL_DEPTH_MAX_MM),
    tilts,
    tilts,
)
NERVES = [f"{bare}_{side}" for bare in nerve_ids() for side in SIDES]
films = st.builds(
    Film,
    view=st.sampled_from(FILM_VIEWS),
    nerves=st.frozensets(st.sampled_from(NERVES), max_size=2),
    **{key: st.floats(*limits) for key, limits in LIMITS.items()},
    **{f.name: st.booleans() for f in fields(Film) if f.type == "bool"},
)


@st.composite
def views(draw: st.DrawFn) -> View:
    """Any view of a step: every field but the reader's own, each word in one state at most."""
    states = draw(st.dictionaries(IDS | st.sampled_from(LAYER_WORDS), st.sampled_from(STATES), max_size=4))
    chosen: dict[str, Any] = {
        "camera": draw(named | free | down),
        "dissection": draw(st.sampled_from(DISSECTION)),
        "side": draw(st.sampled_from(DISSECTED_SIDES)),
        "highlighted": draw(st.frozensets(IDS, max_size=2)),
        "named": draw(st.frozensets(IDS, max_size=2)),
        "colouring": draw(st.sampled_from(COLOURINGS)),
        "portal": draw(st.none() | placements),
        "film": draw(st.none() | films),
        "measured": draw(st.just(()) | st.tuples(triples, triples)),
        **{key: frozenset(word for word, state in states.items() if state == key) for key in STATES},
        **{f.name: draw(st.booleans()) for f in fields(View) if f.type == "bool"},
    }
    assert {*chosen, *READERS_OWN} == {f.name for f in fields(View)}, "a new field of View needs a strategy here"
    return View(**chosen)


#: Any camera of a scene: also one that holds a place it does not look from.
cameras = st.builds(Camera, st.sampled_from(CAMERAS), triples, triples, triples, st.booleans(), heights) | named


@st.composite
def scene_views(draw: st.DrawFn) -> View:
    """Any view of a scene: that of a step, with any camera, and what is the reader's own."""
    own = {"theme": draw(st.sampled_from(THEMES)), "language": draw(st.sampled_from(LANGUAGES))}
    assert set(own) == set(READERS_OWN)
    return replace(draw(views()), camera=draw(cameras), **own)  # type: ignore[arg-type]  # legal words


#: As a person may type them: no control characters.
lines = st.text(
    st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp"], exclude_characters="\ufffe\uffff"), max_size=30
)
words = lines.filter(str.strip)


@st.composite
def specimens(draw: st.DrawFn, names: st.SearchStrategy[str] = words) -> Specimen:
    """Any specimen that a file can say, with or without a seed."""
    kinds = {
        "name": names,
        "sex": st.sampled_from(SEXES),
        "posture": st.sampled_from(POSTURES),
        "seed": st.integers(0, SEED_END - 1),
        "variants": st.dictionaries(st.sampled_from(VARIANTS), st.booleans()),
        "up": st.sampled_from(SIDES),
        **{key: st.floats(*RANGES[key]) for key in RANGES},
    }
    table = {key: draw(kind) for key, kind in kinds.items() if draw(st.booleans())}
    if table.get("posture", "side_lying") != "side_lying":
        table = {key: value for key, value in table.items() if key not in ("up", "table_break_deg")}
    return specimen_from(table, "birch.toml")
