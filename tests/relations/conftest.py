"""The average adult, one side at a time."""

import pytest

from meshes.body import Body
from meshes.structures import SIDES
from tests.relations.geometry import Side


@pytest.fixture(scope="session", params=SIDES)
def side(request: pytest.FixtureRequest, alder: Body) -> Side:
    return Side(alder, request.param)


@pytest.fixture(scope="session", params=SIDES)
def larch_side(request: pytest.FixtureRequest, larch: Body) -> Side:
    return Side(larch, request.param)
