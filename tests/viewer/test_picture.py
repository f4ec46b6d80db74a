"""Pictures as files: right size, labelled, refused before drawing when they cannot be written."""

import os
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from lessons.view import LANGUAGES, THEMES, Camera, View
from meshes.body import Body
from meshes.errors import FurcalError
from tests.viewer.test_scene import differing
from viewer import picture, sheet
from viewer.overlay import Box, Spot, Stroke, Words, orientation_shapes, scale_shapes
from viewer.painter import text_width
from viewer.palette import THEMES as COLOURS
from viewer.picture import checked_target, save_picture
from viewer.studio import Studio

SMALL = (480, 270)
FRONT = View(camera=Camera("front"))


@pytest.mark.parametrize("theme", THEMES)
def test_a_picture_has_its_size_its_background_and_labels(tmp_path: Path, body: Body, theme: str) -> None:
    view = replace(FRONT, theme=theme)
    save_picture(body, view, tmp_path / "a.png", SMALL)
    save_picture(body, view, tmp_path / "b.png", SMALL, labels=False)
    save_picture(body, replace(view, labels=False), tmp_path / "c.png", SMALL)
    a, b, c = (np.asarray(Image.open(tmp_path / f"{n}.png").convert("RGB")) for n in "abc")
    assert a.shape == (270, 480, 3)
    assert tuple(a[60, 6]) == COLOURS[theme].background
    assert differing(b, c) == 0
    assert differing(a, b) > 500
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.png", "b.png", "c.png"]


def test_a_moved_camera_gives_another_picture_and_back_again_the_same(body: Body) -> None:
    """An off-screen window keeps its last picture until it is rendered again."""
    with Studio(body, SMALL) as studio:
        front = np.asarray(studio.picture(FRONT))
        side = np.asarray(studio.picture(replace(FRONT, camera=Camera("left"))))
        again = np.asarray(studio.picture(FRONT))
    assert differing(front, side) > 2000
    assert differing(front, again) == 0


def test_what_is_hidden_or_covered_has_no_label(body: Body) -> None:
    def named(view: View) -> set[str]:
        with Studio(body, (960, 540)) as studio:
            studio.picture(view)
            labels, _ = studio._labels(view, studio._eye(view, None), {})
            return {label.anchor.id for label in labels}

    front = named(replace(FRONT, dissection="vessels"))
    assert {"aorta", "psoas_major_right", "femoral_left"} <= front
    assert "dural_sac" not in front  # behind the vertebrae
    assert "aorta" not in named(FRONT)  # taken off
    assert "dural_sac" in named(replace(FRONT, camera=Camera("back")))
    assert named(replace(FRONT, dissection="skin")) == {"skin"}


@pytest.mark.parametrize("size", [(1920, 1080), (960, 540), SMALL, (500, 700)])
@pytest.mark.parametrize("language", LANGUAGES)
def test_no_words_lie_over_each_other_or_leave_the_picture(body: Body, size: tuple[int, int], language: str) -> None:
    """Every text has a ground of its own; the title strip, the mark, the scale and the caution have one each."""
    with Studio(body, size) as studio:
        for name in ("home", "back", "side_lying"):
            view = replace(FRONT, camera=Camera(name), language=language)
            studio.picture(view)
            marked = {"femoral_left": "touched", "obturator_left": "touched"}
            shapes = studio._overlay(view, studio._eye(view, None), marked)
            grounds = [s for s in shapes if isinstance(s, Box)]
            assert len(grounds) >= 4 + 4
            for a, b in combinations(grounds, 2):
                assert min(a.right, b.right) <= max(a.left, b.left) or min(a.bottom, b.bottom) <= max(a.top, b.top)
            for ground in grounds:
                assert ground.left >= 0.0
                assert ground.right <= studio.big[0]
                assert ground.top >= 0.0
                assert ground.bottom <= studio.big[1]
            said = " ".join(s.text for s in shapes if isinstance(s, Words))
            assert "..." not in said
            assert said.count("touched") == 2


def test_what_is_traced_is_named_however_much_else_there_is(body: Body, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("viewer.columns.MOST", 1)
    with Studio(body, (960, 540)) as studio:
        for name in ("obturator_right", "iliohypogastric_left"):
            view = replace(FRONT, highlighted=frozenset({name}))
            studio.picture(view)
            labels, _ = studio._labels(view, studio._eye(view, None), {})
            assert len(labels) == 2
            assert [label.anchor.id for label in labels if label.anchor.traced] == [name]


@pytest.mark.parametrize(
    ("name", "says"), [("a.jpg", "must end in .png"), ("a", "must end in .png"), ("none/a.png", "no such folder")]
)
def test_a_name_that_cannot_be_written_is_refused_before_drawing(
    tmp_path: Path, body: Body, name: str, says: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("viewer.studio.Studio.__init__", lambda *_: pytest.fail("drawn before the name was checked"))
    with pytest.raises(FurcalError, match=says):
        save_picture(body, FRONT, tmp_path / name)


def test_a_folder_without_permission_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "folder.png").mkdir()
    with pytest.raises(FurcalError, match="is a folder"):
        checked_target(tmp_path / "folder.png")
    monkeypatch.setattr(os, "access", lambda *_: False)
    with pytest.raises(FurcalError, match="cannot be written"):
        checked_target(tmp_path / "a.png")


def test_a_disk_that_fills_up_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*args: object, **kwargs: object) -> None:
        (tmp_path / ".a.png.part").write_bytes(b"half")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Image.Image, "save", full)
    with pytest.raises(FurcalError, match="No space left"):
        picture.write_png(Image.new("RGB", (4, 4)), tmp_path / "a.png")
    assert list(tmp_path.iterdir()) == []


def test_the_sheet_shows_every_view_at_three_depths_and_is_small(tmp_path: Path, body: Body) -> None:
    views = list(sheet.sheet_views())
    assert len({(v.camera.name, v.dissection) for v in views}) == 18
    views_without_portal = [replace(v, portal=None) for v in views]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sheet, "TILE", (96, 100))
        patch.setattr(sheet, "sheet_views", lambda *_: views_without_portal)
        patch.setattr("meshes.contact.Ready.of", staticmethod(lambda *_: None))
        path = sheet.save_sheet(body, tmp_path / "new" / "folder")
    image = Image.open(path)
    assert image.size == (6 * 98, 3 * 122 + 20)
    assert path.stat().st_size <= sheet.LARGEST_BYTES
    pixels = np.asarray(image.convert("RGB"))
    tiles = [pixels[y : y + 100, x : x + 96] for y in (20, 142, 264) for x in range(0, 588, 98)]
    assert min(differing(t, np.full_like(t, t[30, 2])) for t in tiles) > 100


def test_a_sheet_that_cannot_be_written_is_refused(tmp_path: Path, body: Body) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(FurcalError, match="cannot be made"):
        sheet.save_sheet(body, tmp_path / "file" / "folder")


def words(shapes: list[Box | Spot | Stroke | Words]) -> dict[str, Words]:
    return {s.text: s for s in shapes if isinstance(s, Words)}


@pytest.mark.parametrize(
    ("name", "arrows"),
    [
        ("front", {"Head": (0, -1), "Left": (1, 0), "Front": None}),
        ("back", {"Head": (0, -1), "Left": (-1, 0), "Back": None}),
        ("left", {"Head": (0, -1), "Front": (-1, 0), "Left": None}),
        ("right", {"Head": (0, -1), "Front": (1, 0), "Right": None}),
        ("side_lying", {"Head": (1, 0), "Front, left": (0, -1)}),
    ],
)
def test_the_orientation_mark_tells_the_truth(body: Body, name: str, arrows: dict[str, tuple[int, int] | None]) -> None:
    from viewer.cameras import eye_of, region_of

    eye = eye_of(Camera(name), region_of(body.surfaces), 1.5)
    found = words(orientation_shapes(eye, (100.0, 100.0), 40.0, COLOURS["light"], 20.0, text_width))
    assert set(found) == set(arrows)
    for word, way in arrows.items():
        if way is not None:
            offset = np.array([found[word].x - 100.0, found[word].y - 100.0])
            assert offset @ np.array(way) > 20.0
            assert abs(offset @ np.array([way[1], way[0]])) < 10.0


@pytest.mark.parametrize("text", [9.0, 30.0, 60.0])
@pytest.mark.parametrize("share", [1.6, 2.2, 2.6])
def test_the_panel_of_the_orientation_mark_holds_its_words_however_one_looks(share: float, text: float) -> None:
    from viewer.cameras import Eye

    centre, reach, rng = ((3.4 + share) * text, 20.0 * text), share * text, np.random.default_rng(5)
    for position, up in rng.normal(size=(60, 2, 3)):
        eye = Eye(position, np.zeros(3), up, 100.0)
        shapes = orientation_shapes(eye, centre, reach, COLOURS["light"], text, text_width)
        panel = next(s for s in shapes if isinstance(s, Box))
        for word in words(shapes).values():
            start = word.x - {"left": 0.0, "centre": 0.5, "right": 1.0}[word.align] * text_width(word.text, word.height)
            end = start + text_width(word.text, word.height)
            assert max(0.0, panel.left) <= start
            assert end <= panel.right
            assert panel.top <= word.y - 0.5 * word.height
            assert word.y + 0.5 * word.height <= panel.bottom + 1e-9
        assert panel.bottom <= centre[1] + 1.4 * text + 1e-9


def test_the_scale_bar_is_as_long_as_it_says(body: Body) -> None:
    from viewer.cameras import eye_of, projected, region_of

    eye = eye_of(Camera("front"), region_of(body.surfaces), 1.5)
    shapes = scale_shapes(eye, 900.0, 500.0, 540, COLOURS["light"], 14.0)
    line = next(s for s in shapes if isinstance(s, Stroke))
    length_mm = float(next(iter(words(shapes))).removesuffix(" mm"))
    ends = projected(np.array([[0.0, 0.0, 0.0], [length_mm, 0.0, 0.0]]), eye, (960, 540))
    assert line.points[2][0] - line.points[1][0] == pytest.approx(abs(ends[1, 0] - ends[0, 0]))
    flat = eye_of(Camera("front", parallel=False), region_of(body.surfaces), 1.5)
    assert scale_shapes(flat, 900.0, 500.0, 540, COLOURS["light"], 14.0) == []
