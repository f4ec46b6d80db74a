"""One made-up body and a small off-screen renderer for the tests of drawing."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from lessons.view import View
from meshes.body import Body
from tests.viewer.synthetic import synthetic_body

Pixels = NDArray[np.uint8]


@pytest.fixture(scope="session")
def body() -> Body:
    return synthetic_body()


@dataclass
class Bench:
    """A scene in a small window; `shot` draws a view and reads its pixels (height, width, 3)."""

    scene: Any
    window: Any
    shot: Callable[[View], Pixels]


@pytest.fixture
def bench(body: Body) -> Iterator[Bench]:
    from viewer.studio import Studio

    with Studio(body, (80, 60)) as studio:

        def shot(view: View) -> Pixels:
            studio.scene.show(view)
            studio.scene.look_from(studio._eye(view, None))
            studio.window.Render()
            return np.asarray(studio._pixels())

        yield Bench(studio.scene, studio.window, shot)
