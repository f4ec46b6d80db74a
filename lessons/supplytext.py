"""What a lesion of one nerve takes, and how it is examined, as plain text with the source of every line."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from lessons.caution import CAUTION
from lessons.readout import WIDTH, capital, named
from meshes.lesion import Cut, Loss, Lost
from meshes.story import citation
from meshes.structures import Structure, segments
from meshes.supply import Dispute, Motor, NerveSupply, Skin, Supply, supply

#: What a basis adds to the keys of a line; a paper that was read adds nothing.
_MARKS = {"published": "", "secondary": "teaching text", "from_memory": "from memory", "judgement": "judgement"}


class _Told:
    """Collects the source keys of the lines that are told."""

    def __init__(self) -> None:
        self.keys: dict[str, None] = {}

    def mark(self, source: Sequence[str], basis: str) -> str:
        """The keys of a line and what it rests on, in brackets."""
        self.keys |= dict.fromkeys(source)
        keys = [key for key in source if key not in _MARKS]
        return f"[{', '.join([*keys, *filter(None, [_MARKS[basis]])])}]"

    def citations(self) -> list[str]:
        return [f"{key}: {citation(key)}" for key in self.keys if key not in _MARKS]


def supply_text(nerve: Structure, found: Loss, cut: Cut | None = None, at_mm: float | None = None) -> str:
    """The whole answer, at most 100 columns. at_mm: arc length of the cut, where it was asked by one."""
    blocks, sources = supply_blocks(nerve, found, cut, at_mm)
    blocks = [*blocks, _block("sources", [f"  {line}" for line in sources]), CAUTION.replace("; ", ";\n").splitlines()]
    return "\n\n".join("\n".join(map(_wrapped, block)) for block in blocks if block)


def supply_blocks(
    nerve: Structure, found: Loss, cut: Cut | None = None, at_mm: float | None = None
) -> tuple[list[list[str]], list[str]]:
    """The answer as blocks of lines, whole and set in by spaces, each with its title; and the sources they name."""
    s, told = supply(), _Told()
    row = s.nerves.get(nerve.id.removesuffix(f"_{nerve.side}"))
    blocks = [
        _head(nerve, cut, at_mm, s),
        _block("weak", list(_weak(found, s, told)) or ["  nothing"]),
        _block("numb", [_numb(one, s, told) for one in found.skin]),
        _block("reflexes", _reflexes(found, s, told)),
        _block("joints served", _joints(found, s, told)),
        _block("lost beside movement and feeling", _functions(found, told)),
        _block("spared", _spared(found, s)),
        *(_patient(row, told) if row is not None else ()),
        *(_dispute(dispute, told) for dispute in _disputes(found, row, s)),
    ]
    return [block for block in blocks if block], told.citations()


def _wrapped(line: str) -> str:
    indent = " " * (len(line) - len(line.lstrip()) + 2)
    return textwrap.fill(line, WIDTH, subsequent_indent=indent, break_long_words=False) if len(line) > WIDTH else line


def _block(title: str, lines: Iterable[str]) -> list[str]:
    lines = list(lines)
    return [f"{title}:", *lines] if lines else []


def _head(nerve: Structure, cut: Cut | None, at_mm: float | None, s: Supply) -> list[str]:
    own = segments(nerve.roots)
    title = named(nerve)
    lines = [f"{capital(title)} ({nerve.latin}), {', '.join(own)}"]
    if cut is not None:
        at = "" if at_mm is None else f"{at_mm:.0f} mm along it, "
        lines.append(f"cut {at}{s.sites[cut.place].name}: lost is what leaves beyond")
    return lines


def _weak(found: Loss, s: Supply, told: _Told) -> Iterator[str]:
    """The muscles by movement, the movements in the order in which they are met."""
    by: dict[str, list[Lost[Motor]]] = {}
    for one in found.motor:
        by.setdefault(s.muscles[one.row.muscle].movement, []).append(one)
    for movement, lost in by.items():
        yield f"  {movement}: {degree_of(movement, lost, s)}"
        for one in lost:
            muscle = s.muscles[one.row.muscle]
            yield f"    {muscle.name}, {_of(one)}{_hedge(one.row)} {told.mark(one.row.source, one.row.basis)}"
        tested = next((s.muscles[one.row.muscle] for one in lost if s.muscles[one.row.muscle].prime), None)
        if tested is not None:
            yield f"    test: {tested.test} {told.mark(tested.source, tested.basis)}"
    if by:
        grades = "; ".join(f"{n} {words}" for n, words in enumerate(s.grades.words))
        yield f"  grades: {grades} {told.mark(s.grades.source, s.grades.basis)}"


def degree_of(movement: str, lost: Sequence[Lost[Motor]], s: Supply) -> str:
    """How much a movement loses: all of its main muscles, some of them, or none."""
    sure = {one.row.muscle: one.partial for one in lost if not one.row.variable and s.muscles[one.row.muscle].prime}
    if not sure:
        return "stays strong, other muscles do it"
    needed = {name for name, muscle in s.muscles.items() if muscle.movement == movement and muscle.prime}
    return "lost or nearly so" if needed <= set(sure) and not any(sure.values()) else "weaker"


def _of(one: Lost[Motor] | Lost[Skin]) -> str:
    return f"{one.roots}, in part" if one.partial else one.roots


def _hedge(row: Motor | Skin) -> str:
    words = [*(["in some people"] if row.variable else []), *(["disputed"] if getattr(row, "disputed", False) else [])]
    return "".join(f" ({word})" for word in [*words, *([row.note] if row.note else [])])


def _numb(one: Lost[Skin], s: Supply, told: _Told) -> str:
    patch = s.patches[one.row.patch]
    return f"  {patch.name}: {_of(one)}{_hedge(one.row)} {told.mark(one.row.source, one.row.basis)}"


def _reflexes(found: Loss, s: Supply, told: _Told) -> Iterator[str]:
    for one in found.reflexes:
        reflex = s.reflexes[one.row.reflex]
        way = {"both": "", "afferent": ", its way in", "efferent": ", its way out"}[one.row.limb]
        much = "may be less (disputed)" if one.row.disputed else "less" if one.partial else "lost"
        yield f"  {reflex.name}{way}: {much} {told.mark(one.row.source, one.row.basis)}"
        yield f"    {reflex.how} {told.mark(reflex.source, reflex.basis)}"


def _joints(found: Loss, s: Supply, told: _Told) -> Iterator[str]:
    for one in found.joints:
        joint = s.joints[one.row.joint]
        note = f" ({one.row.note})" if one.row.note else ""
        yield f"  {joint.name}{note} {told.mark(one.row.source, one.row.basis)}"
        basis = joint.felt_source[0] if joint.felt_source[0] in _MARKS else joint.basis
        yield f"    pain of it is felt: {joint.felt} {told.mark(joint.felt_source, basis)}"


def _functions(found: Loss, told: _Told) -> Iterator[str]:
    for one in found.functions:
        note = f" ({one.row.note})" if one.row.note else ""
        yield f"  {one.row.name}{note} {told.mark(one.row.source, one.row.basis)}"


def _spared(found: Loss, s: Supply) -> Iterator[str]:
    """Muscles by why they are spared, and by movement."""
    by: dict[str, dict[str, list[str]]] = {}
    for one in found.spared:
        muscle = s.muscles[one.muscle]
        by.setdefault(one.because, {}).setdefault(muscle.movement, []).append(muscle.name)
    for because, movements in by.items():
        yield f"  {because}: " + "; ".join(f"{word} ({', '.join(names)})" for word, names in movements.items())


def _patient(row: NerveSupply, told: _Told) -> Iterator[list[str]]:
    """What the patient says, how the whole nerve is examined, and where it is touched."""
    if row.says is not None:
        yield ["the patient may say:", f'  "{row.says.words}" {told.mark(row.says.source, row.says.basis)}']
    lines = [f"  {e.do} With the nerve hurt: {e.expect}. {told.mark(e.source, e.basis)}" for e in row.examine]
    if row.touch is not None:
        lines.append(f"  touch: {row.touch.words} {told.mark(row.touch.source, row.touch.basis)}")
    yield _block("examine for the whole nerve", lines)


def _disputes(found: Loss, row: NerveSupply | None, s: Supply) -> list[Dispute]:
    words = [
        row.dispute if row is not None else "",
        *(s.muscles[one.row.muscle].dispute for one in found.motor),
        *(s.patches[one.row.patch].dispute for one in found.skin),
        *(s.reflexes[one.row.reflex].dispute for one in found.reflexes),
    ]
    return [s.disputes[word] for word in dict.fromkeys(filter(None, words))]


def _dispute(dispute: Dispute, told: _Told) -> list[str]:
    views = [f"  {view.says} {told.mark(view.source, view.basis)}" for view in dispute.views]
    return [f"disputed: {dispute.about}", *views, f"  here: {dispute.ours}"]
