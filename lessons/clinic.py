"""From findings to the nerve, and the place along its way, that explains most of them with least.

The method. A candidate is a nerve at a place along its way (places at which the same is lost count as one), a root,
the plexus within psoas, sore psoas, or the common fibular nerve. What each would lose follows from the tables of
supply. The score of a candidate is the sum over the findings: plus 1 where it explains the finding (0.75 where a
place lies in several dermatomes, 0.5 where the skin is variable or only shared, a little less than 1 where a movement
or jerk would fail only in part), minus 1 where it does not. What it should show has a weight, 1 or less in the same
way. Off goes half of the weight where it is said to be spared, and a tenth where nobody mentioned it. Where an
approach is named, a candidate that its table puts in danger there gains a little, more where the level is named too.
Ties go to the candidate that takes least, then by name. No score is a probability.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from lessons import danger, differential
from lessons.findings import Finding, check_consistent, everything, word_of
from lessons.readout import capital
from lessons.sites import SHARED, Site, also_known_as, by_hand, credit, examined, sites, weight

#: A finding that a candidate leaves unexplained, as one that it explains in full.
UNEXPLAINED = 1.0
#: Of the weight of what is expected: said to be spared (examiners miss things), and not mentioned (not everyone asks).
SPARED, SILENT = 0.5, 0.1
#: Weights closer than this do not part two candidates.
APART = 0.25
METHOD = (
    "Score: what a site explains, minus what it leaves unexplained, minus half of what it should show but is spared,"
    " minus a tenth of what it should show and nobody mentioned. No probability."
)
#: In this order findings are examined: strength before jerks, jerks before touch.
_BEDSIDE = ("weak", "lost", "numb", "other")
#: What an examination shows where the finding is not there, and where it is.
_SHOWN = {
    "weak": ("strong", "weak"),
    "lost": ("normal", "less or none"),
    "numb": ("normal feeling", "less feeling"),
    "other": ("not so", "so"),
}


@dataclass(frozen=True)
class Ranked:
    """A candidate and how it fares.

    id                  : of the nerve, with its side where that is known
    site                : where along its way, in words; several places where the same is lost at each
    explains            : findings that it explains, unexplained: the rest
    expected_but_absent : what it should show and was not reported, what was said to be spared first
    expected_but_spared : those said to be spared
    at_risk             : what the approach that went before has to do with it, in words; "" for nothing
    """

    id: str
    name: str
    site: str
    places: tuple[str, ...]
    score: float
    explains: tuple[str, ...]
    unexplained: tuple[str, ...]
    expected_but_absent: tuple[str, ...]
    expected_but_spared: tuple[str, ...]
    at_risk: str
    of: Site


@dataclass(frozen=True)
class Separating:
    """An examination that parts two candidates: what to do, and what each would show. Empty where none does."""

    finding: str
    do: str
    separates: tuple[tuple[str, str], ...]
    source: tuple[str, ...]


def rank(
    findings: Iterable[Finding],
    spared: Iterable[Finding] = (),
    after: str = "",
    level: str = "",
    side: str = "",
) -> list[Ranked]:
    """Every candidate that explains at least one finding, best first; all of them where there is no finding.

    after, level, side : approach, level and side of an operation, "" where not known
    Raises FurcalError for a finding that is both reported and spared.
    """
    seen, kept = tuple(dict.fromkeys(findings)), tuple(dict.fromkeys(spared))
    check_consistent(seen, kept)
    some = [_ranked(site, seen, kept, after, level, side) for site in sites()]
    fitting = [r for r in some if r.explains or not seen]
    return sorted(fitting, key=lambda r: (-r.score, r.of.extent, r.id, r.of.order))


def explained(
    findings: Sequence[Finding], spared: Sequence[Finding], after: str = "", level: str = "", side: str = ""
) -> tuple[list[Ranked], Separating | None]:
    """The ranking, and the next examination; None where nothing explains anything."""
    ranked = rank(findings, spared, after, level, side)
    second = ranked[1] if len(ranked) > 1 else None
    return ranked, next_examination(ranked[0], second, (*findings, *spared)) if ranked else None


def _ranked(
    site: Site, seen: Sequence[Finding], spared: Sequence[Finding], after: str, level: str, side: str
) -> Ranked:
    explains = [f for f in seen if weight(site, f) > 0]
    unexplained = [f for f in seen if f not in explains]
    against = [f for f in spared if weight(site, f) > 0]
    touched = _touched([*explains, *against])
    silent = [(words, w) for words, unit, w in site.expected() if not unit & touched]
    score = sum(credit(site, f) for f in explains) - UNEXPLAINED * len(unexplained)
    score -= SPARED * sum(weight(site, f) for f in against) + SILENT * sum(w for _, w in silent)
    risk = danger.of(site, after, level)
    said = tuple(f.text() for f in against)
    return Ranked(
        f"{site.id}_{side}" if side else site.id,
        site.name,
        site.where(risk.places),
        site.places,
        round(score + risk.bonus, 9),
        tuple(f.text() for f in explains),
        tuple(f.text() for f in unexplained),
        (*said, *(words for words, _ in silent)),
        said,
        risk.says,
        site,
    )


def _touched(findings: Collection[Finding]) -> frozenset[str]:
    """What findings speak of: movements, reflexes, patches, dermatomes, signs."""
    names: set[str] = set()
    for finding in findings:
        word = word_of(finding)
        names |= {f"{finding.kind}:{finding.id}", *word.patches, *word.levels}
    return frozenset(names)


def next_examination(first: Ranked, second: Ranked | None, known: Collection[Finding] = ()) -> Separating:
    """The finding in which two candidates differ most and that nobody has looked at, with how to examine it.

    Where the tables of supply part them by nothing, or there is no second one, what the tables of differentials say.
    """
    if second is None:
        return _alone(first)
    a, b = first.of, second.of
    asked = {(f.kind, f.id) for f in known}
    rows = [
        (-abs(weight(a, f) - weight(b, f)), _BEDSIDE.index(f.kind), k, f)
        for k, f in enumerate(everything())
        if (f.kind, f.id) not in asked and f.kind in _BEDSIDE and (f.kind != "weak" or f.id in examined())
    ]
    best = min(rows)[3] if rows else None
    if best is None or abs(weight(a, best) - weight(b, best)) < APART:
        return _by_table(first, second)
    do, source = differential.how(best, a if weight(a, best) > weight(b, best) else b)
    return Separating(best.text(), do, tuple((r.id, _shows(r.of, best)) for r in (first, second)), source)


def _shows(site: Site, finding: Finding) -> str:
    """What a candidate would show at an examination."""
    by_needle = finding.kind == "weak" and not by_hand(finding.id)
    normal, word = ("normal", "abnormal") if by_needle else _SHOWN[finding.kind]
    likely = weight(site, finding)
    if likely <= 0:
        return normal
    return word if likely > SHARED else f"{word}, or {normal}"


def _alone(first: Ranked) -> Separating:
    """What parts the only candidate from what is no nerve at all."""
    lesion = also_known_as(first.of.id)
    for table in differential.tables_of(lesion):
        column = table.column_of(lesion)
        row = next(r for r in table.rows if len({cell.says for cell in r.cells.values()}) > 1)
        others = [key for key in table.columns if key != column]
        if column and others:
            cells = [(first.id, row.cells[column]), *((table.columns[key][0], row.cells[key]) for key in others)]
            source = tuple(dict.fromkeys(key for _, cell in cells for key in cell.source))
            return Separating("", f"{capital(row.do)}.", tuple((who, cell.says) for who, cell in cells), source)
    return Separating("", "Nothing else in the tables explains this.", (), ())


def _by_table(first: Ranked, second: Ranked) -> Separating:
    """What the tables of differentials say of two candidates."""
    row = differential.row_between(also_known_as(first.of.id), also_known_as(second.of.id))
    if row is None:
        return Separating("", "Nothing at the bedside tells these two apart.", (), ())
    do, one, other, source = row
    return Separating("", f"{capital(do)}.", ((first.id, one), (second.id, other)), source)
