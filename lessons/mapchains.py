"""Lines of the body map: smooth curves, closed chains, what lies inside, and the strokes that fill what they share.

A chain is a list of points (x, y) in drawing units; y runs down. The drawing has a few hundred points: plain Python.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

XY = tuple[float, float]
Chain = list[XY]
Span = tuple[XY, XY, XY, XY]
#: Straight pieces that one span of a curve is flattened to.
STEPS = 8
#: How far strokes lie beside whole multiples of their gap: a level that meets a vertex would be counted twice.
_BESIDE = 0.031


def spans(points: Sequence[XY], closed: bool = False) -> list[Span]:
    """Uniform Catmull-Rom through `points` as cubic Bezier spans (start, control, control, end).

    The tangent at a point is half the chord of its neighbours (Catmull and Rom 1974), so the controls lie a sixth of
    that chord away. A point written twice has a span of no length between its copies and is therefore a corner.
    """
    count = len(points)
    found: list[Span] = []
    for i in range(count if closed else count - 1):
        p0, p1, p2, p3 = (_at(points, i + k, closed) for k in (-1, 0, 1, 2))
        out = (p1[0] + (p2[0] - p0[0]) / 6.0, p1[1] + (p2[1] - p0[1]) / 6.0)
        back = (p2[0] - (p3[0] - p1[0]) / 6.0, p2[1] - (p3[1] - p1[1]) / 6.0)
        if p1 != p2:
            found.append((p1, out, back, p2))
    return found


def _at(points: Sequence[XY], i: int, closed: bool) -> XY:
    return points[i % len(points)] if closed else points[max(0, min(i, len(points) - 1))]


def flat(points: Sequence[XY], closed: bool = False) -> Chain:
    """The curve through `points` as a chain of short straight pieces; ends at the last point when open."""
    chain: Chain = []
    for a, b, c, d in spans(points, closed):
        for k in range(STEPS):
            t = k / STEPS
            w = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
            x = w[0] * a[0] + w[1] * b[0] + w[2] * c[0] + w[3] * d[0]
            chain.append((x, w[0] * a[1] + w[1] * b[1] + w[2] * c[1] + w[3] * d[1]))
    return chain if closed else [*chain, points[-1]]


def nearest(chain: Chain, point: XY) -> int:
    """Index of the point of `chain` nearest to `point`."""
    return min(range(len(chain)), key=lambda i: math.dist(chain[i], point))


def along(chain: Chain, start: XY, end: XY) -> Chain:
    """The stretch of an open chain between its points nearest to `start` and to `end`, in that order."""
    i, j = nearest(chain, start), nearest(chain, end)
    return chain[i : j + 1] if i <= j else chain[j : i + 1][::-1]


def joined(stretches: Sequence[tuple[bool, Chain]]) -> Chain:
    """A closed chain of stretches in order: fixed ones (True) as they are, free ones as a smooth curve between those.

    Without a fixed stretch the whole is one smooth closed curve.
    """
    if not any(fixed for fixed, _ in stretches):
        return flat([p for _, chain in stretches for p in chain], closed=True)
    first = next(i for i, (fixed, _) in enumerate(stretches) if fixed)
    runs: list[tuple[bool, Chain]] = []
    for fixed, chain in [*stretches[first:], *stretches[:first]]:
        if runs and not fixed and not runs[-1][0]:
            runs[-1][1].extend(chain)
        else:
            runs.append((fixed, list(chain)))
    closed: Chain = []
    for k, (fixed, chain) in enumerate(runs):
        before, after = runs[k - 1][1][-1], runs[(k + 1) % len(runs)][1][0]
        closed += chain if fixed else flat([before, *chain, after])[1:-1]
    return closed


def inside(chain: Chain, point: XY) -> bool:
    """Whether `point` lies in the closed chain (even-odd)."""
    odd = False
    for (ax, ay), (bx, by) in zip(chain, chain[1:] + chain[:1], strict=True):
        if (ay > point[1]) != (by > point[1]) and point[0] < ax + (point[1] - ay) * (bx - ax) / (by - ay):
            odd = not odd
    return odd


def crossings(chain: Chain, heights: Sequence[float], level: float) -> list[float]:
    """Where the closed chain passes a level: x of each crossing; `heights` holds one number a point of the chain."""
    found = []
    for i, (x, _) in enumerate(chain):
        j = (i + 1) % len(chain)
        a, b = heights[i], heights[j]
        if (a > level) != (b > level):
            found.append(x + (level - a) * (chain[j][0] - x) / (b - a))
    return found


def strokes(chains: Sequence[Chain], gap: float, slope: int) -> list[tuple[XY, XY]]:
    """Parallel strokes in what all closed `chains` share; slope 1 falls to the right, -1 rises, 0 lies level."""
    heights = [[y - slope * x for x, y in chain] for chain in chains]
    low, high = max(min(h) for h in heights), min(max(h) for h in heights)
    found = []
    for k in range(math.ceil(low / gap), math.floor(high / gap) + 1):
        level = (k + _BESIDE) * gap
        cuts = [crossings(chain, h, level) for chain, h in zip(chains, heights, strict=True)]
        for a, b in itertools.pairwise(sorted({x for cut in cuts for x in cut})):
            if all(sum(x < (a + b) / 2.0 for x in cut) % 2 for cut in cuts):
                found.append(((a, level + slope * a), (b, level + slope * b)))
    return found


def centre(chain: Chain) -> XY:
    """A point in the closed chain, near its middle: the middle of its longest level stretch, near half height."""
    ys = [y for _, y in chain]
    best = (0.0, chain[0])
    for k in range(1, 24):
        y = min(ys) + (max(ys) - min(ys)) * k / 24.0
        xs = sorted(crossings(chain, ys, y))
        for a, b in zip(xs[::2], xs[1::2], strict=False):
            best = max(best, ((b - a) * (1.0 - abs(k - 12) / 16.0), ((a + b) / 2.0, y)))
    return best[1]
