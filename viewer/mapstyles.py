"""The colours of the body map: its ground, and the paint of each area, that of its nerve or root."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from lessons.bodymap import Ground, Style
from lessons.maptable import drawing
from viewer.palette import BY_NERVE, BY_ROOT, OKABE_ITO, RGB, Paint, Theme, contrast, rgb_hex

#: Skin nerves that the body does not show, and so has no paint for.
BESIDE: Mapping[str, Paint] = {
    "dorsal_rami": Paint(OKABE_ITO["yellow"]),
    "sacral_plexus": Paint(OKABE_ITO["reddish_purple"], "banded"),
}
#: Contrast of an edge with the skin. WCAG 2.2 (criterion 1.4.11) asks for 3; a thin line seen from the back row, more.
SEEN = 4.5


def ground_of(theme: Theme) -> Ground:
    """The drawing's own colours in a theme."""
    dark = contrast(theme.text, (0, 0, 0)) > contrast(theme.text, (255, 255, 255))
    page, skin, ink, fine = (rgb_hex(c) for c in (theme.background, theme.panel, theme.text, theme.line))
    return Ground(page, skin, line=ink, fine=fine, text=ink, fill=0.7 if dark else 0.5)


def edge_of(paint: RGB, theme: Theme) -> RGB:
    """The colour, moved towards that of the text until it stands out from the skin."""
    shade = paint
    for tenth in range(11):
        shade = _between(paint, theme.text, tenth / 10.0)
        if contrast(shade, theme.panel) >= SEEN:
            break
    return shade


def _between(a: RGB, b: RGB, share: float) -> RGB:
    red, green, blue = (round(x + share * (y - x)) for x, y in zip(a, b, strict=True))
    return red, green, blue


def styles(ids: Iterable[str], theme: Theme, layer: str = "nerves", uncertain: Iterable[str] = ()) -> dict[str, Style]:
    """The paint of each area: that of its nerve or root. uncertain: those only partly lost. Unknown ids are kept."""
    areas, partly = drawing().layers.get(layer, {}), set(uncertain)
    found = {}
    for i in ids:
        patch = areas.get(i)
        key = i if patch is None or not patch.nerve else patch.nerve
        paint = {**BY_NERVE, **BY_ROOT, **BESIDE}.get(key, Paint(OKABE_ITO["grey"]))
        edge = rgb_hex(edge_of(paint.colour, theme))
        found[i] = Style(rgb_hex(paint.colour), edge, paint.style == "banded", i in partly)
    return found
