"""Bodies that tests of several rooms share, built once."""

import pytest

from meshes.body import Body, load_body
from meshes.specimen import ALDER, Specimen
from meshes.structures import SIDES


@pytest.fixture(scope="session")
def alder() -> Body:
    """The average adult, lying on the side on a flat table."""
    return load_body(ALDER)


@pytest.fixture(scope="session")
def larch() -> Body:
    """The average adult with an accessory obturator nerve on both sides."""
    variants = frozenset(f"accessory_obturator_{side}" for side in SIDES)
    return load_body(Specimen(name="Larch", variants=variants))
