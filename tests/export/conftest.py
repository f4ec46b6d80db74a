"""One page of a lesson and one browser for every test that reads it: both take long to make."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.export.page_course import course, written
from tests.export.page_driver import Page, browser


@pytest.fixture(scope="session")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of the small lesson."""
    folder = tmp_path_factory.mktemp("course")
    return written(course(folder), folder / "page.html")


@pytest.fixture(scope="session")
def page() -> Iterator[Page]:
    """A browser; every test opens in it what it reads."""
    with browser() as opened:
        yield opened
