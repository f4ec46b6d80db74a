"""What is said about a response."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Verdict:
    """right: whether it counts as known;  score: 0..1, for kinds that are right in part;  says: one sentence"""

    right: bool
    score: float
    says: str
