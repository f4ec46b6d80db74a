"""What is traced shines through what covers it, paler than where it lies open."""

import numpy as np
import pytest

from lessons.view import Camera, View
from meshes.body import Body
from viewer.palette import THEMES
from viewer.studio import Studio

SIZE = (320, 240)


@pytest.fixture(scope="module")
def pictures(alder: Body) -> dict[str, np.ndarray]:
    """From the left the wing of the hip bone covers the femoral nerve, from in front nothing does."""
    plain = View(camera=Camera("left"), labels=False)
    with Studio(alder, SIZE) as studio:
        return {
            name: np.asarray(studio.picture(view)).astype(int)
            for name, view in (
                ("none", plain),
                ("femoral", View(camera=Camera("left"), labels=False, highlighted=frozenset({"femoral_left"}))),
                ("other", View(camera=Camera("left"), labels=False, highlighted=frozenset({"rib_11_left"}))),
            )
        }


def towards(picture: np.ndarray, without: np.ndarray, colour: tuple[int, int, int]) -> np.ndarray:
    """Pixels that came nearer to a colour by a good deal."""
    target = np.array(colour)
    gain = np.linalg.norm(without - target, axis=2) - np.linalg.norm(picture - target, axis=2)
    out: np.ndarray = gain > 40.0
    return out


def test_a_covered_nerve_is_seen_and_does_not_hide_what_covers_it(pictures: dict[str, np.ndarray]) -> None:
    accent = THEMES["light"].accent
    shone = towards(pictures["femoral"], pictures["other"], accent)
    assert 60 < shone.sum() < 0.05 * shone.size
    solid = np.linalg.norm(pictures["femoral"] - np.array(accent), axis=2) < 12.0
    assert (shone & ~solid).sum() > 0.5 * shone.sum()


def test_nothing_shines_once_the_trace_ends(alder: Body, pictures: dict[str, np.ndarray]) -> None:
    with Studio(alder, SIZE) as studio:
        studio.picture(View(camera=Camera("left"), labels=False, highlighted=frozenset({"femoral_left"})))
        after = np.asarray(studio.picture(View(camera=Camera("left"), labels=False))).astype(int)
    assert np.abs(after - pictures["none"]).max() <= 2
