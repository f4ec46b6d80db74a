"""Figures that the average adult is known to miss, by id, each with the reason. They are told by `furcal measure`."""

DISAGREEMENTS: dict[str, str] = {}
