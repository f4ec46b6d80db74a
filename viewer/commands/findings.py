"""`furcal findings`: from what is numb, weak or sore back to the nerve, and where along its way it was hurt."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from meshes.errors import FurcalError
from meshes.structures import APPROACHES, LEVELS, SIDES
from viewer.commands.options import word_of

if TYPE_CHECKING:
    from lessons.clinic import Ranked, Separating
    from lessons.findings import Finding

#: Candidates that the text tells.
TOLD = 3
_ASKED = {
    "numb": "a place that is numb",
    "weak": "a movement that is weak",
    "pain": "a place or joint that hurts",
    "lost": "a reflex that is lost",
    "other": "another sign or complaint",
}


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    group = parser.add_argument_group("findings (each may be given more than once; --list prints the words)")
    for kind, says in _ASKED.items():
        group.add_argument(f"--{kind}", metavar="WORDS", action="append", default=[], help=says)
    group.add_argument("--spared", metavar="WORDS", action="append", default=[], help="what was tested and is normal")
    group = parser.add_argument_group("operation that went before")
    group.add_argument("--after", type=word_of(APPROACHES, "--after"), metavar="NAME", help=", ".join(APPROACHES))
    group.add_argument("--level", type=word_of(LEVELS, "--level"), metavar="LEVEL", help=", ".join(LEVELS))
    group.add_argument("--side", type=word_of(SIDES, "--side"), metavar="SIDE", help=", ".join(SIDES))
    parser.add_argument("--list", action="store_true", help="print the legal words and leave")
    parser.add_argument("--json", action="store_true", help="answer for programs")


def run(args: argparse.Namespace) -> int:
    """Rank, and print the answer."""
    from lessons.findingtext import findings_text, legal_text, legal_words
    from viewer.answers import print_json

    if args.list:
        if args.json:
            print_json(legal_words())
        else:
            print(legal_text())
        return 0
    from lessons.clinic import explained

    seen, spared = _findings(args)
    after, level, side = args.after or "", args.level or "", args.side or ""
    ranked, following = explained(seen, spared, after, level, side)
    if args.json:
        print_json(as_json(seen, spared, ranked, following))
    else:
        print(findings_text(seen, spared, ranked[:TOLD], following, " ".join(w for w in (after, level, side) if w)))
    return 0


def _findings(args: argparse.Namespace) -> tuple[list[Finding], list[Finding]]:
    from lessons.findings import find, find_spared

    seen = [find(kind, text) for kind in _ASKED for text in getattr(args, kind)]
    if not seen:
        options = " ".join(f"--{kind}" for kind in _ASKED)
        raise FurcalError(f"findings: give at least one of {options}, or --list for the words that they take.")
    if args.level and not args.after:
        raise FurcalError("--level: tells where an operation was done; name its approach with --after as well.")
    return list(dict.fromkeys(seen)), [find_spared(text) for text in args.spared]


def as_json(
    seen: list[Finding], spared: list[Finding], ranked: list[Ranked], following: Separating | None
) -> dict[str, Any]:
    """The answer for programs."""
    from lessons.caution import CAUTION
    from lessons.clinic import METHOD

    return {
        "schema": 1,
        "findings": [{"kind": f.kind, "id": f.id, "name": f.name} for f in seen],
        "spared": [{"kind": f.kind, "id": f.id, "name": f.name} for f in spared],
        "method": METHOD,
        "ranked": [
            {
                "id": r.id,
                "name": r.name,
                "site": r.site,
                "places": list(r.places),
                "score": round(r.score, 3),
                "explains": list(r.explains),
                "unexplained": list(r.unexplained),
                "expected_but_absent": list(r.expected_but_absent),
                "expected_but_spared": list(r.expected_but_spared),
                "at_risk": r.at_risk,
            }
            for r in ranked
        ],
        "next_examination": None
        if following is None
        else {
            "finding": following.finding,
            "do": following.do,
            "separates": [{"id": id_, "shows": shows} for id_, shows in following.separates],
            "sources": list(following.source),
        },
        "caution": CAUTION,
    }
