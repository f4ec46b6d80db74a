"""The body map as SVG: well formed for any choice, left the mirror image of right, one layer a picture."""

from __future__ import annotations

import math
import re
import shutil
import xml.etree.ElementTree as ET
from collections import Counter
from collections.abc import Callable, Iterable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lessons.bodymap import CAUTION, Ground, Style, body_map, body_map_shape, described, patches_of
from lessons.maptable import LAYERS, drawing, read_drawing
from meshes.errors import FurcalError
from meshes.structures import SIDES
from meshes.supply import supply
from meshes.tables import ANATOMY
from viewer.mapstyles import BESIDE, ground_of, styles
from viewer.palette import BY_NERVE, THEMES, contrast, hex_rgb

GROUND = Ground("#eeeeee", "#ffffff", "#101010", "#707070", "#202020", 0.5)
AREAS = drawing().layers
LIT = Style("#d55e00", "#8a3d00")
SVG = "{http://www.w3.org/2000/svg}"
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def picture(lit: Iterable[str], sides: Iterable[str] = ("left",), **how: object) -> ET.Element:
    """The picture, parsed; all areas are lit alike unless `lit` says how."""
    chosen = lit if isinstance(lit, dict) else dict.fromkeys(lit, LIT)
    return ET.fromstring(body_map(chosen, sides, ground=GROUND, **how))  # type: ignore[arg-type]


def spots(element: ET.Element) -> list[tuple[float, float]]:
    """Points of a path, in order."""
    values = [float(v) for v in NUMBER.findall(element.get("d", ""))]
    return list(zip(values[::2], values[1::2], strict=True))


def paths(svg: ET.Element, **having: str) -> list[ET.Element]:
    """Paths that have these attributes."""
    return [e for e in svg.iter(f"{SVG}path") if all(e.get(k.replace("_", "-")) == v for k, v in having.items())]


def texts(svg: ET.Element) -> list[str]:
    return [e.text or "" for e in svg.iter(f"{SVG}text")]


# --- any choice


@settings(max_examples=60)
@given(st.data())
def test_the_shape_is_told_without_drawing_as_it_is_drawn(data: st.DataObject) -> None:
    layer = data.draw(st.sampled_from(list(LAYERS)))
    lit = data.draw(st.lists(st.sampled_from(list(AREAS[layer])), unique=True, max_size=9))
    hatched, sides = data.draw(st.booleans()), data.draw(st.lists(st.sampled_from(SIDES), unique=True))
    worn = dict.fromkeys(lit, Style(LIT.colour, LIT.edge, hatched=hatched))
    names, width_px = data.draw(st.booleans()), data.draw(st.floats(40.0, 4000.0))
    svg = picture(worn, sides, layer=layer, names=names, width_px=width_px)
    _, _, width, height = (float(v) for v in str(svg.get("viewBox")).split())
    shape = body_map_shape(worn, sides, ground=GROUND, layer=layer, names=names, width_px=width_px)
    assert shape * width == pytest.approx(height, abs=0.0501)  # the height is written with one digit


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_any_choice_gives_a_well_formed_picture_within_its_page(data: st.DataObject) -> None:
    layer = data.draw(st.sampled_from(list(LAYERS)))
    lit = data.draw(st.lists(st.sampled_from(list(AREAS[layer])), unique=True, max_size=9))
    banded, hatched = data.draw(st.booleans()), data.draw(st.booleans())
    svg = picture(
        dict.fromkeys(lit, Style("#0072b2", "#004466", banded, hatched)),
        data.draw(st.lists(st.sampled_from(SIDES), unique=True)),
        layer=layer,
        names=data.draw(st.booleans()),
        width_px=data.draw(st.floats(40.0, 4000.0)),
    )
    assert svg.tag == f"{SVG}svg"
    left, top, width, height = (float(v) for v in str(svg.get("viewBox")).split())
    for path in svg.iter(f"{SVG}path"):
        assert path.get("d")
        for x, y in spots(path):
            assert left <= x <= left + width
            assert top <= y <= top + height
    for word in svg.iter(f"{SVG}text"):
        assert word.text
        assert left <= float(word.get("x", "nan")) <= left + width
        assert top <= float(word.get("y", "nan")) <= top + height - 0.2 * float(word.get("font-size", "nan"))


@settings(max_examples=30, deadline=None)
@given(lit=st.sets(st.sampled_from(sorted(AREAS["nerves"]))), sides=st.sets(st.sampled_from(SIDES)))
def test_each_lit_piece_is_drawn_once_a_side_and_view(lit: set[str], sides: set[str]) -> None:
    filled = {i for i in lit if not AREAS["nerves"][i].variable}
    pieces = sum(len(chains) for i in filled for chains in AREAS["nerves"][i].pieces.values())
    svg = picture(lit, sides)
    assert len(paths(svg, fill=LIT.colour)) == pieces * len(sides)
    dashed = sum(len(chains) for i in lit - filled for chains in AREAS["nerves"][i].pieces.values())
    assert sum("stroke-dasharray" in e.attrib for e in svg.iter(f"{SVG}path")) == dashed * len(sides)


@pytest.mark.parametrize("layer", LAYERS)
def test_the_right_is_the_mirror_image_of_the_left(layer: str) -> None:
    front, back, one, other = (figure.at for figure in drawing().figures)
    middles = (2.0 * front, 2.0 * back, one + other)
    left, right = (
        [spots(e) for e in paths(picture(list(AREAS[layer]), [side], layer=layer), fill=LIT.colour)] for side in SIDES
    )
    assert len(left) == len(right) > 10
    for chain in left:
        assert not any(same(chain, other) for other in right)
        mirrored = [[(middle - x, y) for x, y in chain] for middle in middles]
        assert sum(same(m, other) for m in mirrored for other in right) == 1


def same(one: list[tuple[float, float]], other: list[tuple[float, float]]) -> bool:
    """Whether two chains are one, as far as two written digits tell."""
    return len(one) == len(other) and all(
        abs(a[0] - b[0]) < 0.02 and abs(a[1] - b[1]) < 0.02 for a, b in zip(one, other, strict=True)
    )


def test_in_front_the_bodys_left_is_to_the_readers_right_and_behind_to_the_left() -> None:
    front, back = drawing().figures[:2]
    svg = picture(["lfcn_posterior"], ["left"])
    middles = [sum(x for x, _ in spots(e)) / len(spots(e)) for e in paths(svg, fill=LIT.colour)]
    assert sum(front.at < x < front.at + 20.0 for x in middles) == 1
    assert sum(back.at - 20.0 < x < back.at for x in middles) == 1
    for figure, sign in ((front, 1.0), (back, -1.0)):
        assert sign * figure.marks["L"][0] > 0.0 > sign * figure.marks["R"][0]


# --- cues


def test_a_variable_area_is_hatched_and_never_filled() -> None:
    svg = picture(["obturator"])
    assert not paths(svg, fill=LIT.colour)
    assert all(e.get("stroke") == LIT.edge for e in svg.iter(f"{SVG}path") if "stroke-dasharray" in e.attrib)
    assert any("varies" in text for text in texts(svg))


def test_a_loss_in_part_is_hatched_when_told() -> None:
    svg = picture({"saphenous": Style(LIT.colour, LIT.edge, hatched=True)})
    assert not paths(svg, fill=LIT.colour)
    assert any("stroke-dasharray" in e.attrib for e in svg.iter(f"{SVG}path"))


def test_only_an_overlap_of_two_nerves_is_marked_as_one() -> None:
    def overlap(*lit: str) -> bool:
        svg = picture(lit)
        strokes = paths(svg, stroke=GROUND.text, stroke_width="0.20")
        told = any("overlap." in text and "Rising" in text for text in texts(svg))
        assert told == bool(strokes)
        return told

    assert overlap("ilioinguinal", "genitofemoral_genital")
    assert not overlap("ilioinguinal", "saphenous")  # apart
    assert not overlap("femoral_medial", "femoral_intermediate")  # one nerve


def test_bands_tell_two_nerves_of_one_colour_apart() -> None:
    plain, banded = (picture({"saphenous": Style(LIT.colour, LIT.edge, banded)}) for banded in (False, True))
    assert len(paths(banded, stroke=LIT.edge)) > len(paths(plain, stroke=LIT.edge))


def test_a_narrow_picture_keeps_sides_and_titles_and_thickens_its_lines() -> None:
    small, large = (picture(["saphenous"], width_px=w) for w in (260.0, 1600.0))
    letters = {"L", "R", "Front", "Back", "Left side", "Right side"}
    assert set(texts(small)) == letters
    assert letters < set(texts(large))
    assert CAUTION["nerves"] in texts(large)
    for svg, width in ((small, 260.0), (large, 1600.0)):
        scale = width / float(str(svg.get("viewBox")).split()[2])
        assert min(float(e.get("font-size", "0")) for e in svg.iter(f"{SVG}text")) * scale > 9.0
        assert min(float(e.get("stroke-width", "9")) for e in paths(svg, stroke=GROUND.line)) * scale > 1.4


@pytest.mark.parametrize("layer", LAYERS)
def test_names_are_told_beside_every_figure_and_in_the_key(layer: str) -> None:
    svg = picture(list(AREAS[layer]), layer=layer, names=True, width_px=1600.0)
    said = Counter(texts(svg))
    for k, patch in enumerate(AREAS[layer].values(), start=1):
        label = patch.name if layer == "dermatomes" else str(k)
        assert said[label] == sum(len(chains) for chains in patch.pieces.values())
        in_key = [text for text in said if text.startswith(f"{k}  {patch.name}")]
        assert len(in_key) == (layer == "nerves")


def test_the_description_names_what_is_lit_and_repeats_the_caution() -> None:
    svg = picture(["obturator", "saphenous"], ["right"])
    told = svg.findtext(f"{SVG}desc", "")
    assert told.startswith("Skin of nerves, right. Obturator (variable): ")
    assert "Saphenous: " in told
    assert CAUTION["nerves"] in told
    assert described([], ["left"]) == "No skin is marked."
    assert described(["L4"], SIDES, "dermatomes").startswith("Dermatomes, left and right. L4: ")


# --- refusals


@pytest.mark.parametrize(
    ("lit", "sides", "layer", "named"),
    [
        (["L4"], ["left"], "nerves", "one layer a picture, and 'L4' is of dermatomes"),
        (["obturator"], ["left"], "dermatomes", "one layer a picture, and 'obturator' is of nerves"),
        (["saphenous", "L4"], ["left"], "nerves", "'L4' is of dermatomes"),
        (["saphenus"], ["left"], "nerves", "unknown skin patch 'saphenus'. Nearest: saphenous"),
        (["L7"], ["left"], "dermatomes", "unknown dermatome 'L7'. Legal: T12, L1"),
        (["saphenous"], ["lft"], "nerves", "unknown side 'lft'. Nearest: left"),
        (["saphenous"], "both", "nerves", "unknown side 'both'"),
        (["saphenous"], ["left"], "nerve", "unknown layer 'nerve'. Nearest: nerves"),
    ],
)
def test_what_is_not_of_the_map_is_refused_in_one_sentence(
    lit: list[str], sides: Iterable[str], layer: str, named: str
) -> None:
    worn = dict.fromkeys(lit, LIT)
    for ask in (
        lambda: picture(lit, sides, layer=layer),
        lambda: described(lit, sides, layer),
        lambda: body_map_shape(worn, sides, ground=GROUND, layer=layer),
    ):
        with pytest.raises(FurcalError) as caught:
            ask()
        assert named in str(caught.value)
        assert "\n" not in str(caught.value)


@pytest.mark.parametrize("width", [0.0, -3.0, 39.0, float("nan"), float("inf")])
def test_a_width_that_cannot_be_drawn_is_refused(width: float) -> None:
    for ask in (
        picture,
        lambda lit, width_px: body_map_shape(dict.fromkeys(lit, LIT), [], ground=GROUND, width_px=width_px),
    ):
        with pytest.raises(FurcalError, match=r"body map: a width of .* it starts at 40"):
            ask([], width_px=width)


def test_a_colour_is_written_as_one() -> None:
    with pytest.raises(ValueError, match="no colour"):
        Style("red", "#000000")
    with pytest.raises(ValueError, match="no colour"):
        Ground("#eeeeee", "#ffffff", '"/>', "#707070", "#202020", 0.5)


# --- the tables


Mistake = tuple[str, str, str]
MISTAKES: dict[str, tuple[Mistake, tuple[str, ...]]] = {
    "point": (
        ("patches.toml", 'at = "crest_top"', 'at = "crest_tip"'),
        ("[patch.subcostal_lateral], seen.outer, vertex 1", "'crest_tip'. Nearest: crest_top"),
    ),
    "view": (("patches.toml", "\nouter = [", "\nabove = ["), ("seen.above", "unknown view 'above'")),
    "share": (("patches.toml", "share = 0.48", 'share = "half"'), ("share", "expected a number, found 'half'")),
    "no share": (("patches.toml", "share = 0.48", "dx = 0.48"), ("seen.front, vertex 1", "'share' is missing")),
    "edge": (
        ("patches.toml", 'edge = [{ at = "crest_top", dy = 0.6 }, ', "edge = ["),
        ("seen.front, vertex 2", "`edge` takes two vertices"),
    ),
    "source": (("patches.toml", 'source = "judgement"', 'source = "hearsay"'), ("unknown source 'hearsay'",)),
    "no source": (("patches.toml", 'source = "judgement"', ""), ("[patch.subcostal_lateral]", "'source' is missing")),
    "key": (("patches.toml", "\nvariable = true", "\nvaries = true"), ("[patch.obturator]", "unknown key 'varies'")),
    "flag": (("patches.toml", "\nvariable = true", '\nvariable = "yes"'), ("variable", "expected true or false")),
    "key point": (("patches.toml", "[key.L4]", "[key.L6]"), ("[key.L6]", "unknown dermatome 'L6'")),
    "outline": (("outline.toml", "[13.1, -4.0]", "[13.1]"), ("[view.front], outline", "expected 2 numbers")),
    "side": (("outline.toml", 'side = "right"', 'side = "rihgt"'), ("draws 1", "unknown side 'rihgt'. Nearest: right")),
    "figure": (("outline.toml", 'view = "inner"', 'view = "iner"'), ("draws 1", "unknown view 'iner'. Nearest: inner")),
    "named": (("outline.toml", 'from = "asis"', 'from = "asi"'), ("inguinal_mid", "unknown surface point 'asi'")),
    "page": (("outline.toml", "page = [", "page = [1.0, "), ("page", "expected 4 numbers")),
    "syntax": (("outline.toml", "[view.front]", "[view.front"), ("is not valid TOML",)),
}


@pytest.fixture
def changed(tmp_path: Path) -> Callable[[str, str, str], Path]:
    """A copy of the tables with one place changed."""

    def change(table: str, old: str, new: str) -> Path:
        shutil.copytree(ANATOMY / "map", tmp_path / "map")
        path = tmp_path / "map" / table
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new, 1), encoding="utf-8")
        return path

    return change


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_in_a_table_is_told_by_file_and_place(changed: Callable[[str, str, str], Path], mistake: str) -> None:
    change, named = MISTAKES[mistake]
    path = changed(*change)
    with pytest.raises(FurcalError) as caught:
        read_drawing(path.parent)
    said = str(caught.value)
    assert said.startswith(str(path))
    assert "\n" not in said
    for word in named:
        assert word in said


def test_an_area_rides_with_the_surface_points_it_hangs_on(changed: Callable[[str, str, str], Path]) -> None:
    moved = read_drawing(changed("outline.toml", "\nasis = [10.6, 14.3]", "\nasis = [10.6, 15.3]").parent)
    now = moved.layers["nerves"]
    rode = {i for i, p in AREAS["nerves"].items() if p.pieces.get("front") != now[i].pieces.get("front")}
    wall = {"subcostal_anterior", "iliohypogastric_anterior", "ilioinguinal", "genitofemoral_femoral"}
    assert rode == {*wall, "lfcn_anterior", "femoral_intermediate", "femoral_medial"}


# --- with the palette


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("layer", LAYERS)
def test_every_area_stands_out_from_the_skin(theme: str, layer: str) -> None:
    # WCAG 2.2, criterion 1.4.11: at least 3:1.
    worn = styles(AREAS[layer], THEMES[theme], layer)
    assert list(worn) == list(AREAS[layer])
    for style in worn.values():
        assert contrast(hex_rgb(style.edge), THEMES[theme].panel) >= 3.0
    ground = ground_of(THEMES[theme])
    assert contrast(hex_rgb(ground.fine), hex_rgb(ground.skin)) >= 3.0
    assert contrast(hex_rgb(ground.text), hex_rgb(ground.page)) >= 7.0


def test_areas_of_different_nerves_differ_in_colour_or_bands() -> None:
    worn = styles(AREAS["nerves"], THEMES["light"])
    looks = {(s.colour, s.banded): AREAS["nerves"][i].nerve for i, s in worn.items()}
    assert len(looks) == len({patch.nerve for patch in AREAS["nerves"].values()})
    assert len({s.colour for s in styles(AREAS["dermatomes"], THEMES["light"], "dermatomes").values()}) == 7


def test_the_nerves_with_skin_have_areas() -> None:
    assert patches_of("femoral") == ("femoral_intermediate", "femoral_medial")
    assert patches_of("lateral_femoral_cutaneous") == ("lfcn_anterior", "lfcn_posterior")
    assert patches_of("sympathetic_trunk") == ()
    assert {patch.nerve for patch in AREAS["nerves"].values()} - set(BY_NERVE) == set(BESIDE)


# --- with the table of supply


def test_the_map_and_the_table_of_supply_have_the_same_areas() -> None:
    table = supply()
    assert set(AREAS["nerves"]) == set(table.patches)
    rows = [row for nerve in table.nerves.values() for row in nerve.skin]
    assert {row.patch for row in rows if row.variable} == {i for i, p in AREAS["nerves"].items() if p.variable}
    assert set(AREAS["dermatomes"]) == set(table.levels)


def test_areas_that_the_table_calls_neighbours_meet_on_the_map() -> None:
    def apart(one: str, other: str) -> float:
        """The least distance of two areas in any view, drawing units."""
        a, b = AREAS["nerves"][one].pieces, AREAS["nerves"][other].pieces
        views = set(a) & set(b)
        return min(math.dist(p, q) for v in views for c in a[v] for d in b[v] for p in c for q in d)

    pairs = {(i, other) for i, patch in supply().patches.items() for other in patch.overlaps}
    assert len(pairs) > 15
    assert {pair for pair in pairs if apart(*pair) * drawing().unit_mm > 15.0} == set()
