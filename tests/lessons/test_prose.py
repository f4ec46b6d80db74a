"""Words of a step: three marks and no more, no letter lost, sources numbered, figures without one found."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.lessontext import as_json, as_text
from lessons.prose import (
    MARK,
    OUR_WORDS,
    Paragraph,
    Run,
    checked_text,
    known_sources,
    no_sources,
    prose,
    source,
    unsourced,
)
from meshes.errors import FurcalError
from meshes.story import NO_PUBLICATION, citation
from meshes.tables import source_keys
from tests.lessons.lessonfiles import lesson

OWN = {"ward_sheet": "Sheet of the ward, 2026", "second": "A second one"}


def plain(words: str) -> list[str]:
    return [paragraph.plain for paragraph in prose(words, "", OWN).paragraphs]


def kinds(words: str) -> list[tuple[str, bool]]:
    return [(paragraph.plain, paragraph.item) for paragraph in prose(words, "", OWN).paragraphs]


# --- paragraphs and items


@pytest.mark.parametrize("gap", ["\n\n", "\n \t\n", "\n\n\n\n", "\n\n  \n"])
def test_a_blank_line_begins_a_paragraph(gap: str) -> None:
    assert kinds(f"One\nline{gap}two") == [("One line", False), ("two", False)]


@pytest.mark.parametrize("words", ["", "  ", "\n\n \n", "- ", "\n- \n"])
def test_words_without_a_letter_are_no_paragraph(words: str) -> None:
    assert "".join(plain(words)).strip("- ") == ""


def test_a_hyphen_at_the_start_of_a_line_begins_an_item_that_runs_on() -> None:
    assert kinds("Before\n- one\n  goes on\n  - two\n\nAfter") == [
        ("Before", False), ("one goes on", True), ("two", True), ("After", False),
    ]  # fmt: skip


@pytest.mark.parametrize("words", ["-5 degrees", "a - b", "--", "* star", "1. first", "# head", "> said", "-"])
def test_nothing_else_is_read_as_a_mark(words: str) -> None:
    assert kinds(words) == [(words, False)]


# --- sources


def test_sources_are_numbered_through_words_and_answer_in_the_order_they_come() -> None:
    words = "One. [second] Two [ward_sheet], three [second].\n\n- four [from_memory]"
    told = prose(words, "Five. [davis_2011] Six. [ward_sheet]", OWN)
    assert [p.plain for p in told.paragraphs] == ["One. [1] Two [2], three [1].", "four [3]"]
    assert [p.plain for p in told.answer] == ["Five. [4] Six. [2]"]
    cited = ("second", "ward_sheet", "from_memory", "davis_2011")
    assert told.sources == tuple(source(key, OWN) for key in cited)
    assert told.sources[0] == OWN["second"]


def test_the_number_of_a_source_is_a_run_of_its_own_close_behind_the_text() -> None:
    (paragraph,) = prose("It runs  [second] [ward_sheet] on", "", OWN).paragraphs
    assert paragraph.runs == (Run("It runs"), Run("second", 1), Run("ward_sheet", 2), Run(" on"))


def test_an_own_source_comes_before_one_of_the_body() -> None:
    assert source("davis_2011", {"davis_2011": "mine"}) == "mine"
    assert source("davis_2011", {}) == citation("davis_2011")


def test_every_source_of_the_body_and_the_plain_words_may_be_cited() -> None:
    assert known_sources() == source_keys() | set(NO_PUBLICATION)
    told = prose(" ".join(f"x [{key}]" for key in sorted(known_sources())), "", {})
    assert told.sources == tuple(OUR_WORDS.get(key) or citation(key) for key in sorted(known_sources()))
    assert all(text.strip() for text in told.sources)


def test_a_source_that_is_none_is_told_with_the_nearest() -> None:
    said = r"^unknown source 'ward_sheat'\. Nearest: ward_sheet\.$"
    for words, answer in (("a [ward_sheat]", ""), ("", "a [ward_sheat]")):
        with pytest.raises(FurcalError, match=said):
            prose(words, answer, OWN)
    with pytest.raises(FurcalError, match=r"^winter\.toml, words: unknown source 'ward_sheat'"):
        checked_text("fine [second], not fine [ward_sheat]", "winter.toml, words", OWN)
    checked_text("fine [second]", "winter.toml, words", OWN)


@pytest.mark.parametrize(
    "words", ["[]", "[ second]", "[Second]", "[1]", "[second", "second]", "[sec-ond]", "[a b]", "[[", "[_a]", "[é]"]
)
def test_brackets_that_hold_no_key_are_text(words: str) -> None:
    assert plain(f"x {words} y") == [f"x {words} y"]


def test_a_key_in_two_pairs_of_brackets_is_a_source_between_brackets() -> None:
    (paragraph,) = prose("[[second]]", "", OWN).paragraphs
    assert paragraph.runs == (Run("["), Run("second", 1), Run("]"))


HOSTILE = [
    "<script>alert(1)</script>",
    "&lt;b&gt; & <b>bold</b> <img src=x onerror=y>",
    "**bold** _under_ `code` ![X](http://harbour/x.png) [a text](javascript:x)",
    "{{ 7 * 7 }} ${HOME} %s %(x)s {0} $(id) `id`",
    "\\textbf{x} \\input{/etc/passwd} $$x$$",
    "'; DROP TABLE steps; --",
    "=cmd|' /C calc'!A0",
    "\u202eright to left\u202c",
]


@pytest.mark.parametrize("words", HOSTILE)
def test_hostile_text_stays_text(words: str) -> None:
    """Wherever it stands in a lesson, each letter of it comes out again as it was."""
    assert plain(words) == [words]
    whole = dict.fromkeys(("title", "words", "notes", "question", "answer"), words)
    one = lesson(whole, title=words, about=words, objectives=[words])
    step = as_json(one)["steps"][0]
    assert {key: step[key] if isinstance(step[key], str) else step[key][0] for key in whole} == whole
    shown = " ".join(as_text(one).split())
    assert shown.count(" ".join(words.split())) == len(whole) + 3


# --- no letter is lost

marks = st.sampled_from(["[second]", "[ward_sheet]", "[from_memory]", "- ", "\n- ", "\n\n", "\n", "[", "]", "-", " "])
texts = st.lists(st.text(max_size=6) | marks, max_size=12).map("".join)


def visible(text: str) -> str:
    return "".join(text.split())


@given(texts, texts)
def test_the_runs_hold_every_visible_letter_and_every_source_in_order(words: str, answer: str) -> None:
    keys = MARK.findall(words) + MARK.findall(answer)
    if not {*OWN, *known_sources()}.issuperset(keys):
        with pytest.raises(FurcalError):
            prose(words, answer, OWN)
        return
    told = prose(words, answer, OWN)
    runs = [run for paragraph in (*told.paragraphs, *told.answer) for run in paragraph.runs]
    assert [run.text for run in runs if run.number] == keys
    assert [run.number for run in runs if run.number] == [list(dict.fromkeys(keys)).index(key) + 1 for key in keys]
    assert told.sources == tuple(source(key, OWN) for key in dict.fromkeys(keys))
    for text, paragraphs in ((words, told.paragraphs), (answer, told.answer)):
        assert letters(paragraphs) == letters_of(text)


def letters(paragraphs: tuple[Paragraph, ...]) -> str:
    return visible("".join(run.text for p in paragraphs for run in p.runs if not run.number))


def letters_of(text: str) -> str:
    """A mark at the start of a line may leave a hyphen behind it there, which is then text and no item."""
    lines = []
    for line in text.splitlines():
        bare = line.strip()
        lines.append(MARK.sub("", bare.removeprefix("- ")))
    return visible("".join(lines))


@given(texts.filter(lambda t: not MARK.search(t)))
def test_no_paragraph_is_empty_or_holds_an_end_of_line(words: str) -> None:
    for paragraph in prose(words, "", OWN).paragraphs:
        assert paragraph.plain.strip()
        assert paragraph.plain.splitlines() == [paragraph.plain]
        assert all(run.text for run in paragraph.runs)


# --- meant as a source


@pytest.mark.parametrize(
    "inside",
    ["Harbour 1997", "Harbour_1997", "Harbour, 1997a", "Harbour et al.", "12", "3, 7", "1-3", "Davis_2011",
     "davis-2011", "From memory", "Ward_sheet", "common practice"],
)  # fmt: skip
def test_words_in_brackets_that_seem_to_be_a_source_are_found(inside: str) -> None:
    assert no_sources(f"It is so. [{inside}] And [second] so on.") == [f"[{inside}]"]


@pytest.mark.parametrize(
    "inside", ["second", "none_such", "left", "the left one", "L4-5", "Left", "1 to 3 fingers", ""]
)
def test_a_key_and_plain_words_in_brackets_are_not_told(inside: str) -> None:
    assert no_sources(f"It is so. [{inside}] On.") == []


# --- figures without a source


@pytest.mark.parametrize(
    "words",
    [
        "It leaves 5 mm behind the disc.",
        "In 3 of 18 specimens.",
        "About 31.4 % were weak.",
        "Turn the table by 20 degrees.",
        "At L4-5 it lies 7 mm in front.",
        "T12 gives a twig in 54 of 100.",
        "Behind rib 12, 40 mm from the tip.",
        "Grade 4 by then.",
        "- 5 mm",
        "Quarter II holds 2 nerves.",
        "On 1 January",
    ],
)
def test_a_figure_without_a_source_is_found(words: str) -> None:
    assert unsourced(words) == [words.removeprefix("- ")]
    assert unsourced(f"{words.removesuffix('.')} [davis_2011].") == []
    assert unsourced(f"{words} [davis_2011]") == []
    assert unsourced(f"{words} [davis_2011] [from_memory]") == []


@pytest.mark.parametrize(
    "words",
    [
        "",
        "No figure at all.",
        "At L4-5 it is whole.",
        "From T12-L1 to L5-S1, and at L4/5 and L4–5.",
        "L2 to L4 make it; S1 does not.",
        "T12 gives a twig, t11 does not.",
        "It runs below rib 12.",
        "Between ribs 11 and 12, over ribs 11-12, from ribs 10 to 12.",
        "Quarter II, quarters II and III, third I, zone IV.",
    ],
)
def test_a_name_with_a_number_is_no_figure(words: str) -> None:
    assert unsourced(words) == []


def test_only_the_sentence_with_the_figure_needs_the_source() -> None:
    assert unsourced("It is whole at L4-5. [davis_2011] Then it runs 40 mm on. And ends.") == ["Then it runs 40 mm on."]
    assert unsourced("Here 5 mm. [davis_2011] There 7 mm! Where? [from_memory]") == ["There 7 mm!"]
    assert unsourced("Here 5 mm.\n\nThere. [davis_2011]") == ["Here 5 mm."]
    assert unsourced("- 5 mm\n- 6 mm [davis_2011]\n- 7 mm") == ["5 mm", "7 mm"]


def test_a_point_inside_a_figure_ends_no_sentence() -> None:
    assert unsourced("It is 24.8 mm wide [davis_2011], not 3.2 mm.") == []


@given(st.lists(st.tuples(st.sampled_from(["5 mm", "x", "L4-5"]), st.booleans()), min_size=1, max_size=6))
def test_each_sentence_is_judged_by_itself(sentences: list[tuple[str, bool]]) -> None:
    told = " ".join(f"It has {word}.{' [davis_2011]' if cited else ''}" for word, cited in sentences)
    wrong = [f"It has {word}." for word, cited in sentences if word == "5 mm" and not cited]
    assert unsourced(told) == wrong
