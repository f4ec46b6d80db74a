"""Contrast, by the formula of WCAG 2.2 (W3C Recommendation, 2023), success criterion 1.4.11: at least 3:1."""

import pytest

from viewer.palette import BY_DIVISION, BY_NERVE, BY_ROOT, OKABE_ITO, THEMES, all_colours, contrast, hex_rgb, rgb_hex
from viewer.palette import seen_contrast as seen


def test_contrast_agrees_with_the_examples_every_implementation_is_checked_by() -> None:
    # From the formula itself: white on black is 21; #767676 is the well-known lightest grey with 4.5 on white.
    assert contrast((255, 255, 255), (0, 0, 0)) == pytest.approx(21.0)
    assert contrast(hex_rgb("#767676"), (255, 255, 255)) == pytest.approx(4.54, abs=0.005)
    assert contrast(hex_rgb("#777777"), (255, 255, 255)) == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("theme", THEMES)
def test_every_structure_stands_out_by_fill_or_edge(theme: str) -> None:
    weak = {
        name: round(seen(colour, THEMES[theme]), 2)
        for name, colour in all_colours()
        if seen(colour, THEMES[theme]) < 3.0
    }
    assert not weak


@pytest.mark.parametrize("theme", THEMES)
def test_text_and_lines_can_be_read(theme: str) -> None:
    t = THEMES[theme]
    for ground in (t.background, t.panel):
        assert contrast(t.text, ground) >= 7.0
        assert contrast(t.quiet, ground) >= 4.5
        assert contrast(t.line, ground) >= 3.0
        assert contrast(t.accent, ground) >= 4.5


def test_the_other_colourings_use_only_the_published_set() -> None:
    # Okabe M, Ito K. Color Universal Design (2008), table of eight colours; grey stands in for its black.
    published = {"#e69f00", "#56b4e9", "#009e73", "#f0e442", "#0072b2", "#d55e00", "#cc79a7"}
    assert {rgb_hex(c) for name, c in OKABE_ITO.items() if name != "grey"} == published
    for table in (BY_NERVE, BY_ROOT, BY_DIVISION):
        assert {paint.colour for paint in table.values()} <= set(OKABE_ITO.values())


@pytest.mark.parametrize("table", [BY_NERVE, BY_ROOT, BY_DIVISION])
def test_no_two_nerves_share_both_colour_and_line_style(table: dict[str, object]) -> None:
    assert len(set(table.values())) == len(table)
