"""How an item is written: what would let somebody find the answer who does not know, or miss it who does.

The rules are those of the National Board of Medical Examiners' guide to item writing ("Constructing Written Test
Questions for the Health Sciences") as companion advice restates them, as far as a program can see them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from lessons.prose import MARK, unsourced
from lessons.spot.item import Chosen, Item, Quartered
from lessons.view import OWN_PLACE
from meshes.structures import level_key

_NEGATIVE = re.compile(r"\b(?:not|except|neither|nor|cannot|least|false|incorrect|untrue)\b|n't\b", re.IGNORECASE)
_ALL_OR_NONE = re.compile(
    r"\b(?:all|none|any|both|neither) of (?:the|these|them)\b|\bboth [a-e] and [a-e]\b", re.IGNORECASE
)
_ABSOLUTE = re.compile(r"\b(?:always|never|invariably|must|completely|entirely|exclusively)\b", re.IGNORECASE)
_OPEN_STEM = re.compile(
    r"which (?:one )?of (?:the following|these)(?: statements?| options?)? (?:is|are) (?:true|right|correct)",
    re.IGNORECASE,
)
_ARTICLE_LAST = re.compile(r"\b(?:a|an)\s*[:?.]?\s*$", re.IGNORECASE)
_COLOUR = re.compile(r"\b(?:yellow|red|blue|green|orange|purple|colou?r(?:ed)?)\b", re.IGNORECASE)
#: Words that tell how the body lies or from where it is seen.
_ORIENTED = re.compile(
    r"\bfrom (?:in front|the front|behind|the back|above|below|the (?:left|right)|its? (?:left|right))\b|"
    r"\bfrom (?:the|a) side\b|\b(?:front|side) film\b|\b(?:film|radiograph)\b.*\b(?:front|side)\b|"
    r"\blies? (?:on|supine|prone)\b|\blying\b|\bsupine\b|\bprone\b|\bside-lying\b|\bdown the portal\b",
    re.IGNORECASE,
)
#: Kinds whose answer is seen: there it must be said from where.
SEEN = ("name", "point", "wire", "differs", "order", "quarter", "dock")
#: Kinds that ask what is felt on the skin; others mention the skin as a layer.
FELT = ("predict", "examine", "find")
_SKIN = re.compile(r"\b(?:skin|numb\w*|sensation|sensory)\b", re.IGNORECASE)
_MAP = re.compile(r"\b(?:territor\w+|dermatom\w+|nerve|root)\b", re.IGNORECASE)
_WORD = re.compile(r"[a-z][a-z-]{3,}")
#: Words of a question that give nothing away.
_PLAIN = frozenset(
    {
        *(
            "nerve",
            "nerves",
            "muscle",
            "muscles",
            "root",
            "roots",
            "disc",
            "skin",
            "body",
            "patient",
            "portal",
            "level",
        ),
        *("left", "right", "front", "back", "side", "thigh", "knee", "pain", "loss", "weak", "weakness", "numb"),
        *("numbness", "test", "tested", "examined", "with", "from", "that", "this", "which", "what", "when", "where"),
        *("most", "more", "less", "only", "after", "before", "over", "under", "into", "does", "have", "than", "then"),
        *("their", "there", "these", "those", "will", "would", "been", "being"),
    }
)
#: The right option may be so much longer than the longest other one, and options so much longer than one another.
LONGER, SPREAD = 1.35, 3.0
#: Below this many letters a difference of length is no cue.
SHORT = 18
#: Half of what a picture is high, mm, in which the quarters of a disc are still told apart, and what is a good one.
DISC_HALF_MM, DISC_GOOD_MM = 120.0, 60.0


def broken_rules(item: Item) -> list[str]:
    """Every rule that an item breaks, a sentence each, with what to do."""
    return [f"{item.where or item.id}, {wrong}" for rule in _RULES for wrong in rule(item)]


def hints_of(item: Item) -> list[str]:
    """What may be meant so and mostly is not."""
    where = item.where or item.id
    found = [f"{where}, explain: a figure without a source: {sentence}" for sentence in unsourced(item.explain)]
    if item.kind in FELT and _SKIN.search(item.ask) and not _MAP.search(f"{item.vignette} {item.ask}"):
        found.append(f"{where}, ask: say which map of the skin is meant, nerve territory or dermatome.")
    if item.specimen.variants and item.kind != "differs" and "this body" not in item.ask.casefold():
        found.append(f"{where}, ask: the body has a variant; say 'this body', or ask a body without.")
    return [*found, *(f"{where}, {hint}" for hint in _small_disc(item))]


def _small_disc(item: Item) -> Iterator[str]:
    """A disc whose quarters can hardly be told apart in the field."""
    camera = item.view.camera
    if not isinstance(item.answer, Quartered) or item.view.film is not None or camera.name in OWN_PLACE:
        return
    whole = not camera.half_height_mm and not camera.on
    if whole or camera.half_height_mm > DISC_HALF_MM:
        disc = f"disc_{level_key(item.answer.disc)}"
        yield (
            f"view, camera: the disc is small in this picture; bring it near, as camera = {{ name = "
            f'"{item.answer.side}", on = ["{disc}"], half_height_mm = {DISC_GOOD_MM:g} }}.'
        )


def _question(item: Item) -> Iterator[str]:
    if _NEGATIVE.search(item.ask):
        yield f"ask: has the negative word {_NEGATIVE.search(item.ask)[0]!r}; ask for what is."  # type: ignore[index]
    if _OPEN_STEM.search(item.ask):
        yield "ask: cannot be answered with the options covered; ask one question."
    if _ARTICLE_LAST.search(item.ask):
        yield "ask: ends in an article, which tells options apart by grammar; end with a whole question."
    if not item.ask.rstrip().endswith(("?", ".")):
        yield "ask: ends without a question mark or a full stop."
    if "?" in item.vignette:
        yield "vignette: holds a question; the question comes last, in ask."
    if _COLOUR.search(f"{item.vignette} {item.ask}"):
        yield "ask: speaks of a colour; while an item is asked all nerves have the same."
    if item.kind in SEEN and not _ORIENTED.search(f"{item.vignette} {item.ask}"):
        yield "ask: say from where the body is seen or how it lies."


def _source(item: Item) -> Iterator[str]:
    if not MARK.search(item.explain):
        yield "explain: names no source; put [key] behind what it says."


def _options(item: Item) -> Iterator[str]:
    if not isinstance(item.answer, Chosen):
        return
    options = item.answer.options
    for option in options:
        if _ALL_OR_NONE.search(option):
            yield f"option {option!r}: stands for others; give each its own answer."
        if _ABSOLUTE.search(option):
            yield f"option {option!r}: has the absolute word {_ABSOLUTE.search(option)[0]!r}; say it without."  # type: ignore[index]
    if len({option.rstrip().endswith(".") for option in options}) > 1:
        yield "options: some end in a full stop and some do not; write all alike."
    if len({option[:1].isupper() for option in options if option[:1].isalpha()}) > 1:
        yield "options: some begin with a capital and some do not; write all alike."
    yield from _lengths(item.answer)
    yield from _clue(item, item.answer)


def _lengths(answer: Chosen) -> Iterator[str]:
    sizes = [max(len(option), SHORT) for option in answer.options]
    if sizes[0] > LONGER * max(sizes[1:]):
        yield "right: is much longer than every other option, which gives it away; shorten it."
    if max(sizes) > SPREAD * min(sizes):
        yield "options: one is three times as long as another; write them alike."


def _clue(item: Item, answer: Chosen) -> Iterator[str]:
    asked = set(_WORD.findall(f"{item.vignette} {item.ask}".casefold())) - _PLAIN
    others = {word for option in answer.wrong for word in _WORD.findall(option.casefold())}
    for word in sorted((asked & set(_WORD.findall(answer.right.casefold()))) - others):
        yield f"right: only it repeats {word!r} of the question; take the word out of one of them."


_RULES: tuple[Callable[[Item], Iterator[str]], ...] = (_question, _source, _options)
