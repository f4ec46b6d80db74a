"""The candidates: every place at which a nerve of the plexus can be hurt, and what each would show.

A nerve is a candidate at every place of its way, what is lost at each from the branch tree and the tables of supply;
neighbouring places at which the same is lost are one candidate. Roots and rami numb dermatomes, nerves numb their
patches: the two are never mixed. Beside them stand the plexus within psoas, and lesions outside the body that is shown.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Any

from lessons.findings import Finding, word_of, words
from lessons.readout import capital
from meshes.errors import unknown_word
from meshes.lesion import Cut, Loss, Lost, loss
from meshes.structures import segments
from meshes.supply import Main, supply

#: Weights of what a candidate may show: in full, in part, variable or shared with another nerve.
FULL, PART, SHARED = 1.0, 0.75, 0.5
#: Share of the lacking weight that a movement or jerk which fails only in part costs the candidate that explains it.
LACKING = 0.2
#: Roots that are candidates.
ROOTS = ("L1", "L2", "L3", "L4", "L5", "S1")
#: The body is the same on both sides; sites are worked out on this one.
_SIDE = "left"


@dataclass(frozen=True)
class Site:
    """One candidate and what it would show.

    id        : of the nerve, without side; lesions outside the body and compounds have ids of their own
    places    : places of the nerve's way, outwards; none for what has no way
    movements, reflexes, patches, joints, signs : what it weakens, abolishes, numbs, makes hurt or show, with weights
    muscles   : muscle -> weight, behind the movements
    levels    : dermatomes that it numbs; only of roots and rami
    """

    id: str
    name: str
    places: tuple[str, ...] = ()
    order: int = 0
    movements: Mapping[str, float] = field(default_factory=dict)
    reflexes: Mapping[str, float] = field(default_factory=dict)
    patches: Mapping[str, float] = field(default_factory=dict)
    joints: Mapping[str, float] = field(default_factory=dict)
    signs: Mapping[str, float] = field(default_factory=dict)
    muscles: Mapping[str, float] = field(default_factory=dict, compare=False)
    levels: frozenset[str] = frozenset()

    @property
    def extent(self) -> float:
        """How much it takes: the sum of what it would show."""
        return sum(w for _, _, w in self.expected())

    def where(self, first: Collection[str] = ()) -> str:
        """Its places in words; those of `first`, which an approach puts in danger, before the others."""
        named = sorted(self.places, key=lambda place: place not in first)
        return ", or ".join(_short(place) for place in named)

    def expected(self) -> list[tuple[str, frozenset[str], float]]:
        """What it should show: words, what a finding must speak of to have mentioned it, weight."""
        rows = [(f"weak: {m}", frozenset({f"weak:{m}"}), w) for m, w in self.movements.items() if m in _tested()]
        rows += [(f"lost: {_reflex(r)}", frozenset({f"lost:{r}"}), w) for r, w in self.reflexes.items()]
        rows += [(f"numb: {supply().patches[p].name}", frozenset({p}), w) for p, w in self.patches.items()]
        rows += [(f"numb: dermatome {level}", frozenset({level}), FULL) for level in sorted(self.levels)]
        rows += [(words()["other"][s].name, frozenset({f"other:{s}"}), w) for s, w in self.signs.items() if w > SHARED]
        return rows


def credit(site: Site, finding: Finding) -> float:
    """What a candidate earns by a finding: its weight, but strength and jerks that fail in part are explained too.

    Of the weight that they lack only a share is taken off; skin that is only shared earns no more than its weight.
    """
    likely = weight(site, finding)
    return FULL - LACKING * (FULL - likely) if finding.kind in ("weak", "lost") and likely else likely


def _short(place: str) -> str:
    """A place in words, without what the table adds behind a comma."""
    return supply().sites[place].name.split(",")[0].split(" (")[0]


def weight(site: Site, finding: Finding) -> float:
    """How much a candidate explains a finding: 0 (not at all) to 1."""
    if finding.kind == "weak":
        return site.movements.get(finding.id, 0.0)
    if finding.kind == "lost":
        return site.reflexes.get(finding.id, 0.0)
    if finding.kind == "other":
        return site.signs.get(finding.id, 0.0)
    word = word_of(finding)
    if word.part == "joint_place":
        return site.joints.get(word.anatomic, 0.0)
    first, *shared = word.patches or ("",)
    level = (PART if len(word.levels) > 1 else FULL) if _levels(site, first) & set(word.levels) else 0.0
    return max(level, site.patches.get(first, 0.0), *(SHARED * site.patches.get(p, 0.0) for p in shared))


def _levels(site: Site, patch: str) -> frozenset[str]:
    """The dermatomes that a candidate numbs where a patch lies: a ventral ramus none that the dorsal rami serve."""
    ventral = site.id.endswith("_ramus") and patch in _dorsal_skin()
    return frozenset() if ventral else site.levels


@cache
def _dorsal_skin() -> frozenset[str]:
    return frozenset(row.patch for name, n in supply().nerves.items() if name.endswith("_ganglion") for row in n.skin)


@cache
def sites() -> tuple[Site, ...]:
    """Every candidate: nerves at their places, roots, rami, compounds, and what lies outside the body."""
    _check_words()
    found = [*_nerves(), *_roots(), *_compounds(), *_outside()]
    return tuple(replace(_signed(site), order=k) for k, site in enumerate(found))


def lesion_ids() -> tuple[str, ...]:
    """Every id, without side, that a table may name as a lesion."""
    table = supply()
    return (*table.nerves, *table.compounds, *table.outside)


def by_hand(movement: str) -> bool:
    """Whether a movement is tested against the examiner's hand."""
    return movement in _tested()


def also_known_as(lesion: str) -> str:
    """The id under which the tables speak of a lesion: they call a root by its ramus."""
    return lesion.replace("_root", "_ramus")


def _check_words() -> None:
    """Words of the table of findings that speak of what no table of supply defines are refused."""
    table, where = supply(), "findings.toml"
    for part in words().values():
        for word in part.values():
            for patch in word.patches:
                if patch not in table.patches:
                    raise unknown_word(patch, table.patches, "patch", f"{where}, [{word.part}.{word.id}]")
            for level in word.levels:
                segments(level)
            legal = {"lost": table.reflexes, "joint_place": table.joints}.get(word.part, {})
            if word.anatomic and word.anatomic not in legal:
                raise unknown_word(word.anatomic, legal, "reflex or joint", f"{where}, [{word.part}.{word.id}]")
            for point in word.points:
                if point.id not in lesion_ids():
                    raise unknown_word(point.id, lesion_ids(), "nerve or lesion", f"{where}, [{word.part}.{word.id}]")
    for muscle in table.muscles.values():
        if muscle.movement not in words()["movement"]:
            raise unknown_word(muscle.movement, words()["movement"], "movement", f"supply.toml, [muscle.{muscle.id}]")


def _nerves() -> Iterator[Site]:
    """Each named nerve and ramus at each place, neighbours at which the same is lost as one."""
    from meshes.reference import all_courses

    for name, nerve in supply().nerves.items():
        if name.endswith("_ganglion") or name in ("t12_ramus", "s1_ramus"):
            continue  # the ganglion stands for the root; of T12 and S1 the root stands for the ramus
        title = all_courses()[name].structure.name.removeprefix(f"{_SIDE.title()} ")
        merged: list[Site] = []
        for place in nerve.way:
            site = _from_loss(name, title, (place,))
            if merged and _bedside(merged[-1]) == _bedside(site):
                merged[-1] = replace(merged[-1], places=(*merged[-1].places, place))
            else:
                merged.append(site)
        yield from merged


def _bedside(site: Site) -> Site:
    """A candidate as the bedside sees it, whatever its place."""
    return replace(site, places=(), movements={m: w for m, w in site.movements.items() if m in _tested()})


def _roots() -> Iterator[Site]:
    for root in ROOTS:
        of = f"{root.lower()}_ganglion" if f"{root.lower()}_ganglion" in supply().nerves else f"{root.lower()}_ramus"
        site = _from_loss(of, f"Root or spinal nerve of {root}", ("foramen",))
        yield replace(site, id=f"{root.lower()}_root")


def _from_loss(name: str, title: str, places: tuple[str, ...]) -> Site:
    """A candidate from what the tables say is lost beyond the first of its places."""
    lost = loss(f"{name}_{_SIDE}", _present() | {f"{name}_{_SIDE}"}, Cut(places[0]))
    by_segment = name.endswith(("_ramus", "_ganglion"))
    return _site(name, title, places, [lost], segments(_roots_of(name)) if by_segment else ())


def _roots_of(name: str) -> str:
    from meshes.reference import all_courses

    return all_courses()[name].structure.roots


@cache
def _present() -> frozenset[str]:
    """Nerves of a body without variants."""
    from meshes.reference import all_courses

    return frozenset(f"{name}_{_SIDE}" for name, course in all_courses().items() if not course.variant)


def _site(name: str, title: str, places: tuple[str, ...], losses: Iterable[Loss], levels: Iterable[str]) -> Site:
    muscles: dict[str, float] = {}
    reflexes: dict[str, float] = {}
    patches: dict[str, float] = {}
    joints: dict[str, float] = {}
    dermatomes = frozenset(levels)
    table = supply()
    for lost in losses:
        for one in lost.motor:
            w = SHARED if one.row.variable or one.row.disputed else _weakened(table.muscles[one.row.muscle].main, one)
            muscles[one.row.muscle] = max(w, muscles.get(one.row.muscle, 0.0))
        for jerk in lost.reflexes:
            w = SHARED if jerk.row.disputed else _weakened(table.reflexes[jerk.row.reflex].main, jerk)
            reflexes[jerk.row.reflex] = max(w, reflexes.get(jerk.row.reflex, 0.0))
        for skin in lost.skin if not dermatomes else ():
            unsure = skin.row.variable or skin.partial or table.patches[skin.row.patch].dispute
            w = SHARED if unsure else FULL
            patches[skin.row.patch] = max(w, patches.get(skin.row.patch, 0.0))
        joints |= {one.row.joint: SHARED for one in lost.joints}
    return Site(name, title, places, 0, _movements(muscles), reflexes, patches, joints, {}, muscles, dermatomes)


def _weakened(main: Main | None, one: Lost[Any]) -> float:
    """In full where nothing else serves it, or where the segments that count most are cut; else in part."""
    counts = main is not None and set(segments(main.roots)) & set(segments(one.roots))
    return FULL if counts or not one.partial else PART


def _movements(muscles: Mapping[str, float]) -> dict[str, float]:
    """Movement -> the mean weight of its prime movers, at least SHARED where any is weak."""
    found = {}
    for movement in dict.fromkeys(supply().muscles[m].movement for m in muscles):
        movers = [m for m in supply().muscles.values() if m.movement == movement]
        prime = [m.id for m in movers if m.prime] or [m.id for m in movers]
        mean = sum(muscles.get(m, 0.0) for m in prime) / len(prime)
        if mean > 0:
            found[movement] = max(mean, SHARED)
    return found


def examined() -> frozenset[str]:
    """Movements that are examined, by hand or, where a sign of the table of findings stands for one, otherwise."""
    return _tested() | {word.same_as[1] for word in words()["other"].values() if word.same_as}


@cache
def _tested() -> frozenset[str]:
    """Movements that the bedside tests: those with a prime mover."""
    return frozenset(m.movement for m in supply().muscles.values() if m.prime)


def _reflex(reflex: str) -> str:
    return supply().reflexes[reflex].name


def _compounds() -> Iterator[Site]:
    for name, compound in supply().compounds.items():
        losses = [loss(f"{nerve}_{_SIDE}", _present(), Cut(compound.at)) for nerve in compound.of]
        site = _site(name, capital(compound.name), (compound.at,), losses, ())
        yield replace(site, signs=_signs(*compound.of))


def _outside() -> Iterator[Site]:
    for name, one in supply().outside.items():
        muscles = dict.fromkeys(one.motor, FULL)
        reflexes, patches = dict.fromkeys(one.reflexes, FULL), dict.fromkeys(one.skin, FULL)
        yield Site(name, capital(one.name), (), 0, _movements(muscles), reflexes, patches, muscles=muscles)


def _signed(site: Site) -> Site:
    return replace(site, signs={**site.signs, **_signs(also_known_as(site.id))})


def _signs(*lesions: str) -> dict[str, float]:
    """Signs that speak for any of some lesions; one that does so in some only counts as shared."""
    return {
        word.id: SHARED if point.may else FULL
        for word in words()["other"].values()
        for point in word.points
        if point.id in lesions
    }
