"""What hangs on the nerves, as the table of supply gives it: muscles, skin, joints, reflexes, and what is disputed.

A row of a nerve says what it serves, and `at` which place of the nerve's way the supply leaves it. What a lesion takes
follows from these rows and the branch tree: meshes.lesion. Ids of nerves are those of the body, without side.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from meshes.errors import unknown_word
from meshes.records import basis_of, record, text_of
from meshes.structures import SEGMENTS
from meshes.tables import ANATOMY, Table, check_keys, cited, read_toml, require

Words = tuple[str, ...]


@dataclass(frozen=True)
class Site:
    """A place along the nerves' ways; a higher order lies further from the spine."""

    order: float
    name: str
    id: str = ""


@dataclass(frozen=True)
class Main:
    """The segments that count most, of several."""

    roots: str
    source: Words
    basis: str


@dataclass(frozen=True)
class Muscle:
    """A muscle, the movement that shows its loss (`also`: others that it takes part in) and how to test it.

    prime : whether its loss alone makes the movement weak
    body  : id, without side, of the body's muscle, where the body has it
    """

    name: str
    latin: str
    movement: str
    prime: bool
    roots: str
    test: str
    source: Words
    basis: str
    also: Words = ()
    main: Main | None = None
    body: str = ""
    dispute: str = ""
    id: str = ""


@dataclass(frozen=True)
class Patch:
    """The skin of one nerve, never of a segment. `overlaps`: patches that share its border."""

    name: str
    test_at: str
    overlaps: Words
    source: Words
    basis: str
    dispute: str = ""
    id: str = ""


@dataclass(frozen=True)
class Joint:
    """A joint. `felt_source` stands for where its pain is felt and for the rule."""

    name: str
    latin: str
    rule: str
    felt: str
    source: Words
    basis: str
    felt_source: Words
    id: str = ""


@dataclass(frozen=True)
class Reflex:
    """A reflex and how to draw it out."""

    name: str
    latin: str
    roots: str
    how: str
    source: Words
    basis: str
    main: Main | None = None
    dispute: str = ""
    id: str = ""


@dataclass(frozen=True)
class Motor:
    """A muscle's supply by one nerve: of these segments, leaving `at` a place."""

    muscle: str
    at: str
    at_source: Words
    roots: str
    source: Words
    basis: str
    variable: bool = False
    disputed: bool = False
    note: str = ""


@dataclass(frozen=True)
class Skin:
    """A patch's supply by one nerve."""

    patch: str
    at: str
    at_source: Words
    roots: str
    source: Words
    basis: str
    variable: bool = False
    note: str = ""


@dataclass(frozen=True)
class JointSupply:
    """A joint's supply by one nerve."""

    joint: str
    at: str
    at_source: Words
    source: Words
    basis: str
    note: str = ""


@dataclass(frozen=True)
class ReflexSupply:
    """A nerve's part in a reflex: limb "afferent", "efferent" or "both"."""

    reflex: str
    limb: str
    at: str
    at_source: Words
    source: Words
    basis: str
    disputed: bool = False
    note: str = ""


@dataclass(frozen=True)
class Function:
    """What a nerve does that is neither movement nor feeling."""

    function: str
    name: str
    at: str
    at_source: Words
    roots: str
    source: Words
    basis: str
    note: str = ""


@dataclass(frozen=True)
class Says:
    """Words with their source: what a patient says, or where to touch."""

    words: str
    source: Words
    basis: str


@dataclass(frozen=True)
class Examine:
    """What the examiner does, and what is found."""

    do: str
    expect: str
    source: Words
    basis: str


@dataclass(frozen=True)
class NerveSupply:
    """All that hangs directly on one nerve; its branches have their own."""

    way: Words
    motor: tuple[Motor, ...]
    skin: tuple[Skin, ...]
    joints: tuple[JointSupply, ...]
    reflexes: tuple[ReflexSupply, ...]
    functions: tuple[Function, ...] = ()
    says: Says | None = None
    examine: tuple[Examine, ...] = ()
    touch: Says | None = None
    dispute: str = ""
    note: str = ""
    id: str = ""


@dataclass(frozen=True)
class Level:
    """Key muscles and key sensory point of one segment, and the words of findings that lie `near` the point."""

    key_muscles: Words
    point: str
    near: Words
    source: Words
    basis: str
    muscle_name: str = ""
    movement: str = ""
    position: str = ""
    non_key: Words = ()
    dispute: str = ""
    id: str = ""


@dataclass(frozen=True)
class View:
    """One side of a dispute."""

    says: str
    source: Words
    basis: str


@dataclass(frozen=True)
class Dispute:
    """What the books do not agree on: every view with its source, and what this program shows."""

    about: str
    ours: str
    views: tuple[View, ...]
    id: str = ""


@dataclass(frozen=True)
class Compound:
    """Nerves that are hurt together at one place."""

    name: str
    of: Words
    at: str
    says: str
    source: Words
    basis: str
    id: str = ""


@dataclass(frozen=True)
class Outside:
    """A lesion beyond the body that is shown, wanted where complaints are told apart. `spares`: muscles kept."""

    name: str
    latin: str
    motor: Words
    spares: Words
    skin: Words
    reflexes: Words
    says: str
    source: Words
    basis: str
    pain: Words = ()
    id: str = ""


@dataclass(frozen=True)
class Grades:
    """Strength from 0 to 5: words[n] is grade n."""

    words: Words
    source: Words
    basis: str


@dataclass(frozen=True)
class Supply:
    """The whole table, each part by id."""

    sites: Mapping[str, Site]
    grades: Grades
    muscles: Mapping[str, Muscle]
    patches: Mapping[str, Patch]
    joints: Mapping[str, Joint]
    reflexes: Mapping[str, Reflex]
    nerves: Mapping[str, NerveSupply]
    levels: Mapping[str, Level]
    disputes: Mapping[str, Dispute]
    compounds: Mapping[str, Compound]
    outside: Mapping[str, Outside]


#: The table's words for its parts -> what a row of each is.
_PARTS: Mapping[str, type[Any]] = {
    "place": Site, "muscle": Muscle, "patch": Patch, "joint": Joint, "reflex": Reflex, "nerve": NerveSupply,
    "level": Level, "dispute": Dispute, "compound": Compound, "outside": Outside,
}  # fmt: skip
_PATH = ANATOMY / "supply.toml"


@cache
def supply() -> Supply:
    """The table of the anatomy, read once."""
    from meshes.reference import all_courses

    nerves = [name for name, course in all_courses().items() if course.structure.kind == "nerve"]
    return read_supply(_PATH, nerves)


def read_supply(path: Path, nerves: Iterable[str]) -> Supply:
    """One table of supply. nerves: ids, without side, of the nerves that the body can have.

    Raises FurcalError naming file and place for an unknown key or word, and for a row that names what nobody defines.
    """
    table = read_toml(path)
    check_keys(table, ("grade", *_PARTS), str(path))
    parts = {
        word: {name: record(of, row, f"{path}, [{word}.{name}]", name) for name, row in table.get(word, {}).items()}
        for word, of in _PARTS.items()
    }
    read = Supply(
        parts["place"], _grades(require(table, "grade", str(path)), f"{path}, [grade]"), parts["muscle"],
        parts["patch"], parts["joint"], parts["reflex"], parts["nerve"], parts["level"], parts["dispute"],
        parts["compound"], parts["outside"],
    )  # fmt: skip
    for word, legal, what, where in _references(read, list(nerves)):
        if word not in legal:
            raise unknown_word(word, legal, what, f"{path}, [{where}]")
    return read


def _grades(row: Table, where: str) -> Grades:
    numbers = [str(n) for n in range(6)]
    check_keys(row, (*numbers, "source", "basis"), where)
    words = tuple(text_of(require(row, n, where), f"{where}, {n}") for n in numbers)
    return Grades(words, cited(row, where), basis_of(row, where))


_LIMBS = ("afferent", "efferent", "both")
_Reference = tuple[str, Iterable[str], str, str]


def _references(s: Supply, nerves: list[str]) -> Iterator[_Reference]:
    """Every word of a row that another row must define: the word, the legal ones, what it is, the row."""
    for name, nerve in s.nerves.items():
        yield from _references_of_nerve(s, nerve, nerves, f"nerve.{name}")
    for part in ("muscles", "patches", "reflexes", "nerves", "levels"):
        for name, row in getattr(s, part).items():
            if row.dispute:
                yield row.dispute, s.disputes, "dispute", f"{part.removesuffix('s')}.{name}"
    for name, patch in s.patches.items():
        yield from ((word, s.patches, "patch", f"patch.{name}") for word in patch.overlaps)
    for name, level in s.levels.items():
        yield name, SEGMENTS, "segment", f"level.{name}"
        yield from ((word, s.muscles, "muscle", f"level.{name}") for word in level.key_muscles)
    for name, out in s.outside.items():
        yield from ((word, s.muscles, "muscle", f"outside.{name}") for word in (*out.motor, *out.spares))
        yield from ((word, s.patches, "patch", f"outside.{name}") for word in out.skin)
        yield from ((word, s.reflexes, "reflex", f"outside.{name}") for word in out.reflexes)
    for name, compound in s.compounds.items():
        yield compound.at, s.sites, "place", f"compound.{name}"
        yield from ((word, s.nerves, "nerve", f"compound.{name}") for word in compound.of)


def _references_of_nerve(s: Supply, nerve: NerveSupply, nerves: list[str], where: str) -> Iterator[_Reference]:
    yield nerve.id, nerves, "nerve", where
    yield from ((word, s.sites, "place", where) for word in nerve.way)
    for rows in (nerve.motor, nerve.skin, nerve.joints, nerve.reflexes, nerve.functions):
        yield from ((row.at, nerve.way, "place on its way", where) for row in rows)
    yield from ((row.muscle, s.muscles, "muscle", where) for row in nerve.motor)
    yield from ((row.patch, s.patches, "patch", where) for row in nerve.skin)
    yield from ((row.joint, s.joints, "joint", where) for row in nerve.joints)
    yield from ((row.reflex, s.reflexes, "reflex", where) for row in nerve.reflexes)
    yield from ((row.limb, _LIMBS, "limb of a reflex", where) for row in nerve.reflexes)
