"""The body's own figures beside the published ones: `furcal measure`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from meshes.body import Body, load_body
from meshes.figures import TOPICS, USES, Published, published
from meshes.gauges import AbsentError, gauge
from meshes.specimen import Specimen
from meshes.structures import POSTURES


@dataclass(frozen=True)
class Figure:
    """One published figure and ours, in the row's unit; `ours` is None where this body has nothing to measure."""

    published: Published
    ours: float | None
    agrees: bool | None


def measure(specimen: Specimen) -> list[Figure]:
    """Every published figure beside ours, each measured on the specimen's body lying as in the source."""

    @cache
    def body_in(posture: str) -> Body:
        return load_body(lying(specimen, posture))

    return [measure_one(row, body_in(row.posture)) for row in published()]


def lying(specimen: Specimen, posture: str) -> Specimen:
    """The same person in the posture of a source, unbent; as it lies where the source names none of ours."""
    if posture not in POSTURES:
        return specimen
    return replace(specimen, posture=posture, table_break_deg=0.0, up="")


def measure_one(row: Published, body: Body) -> Figure:
    """One figure of a body that lies as the row asks."""
    if not row.measure:
        return Figure(row, None, None)
    try:
        ours = gauge(row.measure)(body, **row.arguments)
    except AbsentError:
        return Figure(row, None, None)
    return Figure(row, ours, row.agrees(ours))


def as_json(figures: Sequence[Figure]) -> list[dict[str, Any]]:
    """The answer for programs, one mapping a figure."""
    return [_json_row(figure) for figure in figures]


def _json_row(figure: Figure) -> dict[str, Any]:
    row = figure.published
    return {
        "id": row.id,
        "what": row.what,
        "ours": None if figure.ours is None else round(figure.ours, 3),
        "unit": row.unit,
        "published": {
            "mean": row.mean,
            "sd": None if row.sd is None else round(row.sd, 3),
            "low": row.low,
            "high": row.high,
            "n": row.n,
        },
        "posture": row.posture,
        "source": row.source,
        "basis": row.basis,
        "use": row.use,
        "agrees": figure.agrees,
    }


def as_text(figures: Sequence[Figure]) -> str:
    """The answer for people: by topic, with every disagreement told again at the end."""
    lines: list[str] = []
    for topic in TOPICS:
        rows = [f for f in figures if f.published.topic == topic]
        if rows:
            lines += ["", topic.upper(), _HEAD, *(_line(f) for f in rows)]
    lines += ["", *_counts(figures), *_disagreements(figures), "", *_NOTES]
    return "\n".join(lines[1:])


_VERDICTS = {True: "agrees", False: "DISAGREES", None: "shown"}
_HEAD = f"  {'':9}  {'ours':>8}  {'published':<30}  {'unit':<8}  {'posture':<10}  {'use':<5}  what, source"
_NOTES = (
    "mean (SD): agrees within 2 SD; a range, or one side of it, as given; a mean without spread within the bound that",
    "meshes/tolerances.py states. Figures from memory, or of another posture, are shown and neither pass nor fail.",
    "A source either builds the body or checks it. Sources by key: meshes/anatomy/sources.toml.",
    "For teaching. An average body built from published figures; not for planning or guiding an operation.",
)


def _line(figure: Figure) -> str:
    row = figure.published
    ours = "-" if figure.ours is None else _number(figure.ours)
    memory = ", from memory" if row.basis == "memory" else ""
    return (
        f"  {_VERDICTS[figure.agrees]:9}  {ours:>8}  {_spread(row):<30}  {row.unit:<8}  {row.posture:<10}  {row.use:<5}"
        f"  {row.what} [{row.source}{memory}]"
    )


def _number(value: float) -> str:
    """Three figures are enough to compare, and whole thousands stay readable."""
    return f"{value:.0f}" if abs(value) >= 200 else f"{value:.1f}" if abs(value) >= 10 else f"{value:.2f}"


def _spread(row: Published) -> str:
    """What the source gives, as a paper would print it."""
    n = "" if row.n is None else f", n {row.n}"
    if row.bound in ("at_most", "at_least", "above"):
        sign, value = {"at_most": ("<=", row.high), "at_least": (">=", row.low), "above": (">", row.low)}[row.bound]
        return f"{sign} {_number(value or 0.0)}{n}"
    mean = "" if row.mean is None else _number(row.mean)
    sd = "" if row.sd is None else f" ({_number(row.sd)})"
    both = "" if row.low is None or row.high is None else f"{_number(row.low)}..{_number(row.high)}"
    extent = f" [{both}]" if both and mean else both
    return f"{mean}{sd}{extent}{n}"


def _counts(figures: Sequence[Figure]) -> list[str]:
    lines = []
    for use in USES[:2]:
        judged = [f for f in figures if f.published.use == use and f.agrees is not None]
        agree = sum(bool(f.agrees) for f in judged)
        share = f" ({100.0 * agree / len(judged):.0f} %)" if judged else ""
        lines.append(f"{use}: {agree} of {len(judged)} agree{share}")
    shown = sum(f.agrees is None for f in figures)
    return [*lines, f"shown, neither pass nor fail: {shown}"]


def _disagreements(figures: Sequence[Figure]) -> list[str]:
    missed = [f for f in figures if f.agrees is False]
    if not missed:
        return ["no disagreement"]
    lines = ["disagreements:"]
    for f in missed:
        low, high = f.published.limits()
        note = f"; {f.published.note}" if f.published.note else ""
        lines.append(
            f"  {f.published.id}: ours {_number(f.ours or 0.0)} {f.published.unit}, "
            f"would agree from {_number(low)} to {_number(high)}{note}"
        )
    return lines
