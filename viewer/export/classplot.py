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
#: Items nearer to each other stand on one spot, in points: their marks cover each other.
ONE_SPOT_PT = 3.0
#: Numbers beside one spot: so many in a line, and at most.
NUMBERS_LINE, NUMBERS_MOST = 5, 15
#: Room of a digit and of a comma or space, points; between a mark and its numbers; half of a mark.
DIGIT_PT, COMMA_PT, GAP_PT, MARK_PT = 0.64 * LETTERS_PT, 0.32 * LETTERS_PT, 9.0, 6.0
#: Where numbers stand from their mark, the first free one is taken: -1 left or below, 1 right or above.
BESIDE = (
    (1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, 1), (1, -1), (-1, -1),
    *((side * 0.2, up) for up in (1, -1, 1.5, -1.5, 2, -2) for side in (1, -1, 2, -2, 3, -3, 4, -4)),
)  # fmt: skip
#: Left, lower, right and upper edge, points.
Box = tuple[float, float, float, float]
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
    figure.draw_without_rendering()
    _numbers(left, report)
    return figure


# --- items


def _items(axes: Axes, report: Report) -> None:
    values = [item.discrimination for item in report.items if item.discrimination is not None]
    low = min(-0.1, *values) - 0.2 if values else -0.3
    high = max(0.6, *values) + 0.1 if values else 0.7
    axes.set(xlim=(-10, 111), ylim=(low, high), ylabel="point-biserial with all other items",
             xlabel="candidates who know it, of 100 (numbers: order of the paper)")  # fmt: skip
    title = f"Items; {report.says.replace('no item and no option', 'none')}" if report.says else ""
    axes.set_title(title or "Items; grey is to be looked at", fontsize=LETTERS_PT + 2)
    if report.flags_items:
        _zone(axes, high)
    places = [_place(item, low) for item in report.items]
    flagged = [_is_flagged(item) for item in report.items]
    for is_flagged, colour, mark, size in ((False, GOOD, "o", 90), (True, FLAGGED, "^", 150)):
        points = [place for place, own in zip(places, flagged, strict=True) if own is is_flagged]
        if points:
            x, y = zip(*points, strict=True)
            axes.scatter(x, y, c=colour, marker=mark, s=size, edgecolors="white", zorder=3)
    if any(item.discrimination is None for item in report.items):
        axes.annotate("lowest row: not defined", (0.5, 0.015), xycoords="axes fraction", ha="center", zorder=5)


def _zone(axes: Axes, high: float) -> None:
    """Where a good item stands, in white on grey."""
    axes.set_facecolor(ZONE)
    x0, x1 = 100 * DIFFICULTY[0], 100 * DIFFICULTY[1]
    axes.fill_between([x0, x1], DISCRIMINATION, high, color="white", zorder=0)
    axes.vlines([x0, x1], DISCRIMINATION, high, color=INK, linestyle="--", linewidth=1.5, zorder=1)
    axes.hlines(DISCRIMINATION, x0, x1, color=INK, linestyle="--", linewidth=1.5, zorder=1)


def _place(item: ItemReport, low: float) -> tuple[float, float]:
    return 100 * item.difficulty, low + 0.08 if item.discrimination is None else item.discrimination


def _is_flagged(item: ItemReport) -> bool:
    return bool(PLACED & set(item.flags))


def _spots(points: Sequence[tuple[float, float]]) -> list[list[int]]:
    """The items that stand on each spot, in order.

    points : of each item, points of the picture
    """
    spots: list[list[int]] = []
    for n, (x, y) in enumerate(points):
        near = (s for s in spots if max(abs(points[s[0]][0] - x), abs(points[s[0]][1] - y)) < ONE_SPOT_PT)
        own = next(near, None)
        if own is None:
            spots.append([n])
        else:
            own.append(n)
    return spots


def _numbers(axes: Axes, report: Report) -> None:
    """The numbers of flagged items, and of all that share one spot, where no other number and no mark stands.

    The layout must be done, for it says where a mark stands.
    """

    def drawn_at(place: tuple[float, float]) -> tuple[float, float]:
        x, y = axes.transData.transform(place) * 72.0 / axes.figure.dpi
        return float(x), float(y)

    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    edge = (*drawn_at((left, low)), *drawn_at((right, high)))
    places = [_place(item, low) for item in report.items]
    points = [drawn_at(place) for place in places]
    taken: list[Box] = [(x - MARK_PT, y - MARK_PT, x + MARK_PT, y + MARK_PT) for x, y in points]
    for spot in _spots(points):
        if len(spot) == 1 and not _is_flagged(report.items[spot[0]]):
            continue
        words, at = numbers_beside([n + 1 for n in spot]), points[spot[0]]
        boxes = [_box(at, words, beside) for beside in BESIDE]
        # what would stand out of the picture is worse than what covers a mark
        covers = [sum(_cover(b, t) for t in taken) + 100 * (_cover(b, b) - _cover(b, edge)) for b in boxes]
        best = covers.index(min(covers))
        box = boxes[best]
        taken.append(box)
        offset = (box[0] + box[2]) / 2 - at[0], (box[1] + box[3]) / 2 - at[1]
        # not right or left of a mark, where a line would be read as a minus
        line = {"arrowstyle": "-", "color": INK, "shrinkA": 0, "shrinkB": MARK_PT, "relpos": (0.5, 0.5)}
        told = axes.annotate(words, places[spot[0]], offset, textcoords="offset points", ha="center", va="center",
                             arrowprops=line if BESIDE[best][1] else None, zorder=4)  # fmt: skip
        told.set_in_layout(False)


def numbers_beside(numbers: Sequence[int]) -> str:
    """Numbers as they stand beside one spot: 3, 5, 6."""
    told = [str(n) for n in numbers[:NUMBERS_MOST]]
    lines = [", ".join(told[i : i + NUMBERS_LINE]) for i in range(0, len(told), NUMBERS_LINE)]
    return ",\n".join(lines) + (f"\nand {len(numbers) - NUMBERS_MOST} more" if len(numbers) > NUMBERS_MOST else "")


def _box(mark: tuple[float, float], words: str, beside: tuple[float, float]) -> Box:
    """The room of words beside a mark."""
    lines = words.split("\n")
    wide = max(sum(COMMA_PT if letter in ", " else DIGIT_PT for letter in line) for line in lines)
    high = len(lines) * 1.2 * LETTERS_PT
    x, y = (mark[k] + beside[k] * (GAP_PT + size / 2) for k, size in enumerate((wide, high)))
    return x - wide / 2, y - high / 2, x + wide / 2, y + high / 2


def _cover(a: Box, b: Box) -> float:
    """How much of two boxes is in both, square points."""
    wide, high = min(a[2], b[2]) - max(a[0], b[0]), min(a[3], b[3]) - max(a[1], b[1])
    return max(wide, 0.0) * max(high, 0.0)


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
