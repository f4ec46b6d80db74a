"""The way back from findings as text for people: the method, the first candidates, what parts the first two."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from lessons.caution import CAUTION
from lessons.clinic import METHOD, SILENT, Ranked, Separating
from lessons.findings import KINDS, Finding, legal

WIDTH = 100
#: Two scores closer than one question that nobody asked.
NEARLY_LEVEL = SILENT
#: Expected findings that are told of each candidate; the rest is counted.
_TOLD_ABSENT = 4


def findings_text(
    seen: Sequence[Finding],
    spared: Sequence[Finding],
    ranked: Sequence[Ranked],
    following: Separating | None,
    after: str,
    wraps: bool = True,
) -> str:
    """The answer, at most 100 columns, or unbroken for what breaks lines itself."""
    given = f"Found: {'; '.join(f.text() for f in seen)}."
    if spared:
        given += f" Spared: {'; '.join(f.name for f in spared)}."
    if after:
        given += f" After: {after}."
    lines = [given, METHOD, ""]
    if not ranked:
        lines += ["No nerve of the lumbar plexus explains any of this.", ""]
    if ranked and all(one.unexplained for one in ranked):
        lines += ["No one site explains everything: think of two.", ""]
    if len(ranked) > 1 and ranked[0].score - ranked[1].score < NEARLY_LEVEL:
        lines += ["The first two are nearly level: examine before choosing.", ""]
    for place, one in enumerate(ranked, 1):
        lines += [*_candidate(place, one), ""]
    if following is not None:
        lines += [*_following(following, ranked), ""]
    lines.append("Patches are averages and overlap; a rank is no diagnosis.")
    lines.append(CAUTION)
    return "\n".join(_wrapped(line) if wraps else line for line in lines)


def _candidate(place: int, one: Ranked) -> list[str]:
    absent = list(one.expected_but_absent)
    more = f"; and {len(absent) - _TOLD_ABSENT} more" if len(absent) > _TOLD_ABSENT else ""
    lines = [
        f"{place}. {_named(one)}   score {one.score:.2f}",
        f"   explains: {'; '.join(one.explains) or 'nothing'}",
        f"   leaves unexplained: {'; '.join(one.unexplained) or 'nothing'}",
    ]
    if one.expected_but_spared:
        lines.append(f"   should show, but is spared: {'; '.join(one.expected_but_spared)}")
        absent = [words for words in absent if words not in one.expected_but_spared]
        more = f"; and {len(absent) - _TOLD_ABSENT} more" if len(absent) > _TOLD_ABSENT else ""
    if absent:
        lines.append(f"   should also show: {'; '.join(absent[:_TOLD_ABSENT])}{more}")
    if one.at_risk:
        lines.append(f"   {one.at_risk}")
    return lines


def _following(following: Separating, ranked: Sequence[Ranked]) -> list[str]:
    names = {one.id: _named(one) for one in ranked}
    two = [_named(one) for one in ranked[:2]]
    shown = [(two[k] if who in names else who, shows) for k, (who, shows) in enumerate(following.separates)]
    return [
        f"Next, to tell {'the first two' if len(ranked) > 1 else 'it'} apart: {following.do}",
        *(f"   {who}: {shows}" for who, shows in shown),
    ]


def _named(one: Ranked) -> str:
    return f"{one.name}, {one.site}" if one.site and one.site not in one.name else one.name


def legal_words() -> dict[str, list[dict[str, object]]]:
    """Every legal word by option, for programs."""
    return {kind: [{"id": w.id, "name": w.name, "synonyms": list(w.synonyms)} for w in legal(kind)] for kind in KINDS}


def legal_text() -> str:
    """Every legal word by option, for people; synonyms behind each."""
    lines = []
    for kind in KINDS:
        lines.append(f"--{kind}")
        lines += [f"  {w.name}  (also: {', '.join(w.synonyms)})" for w in legal(kind)]
    lines.append("--spared takes any of these words.")
    return "\n".join(_wrapped(line) for line in lines)


def _wrapped(line: str) -> str:
    indent = " " * (len(line) - len(line.lstrip()))
    return (
        textwrap.fill(line, WIDTH, initial_indent="", subsequent_indent=f"{indent}   ") if len(line) > WIDTH else line
    )
