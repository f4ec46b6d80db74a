"""What is on the screen, as one frozen value: the hinge between a lesson and the window.

A `View` says which layers are off, what is glassy, from where one looks and where the portal stands. It holds no
pictures and no geometry; `viewer.scene` draws it, and nothing else decides what is seen.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields, replace
from math import isfinite
from typing import Any, Literal, get_args

from lessons.film import Film
from meshes.errors import FurcalError, shown, unknown_word
from meshes.opening import BODIES, opening
from meshes.structures import APPROACHES, DISSECTION, LEVELS, SIDES, VIEWS, Structure

State = Literal["on", "glassy", "off"]
STATES: tuple[str, ...] = get_args(State)
CAMERAS = ("home", *VIEWS, "free")
COLOURINGS = ("print", "by_nerve", "by_root", "by_division")
THEMES = ("light", "dark")
#: What names on the picture are written in.
LANGUAGES = ("english", "latin")
DISSECTED_SIDES = ("both", *SIDES)
#: Named views whose place is given by numbers or by the portal.
OWN_PLACE = ("free", "portal")
#: All nerves of a side.
NERVE_WORDS = tuple(f"nerves_{side}" for side in SIDES)
TURN_MOST_DEG, RAISE_MOST_DEG = 180.0, 85.0
Triple = tuple[float, float, float]


@dataclass(frozen=True)
class Camera:
    """Where one looks from.

    name           : a named view, or "free" when position, focus and up say it
    position_mm    : (3,) mm; used when name is "free"
    focus_mm       : (3,) mm; used when name is "free"
    up             : (3,) direction that points up on the screen; used when name is "free"
    parallel       : parallel rays (lengths can be measured) or perspective
    half_height_mm : half of what the picture is high, at the focus; 0 fits what the view is about
    on             : ids of structures and names of landmarks that a named view is about; empty for the whole body
    turn_deg       : how far a named view is carried to the right about what is upright in it
    raise_deg      : how far it is raised
    """

    name: str = "home"
    position_mm: Triple = (0.0, 0.0, 0.0)
    focus_mm: Triple = (0.0, 0.0, 0.0)
    up: Triple = (0.0, 0.0, 1.0)
    parallel: bool = True
    half_height_mm: float = 0.0
    on: frozenset[str] = frozenset()
    turn_deg: float = 0.0
    raise_deg: float = 0.0

    def __post_init__(self) -> None:
        if self.name not in CAMERAS:
            raise unknown_word(self.name, CAMERAS, "view")
        for name, most in (("turn_deg", TURN_MOST_DEG), ("raise_deg", RAISE_MOST_DEG)):
            if not abs(getattr(self, name)) <= most:
                raise FurcalError(f"{name} {getattr(self, name):g}: must lie between {-most:g} and {most:g}.")
        if self.name in OWN_PLACE and (self.on or self.turn_deg or self.raise_deg):
            raise FurcalError(
                f"the view {self.name} has its own place; on, turn_deg and raise_deg go with another view."
            )
        numbers = (*self.position_mm, *self.focus_mm, *self.up, self.half_height_mm)
        if not all(isfinite(n) for n in numbers) or self.half_height_mm < 0.0:
            raise FurcalError("every number of a camera must be finite, and half_height_mm at least 0.")


@dataclass(frozen=True)
class Placement:
    """Where a portal stands, in the words of `furcal dock`. The numbers are judged where the portal is built."""

    level: str = "L4-5"
    side: str = "left"
    approach: str = "lateral"
    at: float = 0.5
    radius_mm: float = 11.0
    depth_mm: float = 0.0
    cranial_deg: float = 0.0
    anterior_deg: float = 0.0

    def __post_init__(self) -> None:
        for value, legal, what in (
            (self.level, LEVELS, "level"),
            (self.side, SIDES, "side"),
            (self.approach, APPROACHES, "approach"),
        ):
            if value not in legal:
                raise unknown_word(value, legal, what)


@dataclass(frozen=True)
class View:
    """One state of the screen.

    dissection  : the outermost layer still on (one of DISSECTION)
    side        : which side is dissected; the other keeps all its layers
    glassy, hidden, shown : ids of structures, words of DISSECTION, or `vertebral_bodies`, that leave the rule of the
                  dissection: at `dura` the bodies are lifted off, and everything else of bone stays; also
                  `nerves_left` and `nerves_right`, all nerves of a side but those that are listed by themselves
    highlighted : ids that are traced: ringed, while the rest dims
    named       : ids that carry a name beside those of `highlighted`; empty for all that there is room for
    colouring   : how nerves are coloured
    language    : what names on the picture are written in
    portal      : where the portal stands, None without one
    film        : the film that stands in place of the field or beside it, None without one
    measured    : two points, mm, whose distance is shown; empty for none
    """

    camera: Camera = field(default_factory=Camera)
    dissection: str = "psoas"
    side: str = "both"
    glassy: frozenset[str] = frozenset()
    hidden: frozenset[str] = frozenset()
    shown: frozenset[str] = frozenset()
    highlighted: frozenset[str] = frozenset()
    named: frozenset[str] = frozenset()
    colouring: str = "print"
    labels: bool = True
    theme: str = "light"
    language: str = "english"
    portal: Placement | None = None
    film: Film | None = None
    measured: tuple[Triple, ...] = ()

    def __post_init__(self) -> None:
        for value, legal, what in (
            (self.dissection, DISSECTION, "dissection"),
            (self.side, DISSECTED_SIDES, "side"),
            (self.colouring, COLOURINGS, "colouring"),
            (self.theme, THEMES, "theme"),
            (self.language, LANGUAGES, "language"),
        ):
            if value not in legal:
                raise unknown_word(value, legal, what)
        if len(self.measured) not in (0, 2) or not all(isfinite(n) for point in self.measured for n in point):
            raise FurcalError("measured: give two points of three finite numbers each, or none.")
        twice = (self.glassy & self.hidden) | (self.glassy & self.shown) | (self.hidden & self.shown)
        if twice:
            raise FurcalError(f"{shown(sorted(twice)[0])} is listed under two of glassy, hidden and shown; keep one.")

    # --- what is seen

    def visibility(self, structure: Structure) -> State:
        """How one structure is drawn: "on", "glassy" or "off".

        Whatever lies under an opaque skin or an opaque coat of fat is off. Nerves are never taken off with a layer:
        they come into sight as the layers over them leave, and stay to the end.
        """
        if structure.kind != "skin" and self.is_wrapped:
            return "off"
        return self.own_state(structure)

    def layer_state(self, layer: str) -> State:
        """How a whole layer stands, leaving single structures aside."""
        return self._override(layer) or ("on" if self._is_left(layer) else "off")

    @property
    def is_wrapped(self) -> bool:
        """True while opaque skin or fat wraps the body, so that nothing inside can be seen; not down a portal."""
        return not self.looks_down and "on" in (self.layer_state("skin"), self.layer_state("fat"))

    @property
    def looks_down(self) -> bool:
        """True while one looks down the portal, through whatever it holds aside."""
        return self.camera.name == "portal" and self.portal is not None

    @property
    def bodies_lifted(self) -> bool:
        """Whether the bodies of the vertebrae are off, so that the canal lies open from in front."""
        return self._bodies == "off"

    def is_opened(self, structure: Structure) -> bool:
        """Whether only what lies behind its cut is left of a structure. One that is shown by itself is whole."""
        return self.bodies_lifted and structure.id in opening().cuts and structure.id not in self.shown

    @property
    def _bodies(self) -> State:
        return self._override(BODIES) or ("off" if self.dissection == "dura" else "on")

    def own_state(self, structure: Structure) -> State:
        """How a structure stands by itself, whether or not the coat over it lets it be seen."""
        own = self._override(structure.id)
        if own:
            return own
        if structure.kind == "nerve":
            return self._override(f"nerves_{structure.side}") or "on"
        if self.side in SIDES and structure.side in SIDES and structure.side != self.side:
            return "on"
        layer = self.layer_state(structure.layer)
        if layer == "on" and self._is_met(structure):
            return "glassy"
        if layer == "off" or self._bodies == "on" or structure.id not in opening():
            return layer
        if self._bodies == "glassy":
            return "glassy"
        return "off" if structure.id in opening().lifted else layer

    def _is_met(self, structure: Structure) -> bool:
        """Whether a portal meets this psoas, and nobody asked for the muscle: glassy, it shows what lies inside it."""
        met = self.portal is not None and structure.id == f"psoas_major_{self.portal.side}"
        return met and structure.layer not in self.shown

    def _override(self, word: str) -> State | None:
        if word in self.hidden:
            return "off"
        if word in self.glassy:
            return "glassy"
        return "on" if word in self.shown else None

    def _is_left(self, layer: str) -> bool:
        if layer == "vertebrae":  # the handle takes off no more of bone than the bodies of the vertebrae
            return True
        return DISSECTION.index(layer) >= DISSECTION.index(self.dissection)

    # --- other views made from this one

    def with_state(self, words: str | Iterable[str], state: State | None) -> View:
        """The view with structures or layers put on, made glassy or taken off; None lets the dissection decide."""
        chosen = frozenset([words] if isinstance(words, str) else words)
        sets = {"on": self.shown - chosen, "glassy": self.glassy - chosen, "off": self.hidden - chosen}
        if state is not None:
            sets[state] |= chosen
        return replace(self, shown=sets["on"], glassy=sets["glassy"], hidden=sets["off"])

    def dissected_to(self, layer: str, structures: Iterable[Structure] = ()) -> View:
        """The view dissected to a layer: the handle takes along every layer that it passes, and what is in it.

        structures : those of the body, so that what was put on or made glassy by itself goes with its layer
        """
        a, b = sorted((DISSECTION.index(self.dissection), DISSECTION.index(layer)))
        passed = frozenset(DISSECTION[a:b])
        words = passed | {s.id for s in structures if s.layer in passed and s.kind != "nerve"}
        return replace(self.with_state(words, None), dissection=layer)

    def lifted(self, steps: int = 1) -> View:
        """The view with that many more layers off; negative steps put layers back. Stops at skin and dura."""
        i = DISSECTION.index(self.dissection) + steps
        return replace(self, dissection=DISSECTION[min(max(i, 0), len(DISSECTION) - 1)])

    def seen_from(self, name: str) -> View:
        """The view from a named place; parallel or perspective stays as it is."""
        return replace(self, camera=Camera(name, parallel=self.camera.parallel))


def as_table(view: View) -> dict[str, Any]:
    """The view as plain words, numbers and lists that TOML and JSON can hold; defaults are left out."""
    table: dict[str, Any] = {}
    for f in fields(View):
        value = getattr(view, f.name)
        if f.name in NESTED:
            if value != getattr(_DEFAULT, f.name):
                table[f.name] = {k: _plain(v) for k, v in _changed(value).items()}
        elif isinstance(value, frozenset):
            if value:
                table[f.name] = sorted(value)
        elif f.name == "measured":
            if value:
                table[f.name] = [list(point) for point in value]
        elif value != getattr(_DEFAULT, f.name):
            table[f.name] = value
    return table


def from_table(table: Mapping[str, Any], where: str = "view") -> View:
    """A view from such a table. Raises FurcalError naming the place for an unknown key, word or type."""
    given = checked(table, View, where)
    for key, kind in NESTED.items():
        if key in given:
            given[key] = made_of(kind, checked(given[key], kind, f"{where}, {key}"), f"{where}, {key}")
    made: View = made_of(View, given, where)
    return made


def made_of(kind: Any, given: dict[str, Any], where: str) -> Any:
    """The value of a table; what it refuses is told with its place."""
    try:
        return kind(**given)
    except FurcalError as error:
        raise FurcalError(f"{where}: {error}") from None


#: Keys of a view that are tables of their own.
NESTED: dict[str, Any] = {"camera": Camera, "portal": Placement, "film": Film}
_DEFAULT = View()


def _changed(value: Any) -> dict[str, Any]:
    return {f.name: getattr(value, f.name) for f in fields(value) if getattr(value, f.name) != f.default}


def _plain(value: Any) -> Any:
    if isinstance(value, frozenset):
        return sorted(value)
    return list(value) if isinstance(value, tuple) else value


def checked(table: Any, kind: Any, where: str) -> dict[str, Any]:
    """Keys and types of one table, turned into what the value class wants. Raises FurcalError naming the place."""
    if not isinstance(table, Mapping):
        raise FurcalError(f"{where}: must be a table.")
    types = {f.name: str(f.type) for f in fields(kind)}
    out: dict[str, Any] = {}
    for key, value in table.items():
        if key not in types:
            raise unknown_word(key, types, "key", where)
        out[key] = _as_type(value, types[key], f"{where}, {key}")
    return out


def _as_type(value: Any, type_name: str, where: str) -> Any:
    if type_name == "bool" and isinstance(value, bool):
        return value
    if type_name == "float" and isinstance(value, int | float) and not isinstance(value, bool):
        try:
            return float(value)
        except OverflowError:
            raise FurcalError(f"{where}: {shown(value)} is too large a number.") from None
    if type_name == "str" and isinstance(value, str):
        return value
    if type_name.startswith("frozenset") and isinstance(value, list) and all(isinstance(v, str) for v in value):
        return frozenset(value)
    if type_name == "Triple" and isinstance(value, list | tuple) and len(value) == 3:
        return tuple(_as_type(v, "float", where) for v in value)
    if type_name.startswith("tuple[Triple") and isinstance(value, list):
        return tuple(_as_type(v, "Triple", where) for v in value)
    if type_name.startswith(("Camera", "Placement", "Film")) and isinstance(value, Mapping):
        return value
    wanted = {"bool": "true or false", "float": "a number", "str": "a word", "Triple": "three numbers"}
    wanted["tuple[Triple, ...]"] = "a list of points"
    raise FurcalError(f"{where}: {shown(value)} is not {wanted.get(type_name, 'a list of words')}.")
