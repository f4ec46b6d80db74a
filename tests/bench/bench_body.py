"""How long a body takes: from nothing, from the cache, and changed from a loaded reference."""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager

import numpy as np

from meshes.body import Body, build, load_body
from meshes.reference import reference
from meshes.specimen import ALDER, Specimen
from tests.bench.results import Limit, seconds

CHANGES = {
    "psoas a fifth larger": Specimen(psoas_scale=1.2),
    "lying on the back": Specimen(posture="supine"),
    "a table break of 20 degrees": Specimen(table_break_deg=20.0, up="left"),
    "another stature and sex": Specimen(sex="female", stature_mm=1600.0),
}


@contextmanager
def empty_cache() -> Iterator[None]:
    """A cache with nothing in it; the user's own stays as it is."""
    named = os.environ.get("FURCAL_CACHE")
    with tempfile.TemporaryDirectory() as folder:
        os.environ["FURCAL_CACHE"] = folder
        try:
            yield
        finally:
            os.environ.pop("FURCAL_CACHE")
            if named is not None:
                os.environ["FURCAL_CACHE"] = named


def timed(work: Callable[[], Body]) -> tuple[float, Body]:
    """Seconds of one call, and what it gave."""
    begin = time.perf_counter()
    body = work()
    return time.perf_counter() - begin, body


def same(one: Body, other: Body) -> bool:
    """Whether two bodies have the same parts in the same places, to the last bit."""
    return one.structures == other.structures and all(
        np.array_equal(one.surfaces[n].vertices, other.surfaces[n].vertices) for n in one.structures
    )


def bench_default_body() -> Sequence[Limit]:
    """Alder built from nothing, then read from the cache; both must be one body."""
    told: list[float] = []

    def tell(share: float, _words: str) -> None:
        told.append(share)

    with empty_cache():
        nothing_s, built = timed(lambda: load_body(ALDER, tell))
        cached_s = seconds(lambda: load_body(ALDER))
        kept = load_body(ALDER)
    if not same(built, kept):
        raise SystemExit("the kept body is not the built body")
    if len(told) < 10 or told != sorted(told) or told[-1] != 1.0:
        raise SystemExit("no progress was told on the way")
    return [
        Limit(f"Alder from nothing, told in {len(told)} steps", nothing_s, 15.0),
        Limit(f"Alder from the cache, {len(kept.structures)} structures", cached_s, 0.3),
    ]


def bench_change() -> Sequence[Limit]:
    """A specimen that was never built before, from a reference that is on disk."""
    reference()
    return [Limit(f"a change: {what}", seconds(lambda s=who: build(s)), 0.5) for what, who in CHANGES.items()]  # type: ignore[misc]  # s is bound early
