"""The tests, room by room. A package, so that no `tests` of an installed library takes its place."""
