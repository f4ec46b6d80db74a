"""Lines of hand-outs: nothing is lost, no line is too wide, whatever stands in a paragraph."""

from __future__ import annotations

import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from lessons.prose import Paragraph, Run
from viewer.export.lesson.letters import as_seen, printable, runs_left, width_of
from viewer.export.lesson.wrapping import INDENT, Line, Piece, Told, height_of, lines_of, piece_width, plain, told_of

RUNS = st.lists(
    st.one_of(st.builds(Run, st.text(max_size=40)), st.builds(Run, st.just("key"), st.integers(1, 30))), max_size=8
)


def pieces_of(lines: list[Line]) -> str:
    return "".join(piece.text for line in lines for piece in line.pieces)


@given(RUNS, st.booleans(), st.floats(4.0, 60.0), st.floats(5.0, 30.0))
def test_nothing_is_lost_and_no_line_is_too_wide(runs: list[Run], item: bool, ems: float, size: float) -> None:
    told = told_of([Paragraph(tuple(runs), item)])
    lines = lines_of(told, ems * size, size, width_of)
    whole = "".join(piece.text for piece in told[0].pieces)
    assert pieces_of(lines).replace(" ", "") == whole.replace(" ", "")
    assert [p.number for line in lines for p in line.pieces if p.number] == [r.number for r in runs if r.number]
    for k, line in enumerate(lines):
        wide = sum(piece_width(piece, False, width_of) for piece in line.pieces) + (INDENT if item else 0.0)
        assert wide <= ems + 1e-6 or len(line.pieces) == 1
        assert line.first is (k == 0)
        assert line.pieces
    assert height_of(lines, size) >= len(lines) * size


def test_words_are_kept_whole_and_long_ones_divided() -> None:
    lines = lines_of([plain("one two " + "x" * 50)], 12.0 * width_of("x"), 1.0, width_of)
    said = [(pieces_of([line]), line.divides) for line in lines]
    assert said == [("one two", False), *[("x" * 12, True)] * 4, ("xx", False)]


def test_a_number_stands_by_its_word_and_two_are_told_apart() -> None:
    told = told_of([Paragraph((Run("some word"), Run("a", 1), Run("b", 2), Run(" more"), Run("a", 1)))])
    assert told == [Told((Piece("some word"), Piece("1", 1), Piece(",2", 2), Piece(" more"), Piece("1", 1)))]
    lines = lines_of(told, width_of("some wor"), 1.0, width_of)
    assert [pieces_of([line]) for line in lines][-1] == "more1"
    assert "word1,2" in "".join(pieces_of([line]) for line in lines)


@given(st.text())
def test_what_is_printed_holds_nothing_that_turns_or_controls(text: str) -> None:
    shown = printable(text)
    assert not any(unicodedata.category(letter) in ("Cc", "Cs", "Zl", "Zp") for letter in shown)
    assert not any(unicodedata.bidirectional(c) in ("RLE", "LRE", "RLO", "LRO", "PDF", "RLI", "LRI") for c in shown)
    kept = [c for c in text if unicodedata.category(c)[0] in "LNPS" and ord(c) & 0xFFFE != 0xFFFE]
    assert [c for c in shown if c in set(kept)] == [c for c in shown if unicodedata.category(c)[0] in "LNPS"
                                                    and c in set(kept)]  # fmt: skip
    assert all(c in shown for c in kept)
    assert printable(shown) == shown


def test_direction() -> None:
    assert runs_left("12 שלום abc")
    assert not runs_left("abc שלום")
    assert not runs_left("12 ...")
    assert as_seen("plain 12", False) == "plain 12"
    assert as_seen("שלום", True) == "םולש"
    assert as_seen("abc שלום def", False) == "abc םולש def"
