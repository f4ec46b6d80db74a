"""Bodies that tests of several rooms share, built once; and how hypothesis works here.

No test asks how long something takes, so that no example has a deadline; every run tries the same examples, so that a
change is what makes a test fail. `--hypothesis-profile=search` tries others, more of them, at random.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from meshes.body import Body, load_body
from meshes.specimen import ALDER, Specimen
from meshes.structures import SIDES

settings.register_profile("same", deadline=None, derandomize=True)
settings.register_profile("search", deadline=None, max_examples=1000, print_blob=True)
settings.load_profile("same")


@pytest.fixture(scope="session", autouse=True)
def record_of_nobody(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """No test ever writes into the record of whoever runs it."""
    with pytest.MonkeyPatch.context() as patch:
        path = tmp_path_factory.mktemp("record") / "record.sqlite"
        patch.setenv("FURCAL_RECORD", str(path))
        yield path


@pytest.fixture(scope="session")
def alder() -> Body:
    """The average adult, lying on the side on a flat table."""
    return load_body(ALDER)


@pytest.fixture(scope="session")
def larch() -> Body:
    """The average adult with an accessory obturator nerve on both sides."""
    variants = frozenset(f"accessory_obturator_{side}" for side in SIDES)
    return load_body(Specimen(name="Larch", variants=variants))
