"""Spot tests: items, their marking, when to ask again, papers, results, and what a group does not know."""
