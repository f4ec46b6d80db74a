"""An item as a value: what is shown, what is asked, what is right, and why. Read from a file by `lessons.spot.bank`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from lessons.view import Placement, View
from meshes.specimen import ALDER, Specimen

#: What an item asks for. The words are those of `furcal items list`.
KINDS = (
    "name", "point", "trace", "order", "predict", "examine", "find", "quarter", "dock", "wire", "differs",
)  # fmt: skip
#: What an item is meant to find out; a class is told which of them fail.
OBJECTIVES = (
    "formation", "course", "relations", "supply", "loss", "examination", "approach", "film", "variation",
)  # fmt: skip
OBJECTIVE_WORDS = {
    "formation": "Roots, divisions and branches of the plexus",
    "course": "Where a nerve runs and what it passes",
    "relations": "What lies beside, in front of and behind a structure",
    "supply": "Which muscle and which skin a nerve serves",
    "loss": "What a patient loses",
    "examination": "How a loss is examined, and what a finding means",
    "approach": "Where a portal may go and what it endangers",
    "film": "The plexus on a radiograph",
    "variation": "How people differ",
}
#: How deep an item reaches.
DEPTHS = ("recall", "understand", "apply")
QUARTERS = ("I", "II", "III", "IV")
#: What a portal may be asked to be clear of, and the approaches that meet a disc somewhere between back and front.
CLEAR_OF = ("nerves", "vessels", "viscera")
QUARTER_APPROACHES = ("lateral", "oblique")
#: How far beside the structure a click still counts, mm along the surface.
WITHIN_MM = (1.0, 30.0)


@dataclass(frozen=True)
class Named:
    """The marked structure is to be named in free text.

    mark : id of the structure that is marked; in a film the wire
    """

    mark: str


@dataclass(frozen=True)
class Pointed:
    """A structure is to be pointed to, within so many mm along the surface of what is shown."""

    target: str
    within_mm: float


@dataclass(frozen=True)
class Rooted:
    """The segments whose fibres a nerve carries, e.g. ("L2", "L3", "L4")."""

    roots: tuple[str, ...]


@dataclass(frozen=True)
class Ordered:
    """Words that are to be put in order, here in the right one."""

    right: tuple[str, ...]


@dataclass(frozen=True)
class Chosen:
    """One best answer among three to five; `right` is the key, `wrong` are the distractors."""

    right: str
    wrong: tuple[str, ...]

    @property
    def options(self) -> tuple[str, ...]:
        """All of them, the right one first: `lessons.spot.sitting` puts them in another order."""
        return (self.right, *self.wrong)


@dataclass(frozen=True)
class Quartered:
    """The quarters of a disc, from the front (I) to the back (IV), in which a portal may stand: any of `right`.

    disc        : the level; side : from where the portal comes
    radius_mm   : of that portal; by default that of a dilator 10 mm across (common practice, no source)
    approach    : one of QUARTER_APPROACHES;  cranial_deg : how far it leans to the head
    clear_mm    : clearance that is asked for, at least;  clear_of : of what, words of CLEAR_OF
    """

    disc: str
    side: str
    right: tuple[str, ...]
    radius_mm: float = 5.0
    approach: str = "lateral"
    cranial_deg: float = 0.0
    clear_mm: float = 0.0
    clear_of: tuple[str, ...] = CLEAR_OF[:1]


@dataclass(frozen=True)
class Docked:
    """A portal is to be placed so that it reaches the disc and touches no nerve.

    start    : where it stands at first; its level, side and approach stay
    clear_mm : clearance of every nerve that is asked for, at least
    """

    start: Placement
    clear_mm: float = 0.0


Answer = Named | Pointed | Rooted | Ordered | Chosen | Quartered | Docked
#: Kinds whose answer may be of each sort.
SORTS: Mapping[str, tuple[type, ...]] = {
    "name": (Named, Chosen),
    "point": (Pointed,),
    "trace": (Rooted,),
    "order": (Ordered,),
    "predict": (Chosen,),
    "examine": (Chosen,),
    "find": (Chosen,),
    "quarter": (Quartered,),
    "dock": (Docked,),
    "wire": (Named, Chosen),
    "differs": (Chosen,),
}


@dataclass(frozen=True)
class Item:
    """One item.

    id        : a word, once in all banks that are used together
    structure : what it is about, an id with or without side, a level such as `L4-5`, or a word of `variants.toml`
    vignette  : what is told first: age, operation, level, finding; may be empty
    ask       : the question, last; it can be answered with the options covered
    explain   : why, with `[key]` behind every figure; shown when it was answered
    lit       : ids that are lit while it is explained; by default what was marked or asked for
    own       : the bank's own sources, for `explain`
    where     : file and place, as errors name it
    made      : generated from the body and the supply, not written
    """

    id: str
    kind: str
    objective: str
    structure: str
    ask: str
    answer: Answer
    explain: str
    specimen: Specimen = ALDER
    view: View = field(default_factory=View)
    vignette: str = ""
    depth: str = "recall"
    lit: tuple[str, ...] = ()
    own: Mapping[str, str] = field(default_factory=dict)
    where: str = ""
    made: bool = False
