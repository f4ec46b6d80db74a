"""Items about where a portal may stand: the quarter of a disc, and a portal that is to be docked."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import astuple, replace
from functools import partial
from itertools import product

from lessons.spot.item import QUARTERS, Docked, Quartered
from lessons.spot.made.draft import Asked, Draft, Making, in_text
from lessons.spot.made.told import sourced
from lessons.spot.onbody import solution
from lessons.view import Camera, Placement, View
from meshes.contact import Docking, dock
from meshes.errors import FurcalError
from meshes.portal import place
from meshes.risk import approach_risk
from meshes.structures import LEVELS, SIDES, level_key

#: The portals that are asked about: from straight aside; mm.
RADII_MM = (3.0, 5.0, 8.0)
APPROACH = "lateral"
#: How far they lean to the head, degrees: a high crest asks for it.
LEANS_DEG = (0.0, 20.0)
#: A quarter is open where some place clears every nerve by so much, and shut where each cuts one by so much, mm.
#: Places lie about a millimetre apart, and no clearance grows faster than the portal moves: between them none is free.
CLEAR_MM, SHUT_MM = 0.3, 0.7
#: The middle of each quarter, from the back (0) to the front (1) of the disc, and the places tried about it.
MIDDLES = {quarter: (3 - i + 0.5) / 4.0 for i, quarter in enumerate(QUARTERS)}
PLACES = (0.0, 0.036, -0.036, 0.072, -0.072, 0.108, -0.108, 0.124, -0.124)
#: Radii of portals that are to be docked, and where they stand at first.
DOCK_RADII_MM, DOCK_AT = (5.0, 7.0), (0.2, 0.8)


def quarter_items(asked: Asked) -> Iterator[Making]:
    """In which quarter of a disc a portal touches no nerve."""
    for level, side, radius, lean in product(LEVELS, SIDES, RADII_MM, LEANS_DEG):
        if level in approach_risk()[APPROACH].levels:
            key = f"{level_key(level)}_{side}_{radius:g}_{lean:g}"
            portal = Placement(level, side, APPROACH, 0.5, radius, cranial_deg=lean)
            yield key, partial(_quartered, asked, portal, key)


def _docked_at(asked: Asked, portal: Placement) -> Docking | None:
    try:
        return dock(asked.body, place(asked.body, *astuple(portal)), asked.ready)
    except FurcalError:
        return None


def _quartered(asked: Asked, portal: Placement, key: str) -> Draft | None:
    best = {quarter: _best_in(asked, portal, quarter) for quarter in MIDDLES}
    right = tuple(quarter for quarter, (free, _) in best.items() if free >= CLEAR_MM)
    wrong = [quarter for quarter, (free, _) in best.items() if free <= -SHUT_MM]
    if not right or not wrong or len(right) + len(wrong) < len(QUARTERS):
        return None
    body, disc = asked.body, f"disc_{level_key(portal.level)}"
    view = View(
        camera=Camera(portal.side, on=frozenset({disc}), half_height_mm=90.0), dissection="iliacus_quadratus",
        labels=False,
    )  # fmt: skip
    why = " ".join(f"{_why(quarter, docking)} [judgement]" for quarter, (_, docking) in best.items())
    return Draft(
        "quarter", key, "approach", portal.level,
        f"Seen from the {portal.side}. A lateral portal of {portal.radius_mm:g} mm radius{_lean(portal)} goes to the "
        f"{portal.level} disc. On this body, in which quarter may its middle stand so that it reaches the disc and "
        "touches no nerve?",
        f"{why} {_books(portal)}".strip(), view, body.specimen,
        Quartered(portal.level, portal.side, right, portal.radius_mm, APPROACH, portal.cranial_deg),
        depth="apply", lit=tuple(dict.fromkeys(d.nerves[0].id for _, d in best.values() if d is not None)),
    )  # fmt: skip


def _best_in(asked: Asked, portal: Placement, quarter: str) -> tuple[float, Docking | None]:
    """The freest place of a portal in a quarter: clearance of the nearest nerve, mm, and the docking there.

    Minus infinity where bone bars it from every place that nerves leave open.
    """
    tried = [_docked_at(asked, replace(portal, at=MIDDLES[quarter] + off)) for off in PLACES]
    own = sorted(
        (d for d in tried if d is not None and d.portal.quarter == quarter),
        key=lambda d: -d.nerves[0].clearance_mm,
    )
    if not own:
        return float("-inf"), None
    reaching = next((d for d in own if d.nerves[0].clearance_mm <= -SHUT_MM or d.access.reaches_disc), None)
    return (float("-inf"), own[0]) if reaching is None else (reaching.nerves[0].clearance_mm, reaching)


def _why(quarter: str, docking: Docking | None) -> str:
    if docking is None:
        return f"In quarter {quarter} it finds no place."
    if not docking.access.reaches_disc:
        return f"In quarter {quarter} {in_text(docking.access.barred[0])} bars the way."
    nearest = in_text(docking.nerves[0].structure)
    if docking.nerves[0].touched:
        return f"In quarter {quarter} no place is free: at the best it touches {nearest}."
    return f"In quarter {quarter} there is a free place; {nearest} comes nearest."


def _lean(portal: Placement) -> str:
    return f", leaned {portal.cranial_deg:g} degrees to the head," if portal.cranial_deg else ""


def _books(portal: Placement) -> str:
    """What the books say of the approach at this level."""
    told = [one.told for one in approach_risk()[portal.approach].at if one.level == portal.level]
    return " ".join(sourced(f"At {portal.level} by the books: {one.says}", one.sources) for one in told[:2])


def dock_items(asked: Asked) -> Iterator[Making]:
    """A portal that touches a nerve is to be placed so that it touches none."""
    for approach, level, side, radius, at in product(("lateral", "oblique"), LEVELS, SIDES, DOCK_RADII_MM, DOCK_AT):
        if level in approach_risk()[approach].levels:
            key = f"{approach}_{level_key(level)}_{side}_{radius:g}_{'back' if at < 0.5 else 'front'}"
            yield key, partial(_docked, asked, Placement(level, side, approach, at, radius), key)


def _docked(asked: Asked, start: Placement, key: str) -> Draft | None:
    docking = _docked_at(asked, start)
    if docking is None or not docking.nerves[0].touched:
        return None
    answer = Docked(start)
    way = solution(answer, asked.body)
    if way is None:
        return None
    touched = in_text(docking.nerves[0].structure)
    view = View(
        camera=Camera(start.side, on=frozenset({docking.portal.disc}), half_height_mm=110.0),
        dissection="retroperitoneum", labels=False, portal=start,
    )  # fmt: skip
    found = (
        f"At first it touches {touched}. [judgement] One free way ends at {way.at:g} of the disc (0 behind, 1 in front)"
    )
    leans = [f"{way.cranial_deg:g} degrees to the head"] if way.cranial_deg else []
    leans += [f"{way.anterior_deg:g} degrees to the front"] if way.anterior_deg else []
    lean = f", leaned {' and '.join(leans)}" if leans else ""
    return Draft(
        "dock", key, "approach", start.level,
        f"Seen from the {start.side}. This {start.approach} portal of {start.radius_mm:g} mm radius goes to the "
        f"{start.level} disc. Place it so that it reaches the disc and touches no nerve of this body.",
        f"{found}{lean}. [judgement] {_books(start)}".strip(), view, asked.body.specimen, answer,
        depth="apply", lit=(docking.nerves[0].id,),
    )  # fmt: skip
