"""The course as it is handed out: every lesson reads, holds on its bodies, and cites what it says."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from lessons import bundled
from lessons.bundled import COURSE, course, course_files, course_problems, is_bundled, key_of, lesson_path, number_of
from lessons.lesson import LEVEL_WORDS, Lesson
from lessons.lessoncheck import checked
from lessons.lessonparts import taken_apart
from lessons.prose import MARK, known_sources
from lessons.reading import text_of
from lessons.script import looked_over, read_lesson
from meshes.errors import FurcalError
from tests.lessons.lessonfiles import text

LESSONS = 13
STEPS = (6, 12)
#: What a room reads while somebody speaks.
WORDS_MAX = 110
PATHS = pytest.mark.parametrize("path", course_files(), ids=lambda path: path.stem)


@cache
def read(path: Path) -> Lesson:
    return read_lesson(path)


def test_the_course_is_whole_and_in_order() -> None:
    assert len(course_files()) == LESSONS
    assert [path.stem.partition("_")[0] for path in course_files()] == [f"{n:02}" for n in range(1, LESSONS + 1)]
    assert [one.path for one in course()] == list(course_files())
    assert {path.suffix for path in COURSE.iterdir()} == {".toml"}
    assert course_problems() == ()
    assert [number_of(one) for one in course()] == list(range(1, LESSONS + 1))


def test_a_lesson_that_cannot_be_read_is_told_and_the_others_keep_their_numbers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bundled, "COURSE", tmp_path)
    for number in range(1, 6):
        broken = number in (2, 4)
        (tmp_path / f"0{number}_l.toml").write_text(text(minutes=0, level="x") if broken else text(), encoding="utf-8")
    assert [(number_of(one), one.path.name[:2]) for one in course()] == [(n, f"0{n}") for n in (1, 3, 5)]
    first, second = course_problems()
    assert first.startswith(f"{tmp_path / '02_l.toml'}, level: ")
    assert second.startswith(f"{tmp_path / '04_l.toml'}, level: ")


def test_no_two_lessons_have_one_name_or_one_title() -> None:
    for names in ([one.key for one in course()], [one.title for one in course()]):
        assert len(set(names)) == len(names)


def test_a_lesson_is_found_by_name_by_number_and_by_file() -> None:
    for number, path in enumerate(course_files(), start=1):
        assert key_of(path) == read(path).key
        for name in (key_of(path), path.stem, str(number), str(path)):
            assert lesson_path(name) == path
        assert is_bundled(path)
        nearly = f"{key_of(path)[:-1]}x"
        with pytest.raises(FurcalError, match=rf"unknown lesson '{nearly}'\. Nearest: .*\b{key_of(path)}\b"):
            lesson_path(nearly)


def test_any_other_file_is_no_lesson_of_the_course(tmp_path: Path) -> None:
    path = tmp_path / course_files()[0].name
    assert lesson_path(str(path)) == path
    assert not is_bundled(path)
    with pytest.raises(FurcalError, match=r"Or name a file that ends in \.toml\."):
        lesson_path("0")


@PATHS
def test_it_reads_without_a_slip_and_holds_on_its_bodies(path: Path) -> None:
    assert looked_over(text_of(path), path)[1] == []
    found = checked(path)
    assert found.problems == ()
    assert found.steps == len(read(path).steps)


@PATHS
def test_every_figure_has_a_source(path: Path) -> None:
    assert checked(path).hints == ()


@PATHS
def test_every_source_is_known_and_every_own_one_is_cited(path: Path) -> None:
    one = read(path)
    cited = {key for step in one.steps for key in MARK.findall(f"{step.words} {step.answer} {step.notes}")}
    assert cited <= known_sources() | set(one.sources)
    assert set(one.sources) <= cited
    assert not set(one.sources) & known_sources()


@PATHS
def test_it_has_a_head_that_a_list_can_show(path: Path) -> None:
    one = read(path)
    assert one.level in LEVEL_WORDS
    assert one.about.endswith(".")
    assert 3 <= len(one.objectives) <= 4
    assert all(objective.endswith(".") for objective in one.objectives)
    assert len(set(one.objectives)) == len(one.objectives)


@PATHS
def test_it_has_so_many_steps_each_with_an_id_words_and_notes(path: Path) -> None:
    steps = read(path).steps
    assert STEPS[0] <= len(steps) <= STEPS[1]
    assert len({step.id for step in steps}) == len(steps)
    assert [step.id for step in steps if not step.words or not step.notes] == []


@PATHS
def test_it_asks_the_room_and_has_the_answer(path: Path) -> None:
    asking = [step for step in read(path).steps if step.question]
    assert len(asking) >= 2
    assert [step.id for step in asking if not step.answer] == []


@PATHS
def test_words_can_be_read_while_somebody_speaks(path: Path) -> None:
    one = read(path)
    for step in one.steps:
        for said in (step.words, step.answer):
            assert len(MARK.sub("", said).split()) <= WORDS_MAX, step.id
        assert step.words.strip() != step.notes.strip()


@PATHS
def test_it_begins_clean_so_that_it_can_be_given_alone(path: Path) -> None:
    """What a lesson shows must not hang on what was shown before; and it can be edited step by step."""
    parts = taken_apart(text_of(path))
    assert len(parts.steps) == len(read(path).steps)
    alone = looked_over(f"{parts.head}{parts.steps[0]}{parts.tail}", path)[0]
    assert alone is not None
    assert alone.steps[0] == read(path).steps[0]
