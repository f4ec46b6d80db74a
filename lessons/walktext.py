"""A walk as text for people: layer by layer from the skin, each claim with its source, ranges as ranges."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from lessons.caution import CAUTION
from lessons.readout import CLOSE_MM, QUARTER_SCHEME, WIDTH, access_text, layer_name, named, plain
from lessons.rows import how_near
from lessons.walk import Step, Walk
from meshes.incidence import Incidence, Series, reported
from meshes.portal import Portal, approaches
from meshes.risk import WRITTEN_FOR, Stage
from meshes.story import citation
from meshes.tables import RESERVED_SOURCES
from meshes.told import Told

#: Where text of a step begins, and what stands before it in this width.
_IN = 21
#: What is told of a basis; what was read in a publication tells by its key alone.
_BASES = {"secondary": "second hand", "from_memory": "from memory", "judgement": "judgement"}
#: A line of a step: what stands before it ("near", "books", or nothing where it goes on), and its words.
Line = tuple[str, str]
_BEFORE = {"position": "Position", "preload": "What it does", "turning": "Turning"}


def walk_text(walked: Walk) -> str:
    """The whole walk as plain text, at most 100 columns."""
    lines = [
        *_head(walked),
        "",
        "Layers, mm from the skin along the axis (rim: met by the portal's rim only)",
        f"near: what comes within {CLOSE_MM:g} mm of the portal at that depth; books: what they name there",
        *_steps(walked),
        *_not_met(walked),
        *_at_level(walked),
        *_whole(walked),
        "",
        *_published(walked),
        "",
        *_sources(walked),
        "",
        *CAUTION.replace("; ", ";\n").splitlines(),
    ]
    return "\n".join(lines)


def _head(walked: Walk) -> Iterator[str]:
    first, *rest = head_lines(walked)
    yield first
    for line in rest:
        yield from _filled(line)


def head_lines(walked: Walk) -> Iterator[str]:
    """The approach, who lies there and how, the path, what the books ask before, and whether the disc is reached."""
    portal, specimen = walked.docking.portal, walked.docking.specimen
    says = approaches()[portal.approach].says
    yield f"{portal.approach.capitalize()} approach to {portal.level}, {portal.side}: {says}"
    posture = specimen.posture.replace("_", "-")
    broken = f", table break {specimen.table_break_deg:g} degrees" if specimen.table_break_deg else ""
    yield f"{specimen.name}, {posture}{broken}"
    yield (
        f"Path: at {portal.at:g}, quarter {portal.quarter} ({QUARTER_SCHEME}), radius {portal.radius_mm:g} mm "
        "(a number of yours: --radius, --at)"
    )
    if portal.side != WRITTEN_FOR:
        yield f"What the books say is written here for the {WRITTEN_FOR} side; vessels and viscera are not mirrored."
    for key, told in walked.risk.before.items():
        yield f"{_BEFORE[key]}: {_said(told)}"
    if walked.risk.posture != specimen.posture:
        usual = walked.risk.posture.replace("_", "-")
        yield f"This body lies {posture}; a specimen whose posture is {usual} shows it as it is done."
    if not walked.usual_level:
        usual = ", ".join(walked.risk.levels)
        yield f"Not usual at {portal.level}: by the table this approach is for {usual}."
    yield access_text(walked.docking)


def _steps(walked: Walk) -> Iterator[str]:
    seen: set[str] = set()
    for step in walked.steps:
        yield _layer_line(step, walked.docking.portal)
        yield from _marked(near_lines(step))
        for stage in step.told:
            if stage.name not in seen:
                seen.add(stage.name)
                yield from _marked(stage_lines(stage, walked))


def _layer_line(step: Step, portal: Portal) -> str:
    layer = step.layer
    start, end = f"{layer.from_mm:6.1f}", f"{layer.to_mm:6.1f}"
    depth = f"{start} -{end}" if start != end else f"{start}        "
    return f"  {depth}  {layer_name(layer, portal)}{'  (rim)' if layer.by == 'rim' else ''}"


def near_lines(step: Step) -> Iterator[Line]:
    """What is touched or close in a layer, the worst first."""
    for contact in step.at_risk:
        yield "near", f"{named(contact.structure)}: {how_near(contact.clearance_mm)}"


def stage_lines(stage: Stage, walked: Walk) -> Iterator[Line]:
    """What the books say of one step, and what they name there."""
    yield "books", f"{stage.name}: {_said(stage.told)}"
    yield from _in_danger(stage.at_risk, stage.beside, walked)


def level_lines(walked: Walk) -> Iterator[Line]:
    """What the books say of the level."""
    for row in walked.at_level:
        yield "books", _said(row.told)
        yield from _in_danger(row.at_risk, row.beside, walked)


def whole_lines(walked: Walk) -> Iterator[Line]:
    """What the books say of the whole approach."""
    for told in walked.risk.whole:
        yield "books", _said(told)


def _in_danger(words: Sequence[str], beside: Sequence[str], walked: Walk) -> Iterator[Line]:
    structures = walked.docking.ready.body.structures
    found = [
        plain(structures[n]) + (f" ({how_near(contact.clearance_mm)})" if contact else "")
        for n, contact in walked.named(words)
    ]
    if found:
        yield "", f"named there, and where this body has it: {'; '.join(found)}"
    if beside:
        yield "", f"and, not shown in this body: {'; '.join(beside)}"


def _not_met(walked: Walk) -> Iterator[str]:
    if walked.not_met:
        yield ""
        yield "Steps of the books that this path does not meet, or that the body does not show"
    for stage in walked.not_met:
        yield from _marked(stage_lines(stage, walked))


def _at_level(walked: Walk) -> Iterator[str]:
    level = walked.docking.portal.level
    yield ""
    yield f"At {level}" if walked.at_level else f"At {level}: the table tells nothing."
    yield from _marked(level_lines(walked))


def _whole(walked: Walk) -> Iterator[str]:
    if walked.risk.whole:
        yield ""
        yield "Of the whole approach"
    yield from _marked(whole_lines(walked))


def _published(walked: Walk) -> Iterator[str]:
    yield f"How often it was reported after this approach. {reported().caution}"
    for line in range_text(walked):
        words = line.lstrip()
        yield from _filled(words, indent=len(line) - len(words))


def range_text(walked: Walk) -> Iterator[str]:
    """What was reported, range by range, and what was looked for in vain; series are set in further than ranges."""
    for row in walked.published:
        head, *series = range_lines(row)
        yield f"  {head}"
        yield from (f"      {one}" for one in series)
    for missed in walked.not_found:
        names = ", ".join(_nerve(walked, n) for n in missed.nerves)
        yield f"  {names}: {_said(missed.told)}"


def range_lines(row: Incidence) -> list[str]:
    """A range with its time and level, then each of its series with denominator and source, then a note."""
    span = f"{row.low:g} %" if row.low == row.high else f"{row.low:g} to {row.high:g} %"
    where = f"{row.level} alone" if row.level else "all levels together"
    when = "" if row.when == "any" else f", {row.when}"
    note = [f"note: {row.note}"] if row.note else []
    return [f"{row.deficit}{when}: {span} ({where})", *map(_one, row.series), *note]


def _one(one: Series) -> str:
    span = f"{one.low:g} %" if one.low == one.high else f"{one.low:g} to {one.high:g} %"
    printed = f", printed {one.printed:g} %" if one.printed is not None else ""
    return f"{span}, {one.denominator}{printed}, {one.kind}: {_said(one.told)}"


def _nerve(walked: Walk, bare: str) -> str:
    structures = walked.docking.ready.body.structures
    sided = f"{bare}_{walked.docking.portal.side}"
    return plain(structures[sided]) if sided in structures else bare.replace("_", " ")


def _said(told: Told) -> str:
    caution = f" Beside {told.caution}." if told.caution else ""
    return f"{told.says} {_mark(told.sources, told.basis)}{caution}"


def _mark(sources: Sequence[str], basis: str) -> str:
    """Where a sentence comes from, in brackets: keys of the list of sources at the end, or that there is none."""
    words = [citation(key) if key in RESERVED_SOURCES else key for key in sources]
    spoken = _BASES.get(basis, "")
    if spoken and not any(w.startswith(spoken) for w in words):
        words.append(spoken)
    return f"[{', '.join(words)}]"


def _sources(walked: Walk) -> Iterator[str]:
    yield "Sources"
    for line in citations(walked):
        yield from _filled(line, indent=2)


def citations(walked: Walk) -> list[str]:
    """Every source that the walk names, by its key."""
    told = [
        *walked.risk.before.values(),
        *(stage.told for stage in walked.risk.stages),
        *(row.told for row in walked.at_level),
        *walked.risk.whole,
    ]
    keys = [k for one in told for k in one.sources] + [
        k for r in walked.published for one in r.series for k in one.told.sources
    ]
    return [f"{key}: {citation(key)}" for key in dict.fromkeys(keys) if key not in RESERVED_SOURCES]


def _marked(lines: Iterable[Line]) -> Iterator[str]:
    for mark, words in lines:
        yield from _filled(words, mark)


def _filled(words: str, mark: str | None = None, indent: int = 0) -> list[str]:
    """Words broken at 100 columns: flush with an indent, or in a step's text behind a mark."""
    if mark is not None:
        return textwrap.wrap(words, WIDTH, initial_indent=f"{mark:>{_IN - 2}}  ", subsequent_indent=" " * _IN)
    return textwrap.wrap(words, WIDTH, initial_indent=" " * indent, subsequent_indent=" " * (indent + 2))
