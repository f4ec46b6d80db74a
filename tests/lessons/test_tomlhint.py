"""A file that is no TOML is told with the line of the slip and what to do about it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.script import looked_over
from lessons.tomlhint import LINE_MAX, hinted
from meshes.errors import FurcalError
from meshes.tables import parsed_toml
from tests.lessons.lessonfiles import PATH, told

GOOD = '''\
furcal_lesson = 1
title = "Winter"
level = "resident"
minutes = 10
objectives = [
  "One.",
]

[[steps]]
id = "a"
title = "First"
view.portal = { level = "L4-5", side = "left" }
words = """
The first words.
"""
notes = "A [bracket in a text"

[[steps]]
id = "b"
title = "Second"
words = """
The second words.
"""
'''
ONE_LINE = "close it with } on the same line; what stands in { } has no ends of lines"
TWO_BRACKETS = "a step begins with two brackets at either side, [[steps]]"
CLOSE = "close its [ with ]"
LONG = 'close its """ at the end of that text'
QUOTE = 'close the quotation mark, or put a text of several lines between """ and """'
CURLY = 'it has curly quotation marks; write straight ones, "'
SWITCH = "write true or false, in small letters"
WORD = 'a word stands in straight quotation marks, "like this"'
TWICE = "that is given above already; keep one, or begin the next step with [[steps]]"
EQUALS = "write = between key and value; a line of a text stands between quotation marks"
# What stands in GOOD, what a person wrote instead, the number of the line to show, and what to do.
SLIPS = (
    ('  "One.",\n]', '  "One.",', 5, CLOSE),
    ('  "One.",\n]\n\n', '  "One.",\n', 5, CLOSE),
    ('[\n  "One.",\n]', '["One."', 5, CLOSE),
    ('"L4-5", side', '["L4-5", side', 12, CLOSE),
    ('"L4-5", side = "left" }', '["L4-5" }', 12, CLOSE),
    ('The second words.\n"""', 'The second words.\n"""\nnotes = ["x"', 24, CLOSE),
    ('  "One.",', '  "One."\n  "Two."', 7, "put a comma before '\"Two.\"'"),
    (' "left" }', ' "left"', 12, ONE_LINE),
    (' "left" }', '\n "left" }', 12, ONE_LINE),
    ('"L4-5", ', '"L4-5",\n  ', 12, ONE_LINE),
    ('"Winter"', '"Winter', 2, QUOTE),
    ('words = """\nThe first words.\n"""', 'words = "\nThe first words.\n"', 13, QUOTE),
    ('The first words.\n"""', "The first words.", 13, LONG),
    ('The first words.\n"""', 'The first words.\n""', 13, LONG),
    ('The second words.\n"""', "The second words.", 21, LONG),
    ('"Winter"', "“Winter”", 2, CURLY),
    ('"Winter"', "„Winter“", 2, CURLY),
    ('"Winter"', "«Winter»", 2, CURLY),
    ('"Winter"', '"Winter”', 2, CURLY),
    ('  "One."', "  “One.”", 6, CURLY),
    *(('title = "First"', f"fresh = {word}", 11, SWITCH) for word in ("True", "FALSE", "yes", "No", "on", "off")),
    ('side = "left"', "quarters = True", 12, SWITCH),
    ('"resident"', "resident", 3, WORD),
    ('  "One."', "  One", 6, WORD),
    ("minutes = 10", "minutes =", 4, "write a value behind =, or take the line out"),
    ("minutes = 10", "minutes = 0,5", 4, "write a point in a number, not a comma"),
    ("minutes = 10", "minutes = 10 min", 4, "begin a new line before 'min', or put quotation marks round the whole"),
    ("[[steps]]", "[steps]", 9, TWO_BRACKETS),
    ("[[steps]]", "[[steps]", 9, TWO_BRACKETS),
    ("[[steps]]", "[[steps", 9, TWO_BRACKETS),
    ("notes =", "body map =", 16, "a key has no space; write body_map"),
    ("notes =", "notes:", 16, EQUALS),
    ("notes =", "The end", 16, EQUALS),
    ("notes =", "id =", 16, TWICE),
    ('"Winter"', r'"c:\hello"', 2, r"write \\ for a backslash"),
    ("furcal_lesson", "\ufefffurcal_lesson", 1, "invisible mark; save it as UTF-8 without one (BOM)"),
)


@pytest.mark.parametrize(("right", "wrong", "number", "remedy"), SLIPS)
@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_a_slip_is_told_with_its_line_and_what_to_do(
    right: str, wrong: str, number: int, remedy: str, ends: str
) -> None:
    assert looked_over(GOOD, PATH)[1] == []
    assert right in GOOD
    words = GOOD.replace(right, wrong, 1)
    (only,) = told(words.replace("\n", ends))
    line = words.split("\n")[number - 1].strip().replace("\ufeff", r"\ufeff")
    assert only.startswith(f"{PATH}: is not valid TOML: ")
    assert f"; line {number} reads '{line}'" in only
    assert only.endswith(f"{remedy}.")


def test_two_steps_under_one_bracket_are_told_at_the_first() -> None:
    (only,) = told(GOOD.replace("[[steps]]", "[steps]"))
    assert only.endswith(f"; line 9 reads '[steps]': {TWO_BRACKETS}.")


@pytest.mark.parametrize(("length", "cut"), [(LINE_MAX, False), (LINE_MAX + 1, True)])
def test_a_long_line_is_cut(length: int, cut: bool) -> None:
    line = "title = " + "x" * (length - len("title = "))
    (only,) = told(f"furcal_lesson = 1\n{line}\n")
    assert f"line 2 reads '{line[:LINE_MAX]}{'...' if cut else ''}': " in only


def test_brackets_in_texts_and_in_remarks_are_none() -> None:
    words = 'a = "[" # [ {\nb = \'{\'\nc = """\n[ " {\n"""\n[d]\ne = [1, [2]]\nf = resident\n'
    assert said_of(words).endswith(f"; line 8 reads 'f = resident': {WORD}.")


def test_what_has_no_place_stays_as_it_was() -> None:
    assert hinted("a.toml: brackets are nested too deeply.", "x") == "a.toml: brackets are nested too deeply."


def said_of(words: str) -> str:
    with pytest.raises(FurcalError) as caught:
        parsed_toml(words, "a.toml")
    return hinted(str(caught.value), words)


letters = st.sampled_from("[]{}\"'=,#\\\n aT“") | st.characters(exclude_categories=["Cs"])


@given(st.integers(0, len(GOOD)), st.text(letters), st.integers(0, 40))
def test_any_mangled_text_is_told_in_one_sentence_that_keeps_what_the_reader_said(
    start: int, put: str, cut: int
) -> None:
    words = GOOD[:start] + put + GOOD[start + cut :]
    said = ""
    try:
        parsed_toml(words, str(PATH))
    except FurcalError as error:
        said = str(error)
    if said:
        (only,) = told(words)
        assert only.startswith(said.removesuffix("."))
