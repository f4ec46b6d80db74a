"""Every tolerance and rule limit of the rooms, each with its reason."""

from __future__ import annotations

#: Balls along a sweep stand this share of their radius apart: the scallops between them stay under 2 % of the radius.
BALL_SPACING = 0.35
#: Width of the distance band kept on each side of a surface, mm: wider than any fillet or gap that the tables ask for.
FIELD_BAND_MM = 8.0
