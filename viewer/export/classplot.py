"""A class's report as a picture for the wall: how hard items are, how well they tell apart, and the objectives.

Colours are those of Okabe and Ito; what is flagged has another shape as well, and a failing bar is hatched. matplotlib
draws without a display; it is imported when this module is.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
from matplotlib.figure import Figure

from lessons.spot.classtext import clean
from lessons.spot.item import OBJECTIVE_WORDS
from lessons.spot.statistics import DIFFICULTY, DISCRIMINATION, ItemReport, Report
from viewer.export.whole import whole_file
from viewer.palette import OKABE_ITO, rgb_hex

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SUFFIXES = (".svg", ".png", ".pdf")
SIZE_IN = (16.0, 9.0)
DPI = 120
#: Points of the smallest letters: a hundredth of the height is read from a back row.
LETTERS_PT = 16
GOOD, FLAGGED = rgb_hex(OKABE_ITO["blue"]), rgb_hex(OKABE_ITO["vermillion"])
ZONE, INK = "#e4e4e4", "#222222"
#: Flags that a place in the picture shows; options that nobody takes have none.
PLACED = {"reversed", "weak", "too_hard", "too_easy"}
NAMED_MOST, NAME_WIDE = 12, 54
#: Places of a number beside its point, in points, the first free one is taken.
BESIDE = ((11, -6), (-11, -6), (0, 12), (0, -24), (11, 10), (-11, 10), (11, -22), (-11, -22))
#: Any, for matplotlib names each key.
STYLE: Any = {
    "font.family": "DejaVu Sans",
    "font.size": LETTERS_PT,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "text.color": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "hatch.linewidth": 1.5,
    "text.parse_math": False,  # what stands between two $ is no formula
    "svg.hashsalt": "furcal",  # the same report gives the same file
    "svg.fonttype": "none",
    "pdf.fonttype": 42,
}


def write_plot(report: Report, target: Path) -> None:
    """Draw a report to a file of the kind that its suffix names; written whole or not at all."""
    kind = target.suffix.lower().lstrip(".")
    dates = {"svg": {"Date": None}, "pdf": {"CreationDate": None}, "png": {}}[kind]
    with mpl.rc_context(STYLE), whole_file(target) as beside:
        drawn(report).savefig(beside, format=kind, dpi=DPI, metadata=dates)


def drawn(report: Report) -> Figure:
    """The picture."""
    figure = Figure(figsize=SIZE_IN, layout="constrained")
    figure.get_layout_engine().set(w_pad=0.15, h_pad=0.15)  # type: ignore[union-attr, call-arg]
    left, right = figure.subplots(1, 2, width_ratios=(1.15, 1.0))
    _items(left, report)
    _objectives(right, report)
    r = report.reliability
    value = "not defined" if r.value is None else f"{r.value:.2f}"
    names = _names(report)
    if names:
        figure.supxlabel(names, x=0.01, ha="left", fontsize=LETTERS_PT - 2, family="DejaVu Sans Mono")
    people = "candidate" if report.candidates == 1 else "candidates"
    figure.suptitle(
        f"Paper {clean(report.paper)}: {report.candidates} {people}, {len(report.items)} items, {r.name} {value}",
        fontsize=LETTERS_PT + 6,
    )
    return figure


# --- items


def _items(axes: Axes, report: Report) -> None:
    values = [item.discrimination for item in report.items if item.discrimination is not None]
    low = min(-0.1, *values) - 0.2 if values else -0.3
    high = max(0.6, *values) + 0.1 if values else 0.7
    axes.set(xlim=(-10, 111), ylim=(low, high), xlabel="candidates who know it, of 100",
             ylabel="point-biserial with all other items")  # fmt: skip
    axes.set_title("Items; grey is to be looked at", fontsize=LETTERS_PT + 2)
    axes.set_facecolor(ZONE)
    x0, x1 = 100 * DIFFICULTY[0], 100 * DIFFICULTY[1]
    axes.fill_between([x0, x1], DISCRIMINATION, high, color="white", zorder=0)
    axes.vlines([x0, x1], DISCRIMINATION, high, color=INK, linestyle="--", linewidth=1.5, zorder=1)
    axes.hlines(DISCRIMINATION, x0, x1, color=INK, linestyle="--", linewidth=1.5, zorder=1)
    placed = [(_place(item, low), item) for item in report.items]
    for flagged, colour, mark, size in ((False, GOOD, "o", 90), (True, FLAGGED, "^", 150)):
        points = [place for place, item in placed if _is_flagged(item) is flagged]
        if points:
            x, y = zip(*points, strict=True)
            axes.scatter(x, y, c=colour, marker=mark, s=size, edgecolors="white", zorder=3)
    flagged_ones = [(n, place) for n, (place, item) in enumerate(placed, start=1) if _is_flagged(item)]
    _numbers(axes, flagged_ones, [place for place, _ in placed])
    if any(item.discrimination is None for item in report.items):
        axes.annotate("lowest row: not defined", (0.5, 0.015), xycoords="axes fraction", ha="center", zorder=5)


def _place(item: ItemReport, low: float) -> tuple[float, float]:
    return 100 * item.difficulty, low + 0.08 if item.discrimination is None else item.discrimination


def _is_flagged(item: ItemReport) -> bool:
    return bool(PLACED & set(item.flags))


def _numbers(
    axes: Axes, numbered: Sequence[tuple[int, tuple[float, float]]], points: Sequence[tuple[float, float]]
) -> None:
    """The number of each flagged item beside its point, where no other number and no point stands."""

    def drawn_at(place: tuple[float, float]) -> tuple[float, float]:
        x, y = axes.transData.transform(place) * 72 / axes.figure.dpi
        return float(x), float(y)

    crowd = {drawn_at(point) for point in points}
    for number, place in numbered:
        x, y = drawn_at(place)
        spots = [(x + dx + (dx > 0) * 6 - (dx < 0) * 6, y + dy + 6) for dx, dy in BESIDE]
        others = crowd - {(x, y)}
        room = [min((max(abs(sx - cx), abs(sy - cy)) for cx, cy in others), default=1e9) for sx, sy in spots]
        best = next((n for n, r in enumerate(room) if r > LETTERS_PT), max(range(len(room)), key=room.__getitem__))
        crowd.add(spots[best])
        side = "center" if not BESIDE[best][0] else "left" if BESIDE[best][0] > 0 else "right"
        axes.annotate(str(number), place, BESIDE[best], textcoords="offset points", ha=side, zorder=4)


def _names(report: Report) -> str:
    """The flagged items with their numbers, two in a line."""
    found = [f"{n:>3} {_short(i.id)}" for n, i in enumerate(report.items, start=1) if _is_flagged(i)]
    cells = found[:NAMED_MOST] + ([f"and {len(found) - NAMED_MOST} more"] if len(found) > NAMED_MOST else [])
    half = (len(cells) + 1) // 2
    second = [*cells[half:], ""]
    return "\n".join(f"{a:<{NAME_WIDE + 6}}{b}" for a, b in zip(cells[:half], second, strict=False))


def _short(name: str) -> str:
    name = clean(name)
    return name if len(name) <= NAME_WIDE else f"{name[: NAME_WIDE - 3]}..."


# --- objectives


def _objectives(axes: Axes, report: Report) -> None:
    rows = list(reversed(report.objectives))
    for n, o in enumerate(rows):
        style: dict[str, Any] = {"color": FLAGGED, "hatch": "//"} if o.fails else {"color": GOOD}
        axes.barh(n, 100 * o.share, height=0.36, edgecolor="white", **style)
        axes.text(0.7, n + 0.22, OBJECTIVE_WORDS[o.objective], va="bottom", ha="left")
        axes.text(100 * o.share + 1.5, n, f"{o.right} of {o.asked}", va="center", ha="left")
    axes.set(xlim=(0, 125), ylim=(-0.5, len(rows) - 0.2), yticks=[], xlabel="answers that are right, of 100",
             xticks=range(0, 101, 20))  # fmt: skip
    axes.set_title("Objectives; hatched: less than half is right", fontsize=LETTERS_PT + 2)
    axes.spines[["top", "right"]].set_visible(False)
