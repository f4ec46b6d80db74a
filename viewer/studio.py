"""Draws pictures without a screen: one scene, as many views as wanted."""

from __future__ import annotations

from collections.abc import Mapping
from types import TracebackType

from PIL import Image

from lessons.caution import CAUTION
from lessons.view import View
from meshes.body import Body
from meshes.contact import Docking
from meshes.portal import Portal
from viewer.cameras import Eye, eye_of, moved
from viewer.columns import Label, column_width, columns_beside, lay_out
from viewer.display import prepare_offscreen
from viewer.labels import one_of_each_pair
from viewer.overlay import (
    Shape,
    caution_shapes,
    label_shapes,
    orientation_shapes,
    scale_shapes,
    span_shapes,
    strip_shapes,
)
from viewer.painter import paint, text_width
from viewer.palette import THEMES
from viewer.picture import FILL, NARROW, OVERSIZE, TEXT, TILE_FILL, TILE_TEXT, TILE_UP, notes_of, title_of


class Studio:
    """An off-screen window with one body in it; close it, or use it in a `with`.

    size : width and height of its pictures, pixels
    tile : they are tiles of a sheet: larger words, and only the title and what is needed to find one's way
    text : height of the words, as a share of the height of a picture that is no tile
    """

    def __init__(self, body: Body, size: tuple[int, int], tile: bool = False, text: float = TEXT) -> None:
        prepare_offscreen()
        import vtkmodules.vtkRenderingOpenGL2  # noqa: F401  (registers how to draw)
        from vtkmodules.vtkRenderingCore import vtkRenderer, vtkRenderWindow

        from viewer.scene import Scene

        self.body, self.size, self.tile, self.text = body, size, tile, text
        self.big = (size[0] * OVERSIZE, size[1] * OVERSIZE)
        self.window = vtkRenderWindow()
        self.window.SetOffScreenRendering(True)
        self.window.SetMultiSamples(0)
        self.window.SetSize(*self.big)
        self.renderer = vtkRenderer()
        self.window.AddRenderer(self.renderer)
        self.scene = Scene(self.renderer, body)
        self.renderer.SetUseFXAA(False)

    def __enter__(self) -> Studio:
        return self

    def __exit__(self, kind: type[BaseException] | None, value: object, trace: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Give the drawing memory back."""
        self.window.Finalize()

    def picture(self, view: View, docking: Docking | None = None) -> Image.Image:
        """One view as an RGB picture."""
        from viewer.portalparts import marks_of

        marks = marks_of(docking)
        self.scene.show(view, marks)
        eye = self._eye(view, marks.portal if marks else None)
        self.scene.look_from(eye)
        self.window.Render()
        image = self._pixels()
        paint(image, self._overlay(view, eye, marks.words if marks else {}))
        return image.resize(self.size, Image.Resampling.LANCZOS)

    def _eye(self, view: View, portal: Portal | None) -> Eye:
        room = self.size[0] - (2.0 * self._column / OVERSIZE if view.labels else 0.0)
        side = view.portal.side if view.portal else self.body.specimen.up or "left"
        fill = TILE_FILL if self.tile else FILL
        eye = eye_of(view.camera, self.scene.region_for(view.camera), room / self.size[1], side, portal, fill)
        return moved(eye, 0.0, -2.0 * TILE_UP * eye.half_height_mm) if self.tile else eye

    @property
    def _text(self) -> float:
        return self.big[1] * TILE_TEXT if self.tile else min(self.big[1], NARROW * self.big[0]) * self.text

    @property
    def _column(self) -> float:
        return column_width(self.big[0], self._text)

    def _pixels(self) -> Image.Image:
        from vtkmodules.util.numpy_support import vtk_to_numpy
        from vtkmodules.vtkRenderingCore import vtkWindowToImageFilter

        grab = vtkWindowToImageFilter()
        grab.SetInput(self.window)
        grab.ReadFrontBufferOff()
        grab.ShouldRerenderOff()
        grab.Update()
        rows = vtk_to_numpy(grab.GetOutput().GetPointData().GetScalars()).reshape(self.big[1], self.big[0], 3)
        return Image.fromarray(rows[::-1].copy())

    def _overlay(self, view: View, eye: Eye, marked: Mapping[str, str]) -> list[Shape]:
        theme, text = THEMES[view.theme], self._text
        width, height = self.big
        shapes: list[Shape] = []
        if view.labels:
            labels, letters = self._labels(view, eye, marked)
            shapes += label_shapes(labels, theme, letters, text_width)
        reach = (1.6 if self.tile else 2.6) * text
        corner = (3.4 * text + reach, height - (1.6 if self.tile else 5.0) * text)
        shapes += orientation_shapes(eye, corner, reach, theme, text, text_width)
        shapes += scale_shapes(
            eye, width - 1.5 * text, height - (1.0 if self.tile else 2.2) * text, height, theme, text
        )
        shapes += span_shapes(view.measured, eye, self.big, theme, text, text_width)
        notes = [] if self.tile else notes_of(self.body, view)
        shapes += strip_shapes(self.big, title_of(view), notes, theme, text)
        if not self.tile:
            shapes += caution_shapes(self.big, CAUTION, theme, text)
        return shapes

    def _labels(self, view: View, eye: Eye, marked: Mapping[str, str]) -> tuple[list[Label], float]:
        """The labels of the picture drawn last, and the height of their letters."""
        from viewer.seen import anchors, drawn_between, drawn_depth

        text = self._text
        width, height = self.big
        depth = drawn_depth(self.window, self.renderer)
        share = self._column / width
        scene, between = self.scene, (share, 1.0 - share)
        found = anchors(
            scene.looks, self.body, eye, depth, view, marked, between=between, holds=scene.holds, bore=scene.bore
        )
        low, high = drawn_between(depth)
        bottoms = (height - 9.6 * text, height - 4.4 * text)
        columns = columns_beside(width, 2.5 * text, bottoms, text, (low * width, high * width))
        return lay_out(one_of_each_pair(found, self.body.structures), columns, text_width)
