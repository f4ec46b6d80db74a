"""Whether typed words name a structure: in English, in Latin, in short, in any order, with a slip of the pen.

A slip is judged word by word: only what is no word of any name can be one, by one letter in words of five letters and
two in words of nine; and the words as a whole must then be nearer to a name of this structure than to any other's.
Segments, short forms and words of fewer letters are never slips. So a nerve is never taken for another one.

What stands in round brackets is left out where it says nothing else: segments must be the structure's own, another
name must be its own, and no words there may make it another structure.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import pairwise, product

from lessons.spot.brackets import bracketed, told_segments
from lessons.spot.wordbook import Wordbook, bare_id, plain_words, readings, synonyms, wordbook
from meshes.structures import Structure, segments

#: Letters of a word -> slips that are let pass in it, the longest first; and in all words together.
SLIPS = ((9, 2), (5, 1))
SLIPS_MOST = 3
#: Longer answers name nothing.
LETTERS_MOST, WORDS_MOST = 160, 20
#: So many ways to mend the words are tried.
_WAYS_MOST = 96
#: A slip's words, and how many slips they took.
_Mended = tuple[tuple[str, ...], int]


def is_called(words: str, structure_id: str, structures: Mapping[str, Structure] | Iterable[Structure]) -> bool:
    """Whether words name a structure; its side may be left out, but a wrong one is wrong.

    structures : those of the body, by id or one after the other
    """
    every = list(structures.values() if isinstance(structures, Mapping) else structures)
    asked = next(s for s in every if s.id == structure_id)
    return asked in named_by(words, every)


def named_by(words: str, structures: Iterable[Structure]) -> list[Structure]:
    """The structures that words name: one, or both sides of it; none where they name nothing, or not surely."""
    every = list(structures)
    book = wordbook(every)
    typed = plain_words(words) if len(words) <= LETTERS_MOST else []
    if not 0 < len(typed) <= WORDS_MOST:
        return []
    outside, inside = bracketed(words)
    found = _named(typed, every, book)
    if found or not inside:
        return found
    outer = plain_words(outside)
    inner = [plain_words(text) for text in inside]
    sides = [word for words_ in inner for word in words_ if _tells_a_side(word)]
    found = _named([*outer, *sides], every, book)
    return found if all(_says_nothing_else(words_, outer, found, book) for words_ in inner) else []


def _named(typed: list[str], every: list[Structure], book: Wordbook) -> list[Structure]:
    """The structures that plain words name."""
    best: dict[tuple[str, frozenset[str]], int] = {}
    for mended, slips in _mended(typed, book):
        for reading in readings(mended):
            owner = book.names.get(reading.words, "")
            if owner and reading.kinds <= {book.kinds[owner]} and len(reading.sides) < 2:
                key = owner, reading.sides
                best[key] = min(slips, best.get(key, slips))
    nearest = [key for key, slips in best.items() if slips == min(best.values())]
    if len({owner for owner, _ in nearest}) != 1:
        return []
    return [s for s in every if any(bare_id(s) == owner and sides <= {s.side} for owner, sides in nearest)]


# --- what stands in brackets


def _tells_a_side(word: str) -> bool:
    return len(word) > 1 and any(part == "side" for part, _ in synonyms().means.get(word, ()))


def _says_nothing_else(words: list[str], outer: list[str], found: list[Structure], book: Wordbook) -> bool:
    """Whether the words of a bracket are no other name, no other segments, and no part of what was named."""
    said = [word for word in words if not _tells_a_side(word)]
    told, rest = told_segments(said)
    own, named = {bare_id(s) for s in found}, _owners(said, book) or _owners(rest, book)
    segments_agree = all(told == set(segments(s.roots)) for s in found)
    if told and not rest:
        return segments_agree or named == own
    if named:
        return named == own and (segments_agree or not told or _owners(said, book) == own)
    if any(word.isdigit() for word in rest) or (told and not segments_agree):
        return False
    kinds = {s.kind for s in found}
    for run in (rest[i:j] for i in range(len(rest)) for j in range(i + 1, len(rest) + 1)):
        alike = {name for name in _owners(run, book) if run == rest or book.kinds[name] in kinds}
        if (alike | _owners([*outer, *run], book) | _owners([*run, *outer], book)) - own:
            return False
    return not book.words.issuperset(rest) or _of_its_names(rest, own, book)


def _of_its_names(words: Sequence[str], own: set[str], book: Wordbook) -> bool:
    """Whether words that stand in names are of those of what was named: not `obturator nerve (internus)`."""
    its = {word for bag, name in book.names.items() if name in own for word in bag}
    kinds = {book.kinds[name] for name in own}
    return any(its.issuperset(reading.words) and reading.kinds <= kinds for reading in readings(words))


def _owners(words: Sequence[str], book: Wordbook) -> set[str]:
    """Ids without side of all that words may name, whatever kind they tell."""
    read = (reading.words for mended, _ in _mended(list(words), book) for reading in readings(mended))
    return {book.names[bag] for bag in read if bag in book.names}


def _mended(typed: list[str], book: Wordbook) -> Iterator[_Mended]:
    """The words as typed, and every way to mend what is no word, each with its slips."""
    for words in _put_together(typed, book):
        ways = [_near(word, book) for word in words]
        for n, chosen in enumerate(product(*ways)):
            if n >= _WAYS_MOST:
                break
            slips = sum(slips for _, slips in chosen)
            if slips <= SLIPS_MOST:
                yield tuple(part for parts, _ in chosen for part in parts), slips


def _put_together(typed: list[str], book: Wordbook) -> Iterator[list[str]]:
    """The words, and again with each two of them as one where the first is no word by itself: genito-femoral."""
    yield typed
    for i, (first, second) in enumerate(pairwise(typed)):
        if first not in book.words and len(first) > 2 and _near(first + second, book):
            yield [*typed[:i], first + second, *typed[i + 2 :]]


def _near(word: str, book: Wordbook) -> list[_Mended]:
    """What a word may be: itself where it is one, else its singular, two that ran together, or the nearest by slips."""
    if word in book.words or not word.isalpha():
        return [((word,), 0)]
    found: list[_Mended] = []
    ends = [word[: -len(end)] for end in ("es", "s") if word.endswith(end)]
    found.extend(((single,), 0) for single in ends if single in book.words)
    cut = [(word[:i], word[i:]) for i in range(4, len(word) - 3)]
    found += [(parts, 1) for parts in cut if book.words.issuperset(parts)]
    found.extend(((known,), slips) for known, slips in _slipped(word, book.words))
    return found


@lru_cache(maxsize=2048)
def _slipped(word: str, known: frozenset[str]) -> list[tuple[str, int]]:
    """The words that may have been meant, the nearest first."""
    found = []
    for other in known:
        most = next((most for letters, most in SLIPS if len(other) >= letters), 0)
        if most and other.isalpha() and abs(len(other) - len(word)) <= most:
            slips = distance(word, other)
            if slips <= most:
                found.append((other, slips))
    return sorted(found, key=lambda row: (row[1], row[0]))


def distance(a: str, b: str) -> int:
    """Letters to be put in, left out, changed, or exchanged with their neighbour, to make one word the other."""
    before: list[int] = []
    row = list(range(len(b) + 1))
    for i, x in enumerate(a, start=1):
        last, row = row, [i]
        for j, y in enumerate(b, start=1):
            best = min(last[j] + 1, row[j - 1] + 1, last[j - 1] + (x != y))
            if i > 1 and j > 1 and x == b[j - 2] and a[i - 2] == y:
                best = min(best, before[j - 2] + 1)
            row.append(best)
        before = last
    return row[-1]
