"""Reads a bank of items: TOML of schema 1, checked word by word. A bank runs nothing.

`lessons/ITEMS.md` is the format in words. What can be known without a body is checked here; `lessons.spot.rules`
checks how items are written, and `lessons.spot.onbody` what only a body knows.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

from lessons.filehead import check_schema
from lessons.prose import checked_text
from lessons.reading import Reading, text_of
from lessons.spot.idwords import unknown_about, unknown_ids
from lessons.spot.item import (
    CLEAR_OF,
    DEPTHS,
    KINDS,
    OBJECTIVES,
    QUARTER_APPROACHES,
    QUARTERS,
    WITHIN_MM,
    Answer,
    Chosen,
    Docked,
    Item,
    Named,
    Ordered,
    Pointed,
    Quartered,
    Rooted,
)
from lessons.stepview import laid_over
from lessons.tomlhint import hinted
from lessons.view import Placement, View
from meshes.errors import FurcalError, shown, unknown_word
from meshes.specimen import ALDER, Specimen
from meshes.structures import LEVELS, SEGMENTS, SIDES, segments
from meshes.tables import parsed_toml
from meshes.tolerances import PORTAL_RADIUS_MAX_MM, PORTAL_TILT_MAX_DEG

SCHEMA = 1
MARK_KEY = "furcal_items"
BANK = Path(__file__).parent.parent / "bank"
BANK_KEYS = (MARK_KEY, "about", "sources", "items")
#: What every item may say; the keys of its answer come beside them.
ITEM_KEYS = (
    "id", "kind", "objective", "structure", "depth", "vignette", "ask", "explain", "lit", "specimen", "view",
)  # fmt: skip
TEXTS = ("structure", "vignette", "ask", "explain")
#: Keys of the answer, by kind.
ANSWER_KEYS: Mapping[str, tuple[str, ...]] = {
    "name": ("mark", "right", "wrong"),
    "point": ("target", "within_mm"),
    "trace": ("roots",),
    "order": ("right",),
    "predict": ("right", "wrong"),
    "examine": ("right", "wrong"),
    "find": ("right", "wrong"),
    "quarter": ("disc", "side", "right", "radius_mm", "approach", "cranial_deg", "clear_mm", "clear_of"),
    "dock": ("portal", "clear_mm"),
    "wire": ("mark", "right", "wrong"),
    "differs": ("right", "wrong"),
}
ID = re.compile(r"[a-z][a-z0-9_]{0,59}")
ITEMS_MAX = 2000
#: A span of roots, and how long the legal form of a text may be to be shown.
SPAN = re.compile(r"([TLS]\d{1,2})\s*[-–]\s*([TLS]?\d{1,2})")
FORM_MOST = 80
OPTIONS = (3, 5)
#: Smallest and largest numbers of a portal that an answer gives.
RADIUS_MM, CLEAR_MM, LEAN_DEG = (0.5, PORTAL_RADIUS_MAX_MM), (0.0, 20.0), (-PORTAL_TILT_MAX_DEG, PORTAL_TILT_MAX_DEG)
ORDER = (3, 7)


def bank_files() -> tuple[Path, ...]:
    """The files of the bank that comes with furcal, in order."""
    return tuple(sorted(BANK.glob("*.toml")))


@cache
def bundled_items() -> tuple[Item, ...]:
    """The items that come with furcal. Raises FurcalError for a broken file."""
    return read_banks(bank_files())


def read_banks(paths: Iterable[Path]) -> tuple[Item, ...]:
    """The items of several files. Raises FurcalError, the first thing that is wrong, naming file, item and remedy."""
    items: list[Item] = []
    for path in paths:
        found, problems = looked_over(text_of(path), path)
        if problems:
            raise FurcalError(problems[0])
        items += found
    for sentence in twice(items):
        raise FurcalError(sentence)
    return tuple(items)


def all_looked_over(paths: Iterable[Path]) -> tuple[tuple[Item, ...], list[str]]:
    """The good items of several files, and everything that is wrong with the others and with the files."""
    items: list[Item] = []
    problems: list[str] = []
    for path in paths:
        try:
            found, wrong = looked_over(text_of(path), path)
        except FurcalError as error:
            found, wrong = (), [str(error)]
        items += found
        problems += wrong
    problems += [sentence for sentence in twice(items) if sentence not in problems]
    return tuple(items), problems


def twice(items: Iterable[Item]) -> list[str]:
    """Ids that are given more than once, a sentence each."""
    first: dict[str, Item] = {}
    found = []
    for item in items:
        if item.id in first:
            found.append(f"{item.where}: {item.id} is the id of {first[item.id].where} too; give each item its own.")
        first.setdefault(item.id, item)
    return found


def looked_over(text: str, path: Path) -> tuple[tuple[Item, ...], list[str]]:
    """The items of a bank's text, and everything that is wrong with it."""
    try:
        table = parsed_toml(text, str(path))
    except FurcalError as error:
        return (), [hinted(str(error), text)]
    try:
        check_schema(table, str(path), MARK_KEY, SCHEMA, "bank of items")
    except FurcalError as error:
        return (), [str(error)]
    reader = _Reader(path)
    return reader.items(table), reader.problems


class _Reader(Reading):
    """Reads one bank to the end."""

    def items(self, table: Mapping[str, Any]) -> tuple[Item, ...]:
        """The items of a file's table; one that cannot be told is left out."""
        where = str(self.path)
        for key in table:
            if key not in BANK_KEYS:
                self.told(unknown_word(key, BANK_KEYS, "key", where))
        self.text(table, "about", where)
        self.own = self.sources(table.get("sources", {}), f"{where}, [sources]")
        rows = table.get("items")
        if not isinstance(rows, list) or not rows or not all(isinstance(row, Mapping) for row in rows):
            self.told(f"{where}, items: a bank has at least one item, which begins with the line [[items]].")
            return ()
        if len(rows) > ITEMS_MAX:
            self.told(f"{where}, item {ITEMS_MAX + 1}: {ITEMS_MAX} items are the most in a file, and there are "
                      f"{len(rows)}; divide it.")  # fmt: skip
            return ()
        found = [item for number, row in enumerate(rows, start=1) if (item := self._item(row, number)) is not None]
        self.problems += twice(found)
        return tuple(found)

    def _item(self, row: Mapping[str, Any], number: int) -> Item | None:
        name = row.get("id")
        good = isinstance(name, str) and bool(ID.fullmatch(name))
        where = f"{self.path}, item {number}" + (f" ({name})" if good else "")
        before = len(self.problems)
        if not good:
            found = "it is missing" if name is None else f"found {shown(name)}"
            self.told(f"{where}, id: expected small letters, digits and _, a letter first, at most 60; {found}.")
        kind = self.word(row, "kind", KINDS, where)
        if kind not in KINDS:  # it is missing: nobody can tell what else is wrong
            return None
        legal = (*ITEM_KEYS, *ANSWER_KEYS[kind])
        for key in row:
            if key not in legal:
                self.told(unknown_word(key, legal, f"key of a {kind} item", where))
        said = {
            k: self.text(row, k, where, needed=k != "vignette") for k in ("structure", "vignette", "ask", "explain")
        }
        self.attempt(lambda: checked_text(said["explain"], f"{where}, explain", self.own))
        if said["structure"]:
            self.problems += unknown_about(said["structure"], where)
        answer = _ANSWERS[kind](self, row, where)
        view = laid_over(View(labels=False), row.get("view", {}), f"{where}, view", self.told)
        made = Item(
            str(name), kind, self.word(row, "objective", OBJECTIVES, where), said["structure"], said["ask"],
            answer if answer is not None else Named(""), said["explain"],
            self._lying(row, kind, where), view, said["vignette"], self.word(row, "depth", DEPTHS, where, DEPTHS[0]),
            self._lit(row, where), self.own, where,
        )  # fmt: skip
        return made if len(self.problems) == before else None

    def _lying(self, row: Mapping[str, Any], kind: str, where: str) -> Specimen:
        """The specimen; one that is asked in what it differs must differ."""
        before = len(self.problems)
        specimen = self.specimen(row, ALDER, where)
        if kind == "differs" and len(self.problems) == before and _is_average(specimen):
            found = "this body differs in nothing from the average adult"
            if "specimen" not in row:
                found = "is missing; the average adult differs in nothing"
            self.told(f"{where}, specimen: {found}, give the variant that is asked for: "
                      "specimen = { variants = { accessory_obturator_left = true } }.")  # fmt: skip
        return specimen

    def _lit(self, row: Mapping[str, Any], where: str) -> tuple[str, ...]:
        lit = self._words(row, "lit", where) if "lit" in row else ()
        self.problems += unknown_ids((("lit", id_) for id_ in lit), where)
        return lit

    def _id(self, row: Mapping[str, Any], key: str, where: str) -> str:
        """The id of one structure, which must be there."""
        id_ = self.text(row, key, where, needed=True)
        self.problems += unknown_ids([(key, id_)] if id_ else [], where)
        return id_

    # --- answers

    def _named_or_chosen(self, row: Mapping[str, Any], where: str) -> Answer | None:
        if "wrong" in row or "right" in row:
            if "mark" in row:
                self.told(
                    f"{where}, mark: an item with options lights what it asks for by view.highlighted; take it out."
                )
            return self._chosen(row, where)
        mark = self._id(row, "mark", where)
        return Named(mark) if mark else None

    def _pointed(self, row: Mapping[str, Any], where: str) -> Answer | None:
        return Pointed(self._id(row, "target", where), self._number(row, "within_mm", where, 6.0, *WITHIN_MM))

    def _rooted(self, row: Mapping[str, Any], where: str) -> Answer | None:
        roots = self._words(row, "roots", where)
        for root in roots:
            if root not in SEGMENTS:
                self.told(unknown_word(root, SEGMENTS, "segment", f"{where}, roots"))
                return None
        return Rooted(tuple(sorted(set(roots), key=SEGMENTS.index))) if roots else None

    def _ordered(self, row: Mapping[str, Any], where: str) -> Answer | None:
        right = self._words(row, "right", where)
        if not ORDER[0] <= len(right) <= ORDER[1] or len(set(right)) != len(right):
            self.told(f"{where}, right: expected {ORDER[0]} to {ORDER[1]} different words in their right order.")
            return None
        return Ordered(right)

    def _chosen(self, row: Mapping[str, Any], where: str) -> Answer | None:
        right, wrong = self.text(row, "right", where, needed=True), self._words(row, "wrong", where)
        options = [right, *wrong]
        if not OPTIONS[0] <= len(options) <= OPTIONS[1]:
            self.told(f"{where}, wrong: an item has {OPTIONS[0]} to {OPTIONS[1]} options, the right one among them; "
                      f"there are {len(options)}.")  # fmt: skip
            return None
        if len({option.casefold() for option in options}) != len(options):
            self.told(f"{where}, wrong: two options are the same; change one.")
            return None
        return Chosen(right, wrong)

    def _quartered(self, row: Mapping[str, Any], where: str) -> Answer | None:
        disc = self.word(row, "disc", LEVELS, where)
        side = self.word(row, "side", SIDES, where, "left")
        right = self._words(row, "right", where)
        for quarter in right:
            if quarter not in QUARTERS:
                self.told(unknown_word(quarter, QUARTERS, "quarter", f"{where}, right"))
                return None
        if len(set(right)) >= len(QUARTERS):
            self.told(f"{where}, right: all quarters are right; then there is nothing to ask.")
            return None
        usual = Quartered(disc, side, tuple(sorted(set(right), key=QUARTERS.index)))
        clear_of = self._words(row, "clear_of", where) if "clear_of" in row else usual.clear_of
        for word in clear_of:
            if word not in CLEAR_OF:
                self.told(unknown_word(word, CLEAR_OF, "word", f"{where}, clear_of"))
                return None
        made = replace(
            usual,
            radius_mm=self._number(row, "radius_mm", where, usual.radius_mm, *RADIUS_MM),
            approach=self.word(row, "approach", QUARTER_APPROACHES, where, usual.approach),
            cranial_deg=self._number(row, "cranial_deg", where, usual.cranial_deg, *LEAN_DEG),
            clear_mm=self._number(row, "clear_mm", where, usual.clear_mm, *CLEAR_MM),
            clear_of=tuple(sorted(set(clear_of), key=CLEAR_OF.index)),
        )
        return made if right else None

    def _docked(self, row: Mapping[str, Any], where: str) -> Answer | None:
        view = laid_over(View(), {"portal": row.get("portal", {})}, where, self.told)
        clear_mm = self._number(row, "clear_mm", where, 0.0, *CLEAR_MM)
        return Docked(view.portal or Placement(), clear_mm)

    # --- values

    def _words(self, row: Mapping[str, Any], key: str, where: str) -> tuple[str, ...]:
        value = row.get(key)
        if not isinstance(value, list) or not value or not all(isinstance(v, str) and v.strip() for v in value):
            found = "it is missing" if value is None else f"found {shown(value)}"
            form = f", as {_as_list(value, key)}" if isinstance(value, str) and value.strip() else ""
            self.told(f"{where}, {key}: expected a list of texts, at least one{form}; {found}.")
            return ()
        for text in value:
            self.check_signs(text, f"{where}, {key}")
        return tuple(text.strip() for text in value)

    def _number(self, row: Mapping[str, Any], key: str, where: str, usual: float, low: float, high: float) -> float:
        value = row.get(key, usual)
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not low <= value <= high:
            self.told(f"{where}, {key}: expected a number from {low:g} to {high:g}, found {shown(value)}.")
            return usual
        return float(value)


def _is_average(specimen: Specimen) -> bool:
    """Whether a body differs from the average adult at most in its name and in how it lies."""
    return not specimen.variants and (specimen.sex, specimen.stature_mm, specimen.psoas_scale) == (
        ALDER.sex, ALDER.stature_mm, ALDER.psoas_scale,
    )  # fmt: skip


def _as_list(text: str, key: str) -> str:
    """The list that is meant by one text, as a file has it: words with commas between them, or `L2-L4` for roots."""
    words = [word.strip() for word in text.split(",") if word.strip()]
    if key == "roots" and (span := SPAN.fullmatch(text.strip())):
        last = span[2] if span[2][0].isalpha() else span[1][0] + span[2]
        if span[1] in SEGMENTS and last in SEGMENTS:
            words = list(segments(text)) or [span[1], last]
    form = json.dumps(words, ensure_ascii=False)
    return form if words and len(form) <= FORM_MOST else '["...", "..."]'


_ANSWERS: Mapping[str, Callable[[_Reader, Mapping[str, Any], str], Answer | None]] = {
    "name": _Reader._named_or_chosen,
    "wire": _Reader._named_or_chosen,
    "point": _Reader._pointed,
    "trace": _Reader._rooted,
    "order": _Reader._ordered,
    "quarter": _Reader._quartered,
    "dock": _Reader._docked,
    **dict.fromkeys(("predict", "examine", "find", "differs"), _Reader._chosen),
}
