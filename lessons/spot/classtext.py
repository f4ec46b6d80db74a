"""A class's report as text, as a table for spreadsheets, and for programs."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import Any

from lessons.spot.item import OBJECTIVE_WORDS
from lessons.spot.statistics import DISCRIMINATION, FLAGS, FUNCTIONING, ItemReport, Report

SCHEMA = 1
#: Letters of an option that a line of the report quotes.
QUOTED_MAX = 50
NONE = "-"
COLUMNS = (
    "id", "kind", "objective", "candidates", "right", "skipped", "difficulty", "discrimination",
    "discrimination_with_itself", "flags", "distractors", "instead", "says",
)  # fmt: skip
#: A spreadsheet takes a text that begins so for a formula.
FORMULA = ("=", "+", "-", "@", "\t", "\r")


def report_json(report: Report) -> dict[str, Any]:
    """The report for programs; None stands for what cannot be computed, or told of so small a class."""
    return {
        "schema": SCHEMA,
        "paper": report.paper,
        "candidates": report.candidates,
        "says": report.says,
        "items": [_item_json(item, report.flags_items) for item in report.items],
        "reliability": {
            "name": report.reliability.name,
            "value": _rounded(report.reliability.value),
            "says": report.reliability.says,
        },
        "objectives": [
            {
                "objective": o.objective,
                "words": OBJECTIVE_WORDS[o.objective],
                "items": list(o.items),
                "asked": o.asked,
                "right": o.right,
                "share": _rounded(o.share),
                "fails": o.fails,
            }
            for o in report.objectives
        ],
        "by_chance": _rounded(report.by_chance),
    }


def _item_json(item: ItemReport, judged: bool) -> dict[str, Any]:
    return {
        "id": item.id,
        "kind": item.kind,
        "objective": item.objective,
        "right": item.right,
        "skipped": item.skipped,
        "difficulty": _rounded(item.difficulty),
        "discrimination": _rounded(item.discrimination),
        "discrimination_with_itself": _rounded(item.with_itself),
        "distractors": [
            {
                "option": clean(d.option),
                "taken": d.taken,
                "share": _rounded(d.share),
                "discrimination": _rounded(d.discrimination),
                "functions": d.functions if judged else None,
            }
            for d in item.distractors
        ],
        "instead": [{"answer": clean(answer), "taken": taken} for answer, taken in item.instead],
        "flags": list(item.flags),
        "says": item.says,
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)


def clean(text: str) -> str:
    """A candidate's words as they can be printed: no control characters, no halves of letters."""
    return "".join(sign if sign.isprintable() else "?" for sign in " ".join(text.split()))


# --- text


def report_text(report: Report) -> str:
    """The report in words: the paper, the objectives, a table of the items, and what is wrong with which of them."""
    parts = [_head(report), _objectives(report), _table(report), _flagged(report)]
    return "\n\n".join(part for part in parts if part)


def _head(report: Report) -> str:
    r = report.reliability
    value = r.says if r.value is None else f"{r.value:.2f}"
    people = "candidate" if report.candidates == 1 else "candidates"
    return (
        f"Paper {clean(report.paper)}: {report.candidates} {people}, {len(report.items)} items\n"
        f"{r.name}: {value}\n"
        f"In a class of this size a share of 50 of 100 moves by {100 * report.by_chance:.0f} either way by chance."
        + (f"\n{report.says[0].upper()}{report.says[1:]}." if report.says else "")
    )


def _objectives(report: Report) -> str:
    rows = [
        (OBJECTIVE_WORDS[o.objective], f"{100 * o.share:.0f} of 100 right", f"({o.right} of {o.asked})",
         "fails" if o.fails else "")
        for o in report.objectives
    ]  # fmt: skip
    return "Objectives, the weakest first\n" + aligned(rows)


def _table(report: Report) -> str:
    rows = [("item", "kind", "right of 100", "point-biserial", "look at it" if report.flags_items else "")]
    rows += [
        (clean(item.id), item.kind, f"{100 * item.difficulty:.0f}", number(item.discrimination),
         _flag_words(item))
        for item in report.items
    ]  # fmt: skip
    return (
        "Items in the order of the paper; point-biserial with the score of the other items\n"
        + aligned(rows, right=(2, 3))
    )  # fmt: skip


#: A flag in the table; `FLAGS` says it at length.
FLAG_WORDS = {
    "reversed": "key?",
    "weak": "does not tell apart",
    "too_hard": "too hard",
    "too_easy": "too easy",
    "distractors": "unused options",
}


def _flag_words(item: ItemReport) -> str:
    return ", ".join(FLAG_WORDS[flag] for flag in item.flags)


def _flagged(report: Report) -> str:
    lines = []
    for item in report.items:
        says = [FLAGS[flag] for flag in item.flags if flag != "distractors"]
        if "reversed" in item.flags:
            says += [
                f"{quoted(d.option)} is taken by those who do well ({number(d.discrimination)})"
                for d in item.distractors
                if (d.discrimination or 0) > DISCRIMINATION
            ]
        says += [
            f"{quoted(d.option)} is taken by {d.taken} of {report.candidates}"
            for d in item.distractors
            if report.flags_items and not d.functions
        ]
        if item.flags and item.instead:
            says.append("answered instead: " + ", ".join(f"{quoted(a)} ({n})" for a, n in item.instead))
        if item.says:
            says.append(item.says)
        if says:
            lines.append(f"  {clean(item.id)}: {'; '.join(says)}.")
    if not report.flags_items:
        return "\n".join(["Figures that cannot be computed", *lines]) if lines else ""
    if not lines:
        return "No item is flagged."
    return (
        f"To look at (an option that fewer than {100 * FUNCTIONING:.0f} of 100 take does no work)\n" + "\n".join(lines)
    )  # fmt: skip


def quoted(text: str) -> str:
    """A candidate's words as a line quotes them: their start only where they are long."""
    text = clean(text)
    return f'"{text}"' if len(text) <= QUOTED_MAX else f'"{text[: QUOTED_MAX - 3]}..."'


def number(value: float | None) -> str:
    """Two places, or a dash for what cannot be computed."""
    return NONE if value is None else f"{value:.2f}"


def aligned(rows: Sequence[Sequence[str]], right: Sequence[int] = ()) -> str:
    """Rows with their columns one under the other; the columns of `right` end at one place."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lines = []
    for row in rows:
        cells = [
            text.rjust(width) if n in right else text.ljust(width)
            for n, (text, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append(("  " + "  ".join(cells)).rstrip())
    return "\n".join(lines)


# --- spreadsheet


def report_csv(report: Report) -> str:
    """A row an item. What a spreadsheet would take for a formula gets an apostrophe before it."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for item in report.items:
        writer.writerow(
            _cell(value)
            for value in (
                clean(item.id), item.kind, item.objective, report.candidates, item.right, item.skipped,
                _rounded(item.difficulty), _rounded(item.discrimination), _rounded(item.with_itself),
                _flag_words(item),
                "; ".join(f"{clean(d.option)}: {d.taken}" for d in item.distractors),
                "; ".join(f"{clean(answer)}: {taken}" for answer, taken in item.instead),
                "; ".join(filter(None, (item.says, report.says))),
            )
        )  # fmt: skip
    return out.getvalue()


def _cell(value: str | float | None) -> str:
    if isinstance(value, str):
        return f"'{value}" if value.startswith(FORMULA) else value
    return "" if value is None else str(value)
