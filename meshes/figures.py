"""The table of published figures, and the rule by which a figure of ours agrees with one of them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from meshes.errors import FurcalError, unknown_word
from meshes.structures import POSTURES
from meshes.tables import ANATOMY, RESERVED_SOURCES, cited, number, read_csv, read_toml
from meshes.tolerances import MEAN_ONLY

PUBLISHED = ANATOMY / "published.csv"
COLUMNS = (
    "id", "topic", "what", "unit", "mean", "sd", "spread", "low", "high", "n", "bound", "posture", "source", "basis",
    "use", "measure", "arguments", "note",
)  # fmt: skip
#: In the order in which they are told.
TOPICS = (
    "plexus at the discs", "courses", "calibre", "roots and variants", "vertebrae and discs", "alignment", "pelvis",
    "ribs", "muscles", "vessels", "strain and pressure", "attenuation",
)  # fmt: skip
#: What the number in `sd` is. A pooled standard error says how well a mean is known, not how people spread.
SPREADS = ("sd", "sem", "pooled_se", "none")
#: mean: close to the mean; range: between low and high; at_most, at_least, above: one side only; share: a share of
#: people, and an average body must show what most of them have.
BOUNDS = ("mean", "range", "at_most", "at_least", "above", "share")
#: `any`: on the specimen as it lies (bones, or a source that names no posture); `standing` is shown only.
ROW_POSTURES = (*POSTURES, "any", "standing")
BASES = ("published", "transcribed", "computed", "memory", "custom")
USES = ("build", "check", "shown")


@dataclass(frozen=True)
class Published:
    """One published figure. Numbers in the row's own unit; what a source does not give is None.

    sd        : standard deviation (a standard error is turned into it); None where no spread of people is given
    measure   : name of the gauge that measures it on a built body; empty where the body has nothing to measure
    arguments : what the gauge is asked with
    """

    id: str
    topic: str
    what: str
    unit: str
    mean: float | None
    sd: float | None
    low: float | None
    high: float | None
    n: int | None
    bound: str
    posture: str
    source: str
    basis: str
    use: str
    measure: str
    arguments: Mapping[str, str]
    note: str

    @property
    def judged(self) -> bool:
        """Whether a figure of ours may pass or fail. One from memory, or shown for comparison, may not."""
        return self.use != "shown" and self.basis != "memory" and self.posture != "standing"

    def limits(self) -> tuple[float, float]:
        """Lowest and highest value, inclusive, that agrees. Raises FurcalError for a row that cannot be judged."""
        if self.bound == "mean":
            return self._around_mean()
        low, high = self.low, self.high
        if self.bound in ("at_least", "above"):
            return (-math.inf if low is None else low, math.inf)
        if self.bound == "at_most":
            return (-math.inf, math.inf if high is None else high)
        if self.bound == "share":
            share = self.mean if self.mean is not None else ((low or 0.0) + (high or 0.0)) / 2.0
            return (50.0, 100.0) if share >= 50.0 else (0.0, 50.0)
        if low is None or high is None:
            raise FurcalError(f"{PUBLISHED}, {self.id}: a range needs 'low' and 'high'.")
        return low, high

    def _around_mean(self) -> tuple[float, float]:
        if self.mean is None:
            raise FurcalError(f"{PUBLISHED}, {self.id}: bound 'mean' needs a mean.")
        if self.sd is not None:
            return self.mean - 2.0 * self.sd, self.mean + 2.0 * self.sd
        if self.low is not None and self.high is not None:
            return self.low, self.high
        if self.measure not in MEAN_ONLY:
            raise FurcalError(f"{PUBLISHED}, {self.id}: no spread, and no bound for {self.measure} in tolerances.py.")
        return self.mean - MEAN_ONLY[self.measure], self.mean + MEAN_ONLY[self.measure]

    def agrees(self, ours: float | None) -> bool | None:
        """True or False by the rule; None where there is nothing to judge."""
        if ours is None or not self.judged:
            return None
        low, high = self.limits()
        return low < ours if self.bound == "above" else low <= ours <= high


@cache
def published() -> tuple[Published, ...]:
    """Every row of published.csv. Raises FurcalError naming file and line."""
    rows: list[Published] = []
    seen: set[str] = set()
    for line, cells in enumerate(read_csv(PUBLISHED, COLUMNS), start=2):
        where = f"{PUBLISHED}, line {line}"
        row = _row(cells, where)
        if row.id in seen:
            raise FurcalError(f"{where}: {row.id} stands twice.")
        seen.add(row.id)
        rows.append(row)
    return tuple(rows)


def _row(cells: Mapping[str, str], where: str) -> Published:
    legal = {"topic": TOPICS, "spread": SPREADS, "bound": BOUNDS, "posture": ROW_POSTURES, "basis": BASES, "use": USES}
    for column, words in legal.items():
        if cells[column] not in words:
            raise unknown_word(cells[column], words, column, where)
    _allowed_source(cells, where)
    n = _optional(cells, "n", where)
    return Published(
        id=cells["id"],
        topic=cells["topic"],
        what=cells["what"],
        unit=cells["unit"],
        mean=_optional(cells, "mean", where),
        sd=_deviation(_optional(cells, "sd", where), cells["spread"], n, where),
        low=_optional(cells, "low", where),
        high=_optional(cells, "high", where),
        n=None if n is None else int(n),
        bound=cells["bound"],
        posture=cells["posture"],
        source=cells["source"],
        basis=cells["basis"],
        use=cells["use"],
        measure=cells["measure"],
        arguments=_arguments(cells["arguments"], where),
        note=cells["note"],
    )


def _optional(cells: Mapping[str, str], column: str, where: str) -> float | None:
    return number(cells[column], f"{where}, {column}") if cells[column] else None


def _deviation(given: float | None, spread: str, n: float | None, where: str) -> float | None:
    """Standard deviation of people from what a source gives."""
    if given is None or spread in ("none", "pooled_se"):
        return None
    if spread == "sd":
        return given
    if n is None:
        raise FurcalError(f"{where}: a standard error needs 'n'.")
    return given * math.sqrt(n)


def _arguments(text: str, where: str) -> dict[str, str]:
    """`level=L4-5 side=left` -> a mapping."""
    pairs = [word.partition("=") for word in text.split()]
    for key, equals, value in pairs:
        if not (key and equals and value):
            raise FurcalError(f"{where}, arguments: write them as key=value, separated by blanks.")
    return {key: value for key, _, value in pairs}


def _allowed_source(cells: Mapping[str, str], where: str) -> None:
    """A source that builds the body may not check it, nor the other way round; any source may be shown."""
    table = read_toml(ANATOMY / "sources.toml")
    for key in cited(cells, where):
        use = "shown" if key in RESERVED_SOURCES else table[key]["use"]
        if cells["use"] not in ("shown", use):
            raise FurcalError(f"{where}: {key} is a source to {use}, not to {cells['use']}; see sources.toml.")
