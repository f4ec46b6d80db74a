"""Every benchmark in one run: `python -m tests.bench [word]`; a miss ends it with 1.

A benchmark is a function `bench_...` in a module `bench_*.py` beside this file; it returns its results
(tests/bench/results.py). With a word, only modules with that word in their name run.
"""

from __future__ import annotations

import importlib
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from tests.bench.results import Result

Bench = Callable[[], Sequence[Result]]


def benches(word: str) -> Iterator[Bench]:
    """All benchmark functions, by module and name."""
    for path in sorted(Path(__file__).parent.glob("bench_*.py")):
        if word in path.stem:
            module = importlib.import_module(f"tests.bench.{path.stem}")
            yield from (getattr(module, name) for name in sorted(vars(module)) if name.startswith("bench_"))


def main(words: Sequence[str]) -> int:
    """Run and print; 1 when something missed or nothing ran."""
    missed, ran = 0, 0
    for bench in benches(words[0] if words else ""):
        for result in bench():
            ran += 1
            missed += not result.passed
            print(f"{'pass' if result.passed else 'MISS'}  {result.line()}", flush=True)
    print(f"{ran} results, {missed} missed")
    return 1 if missed or not ran else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
