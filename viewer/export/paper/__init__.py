"""A paper on disk: what candidates hold, the key to it, and the paper itself for the window and for marking.

The folder is written whole or not at all, and a folder with another paper is left alone.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from io import BytesIO
from pathlib import Path

from lessons.spot.item import Item, Pointed
from lessons.spot.onbody import by_body
from lessons.spot.paper import Paper, made_paper, paper_text, read_paper
from lessons.spot.response import Clicked
from lessons.wholetext import write_text
from meshes.errors import FurcalError
from viewer.export.lesson.encoded import encoded
from viewer.export.paper.key import key_pdf, right_answer
from viewer.export.paper.stations import paper_pdf
from viewer.export.whole import check_folder, whole_folder
from viewer.spotshots import Sitter

PAPER, KEY, FROZEN = "paper.pdf", "key.pdf", "paper.json"
FILES = (PAPER, KEY, FROZEN)
#: Pixels of a picture that is printed as wide as the page: 170 an inch. Height of its words, as a share of its own.
SIZE, TEXT = (1260, 840), 1 / 28
#: The same of a picture of the key, which is printed small.
KEY_SIZE, KEY_TEXT = (840, 560), 1 / 20
Progress = Callable[[float, str], None]


def check_target(folder: Path) -> None:
    """Raise FurcalError for a folder that cannot be written, or holds anything but a paper of ours."""
    check_folder(folder, FILES.__contains__)


def export_paper(items: Sequence[Item], seed: int, seconds: int, folder: Path, progress: Progress) -> Paper:
    """Draw and freeze a paper, and write its three files.

    Raises FurcalError naming file or item, place and remedy.
    """
    check_target(folder)
    _check_other(folder, made_paper(items, seed, seconds), spots_count=False)
    asked, spots = _asked(items, seed, lambda share, what: progress(0.55 * share, what))
    paper = made_paper(items, seed, seconds, spots)
    _check_other(folder, paper)
    explained, answers = _explained(paper, lambda share, what: progress(0.55 + 0.4 * share, what))
    progress(0.95, "setting the pages")
    with whole_folder(folder, FILES.__contains__) as fresh:
        (fresh / PAPER).write_bytes(paper_pdf(paper, asked))
        (fresh / KEY).write_bytes(key_pdf(paper, answers, explained))
        write_text(fresh / FROZEN, paper_text(paper))
    return paper


def export_for_window(items: Sequence[Item], seed: int, seconds: int, folder: Path) -> Paper:
    """Freeze a paper that is sat in the window alone: nothing is printed. Raises FurcalError as `export_paper`."""
    check_target(folder)
    paper = made_paper(items, seed, seconds)
    _check_other(folder, paper)
    with whole_folder(folder, FILES.__contains__) as fresh:
        write_text(fresh / FROZEN, paper_text(paper))
    return paper


def _check_other(folder: Path, paper: Paper, spots_count: bool = True) -> None:
    """Raise FurcalError for a folder with another paper, which may have been sat; a broken one counts as another."""
    path = folder / FROZEN
    if not path.exists():
        return
    there = read_paper(path)
    same = (there.seed, there.seconds, there.items) == (paper.seed, paper.seconds, paper.items)
    if not same or (spots_count and there.id != paper.id):
        raise FurcalError(f"{folder}: holds paper {there.id}, which is another one; name a new or empty folder.")


def _asked(
    items: Sequence[Item], seed: int, progress: Progress
) -> tuple[list[BytesIO], dict[str, tuple[Clicked, ...]]]:
    """The picture of every station, and the lettered spots on some."""
    pictures: dict[str, BytesIO] = {}
    spots: dict[str, tuple[Clicked, ...]] = {}
    with Sitter(SIZE, TEXT) as sitter:
        for done, item in enumerate(by_body(items)):
            progress(done / len(items), f"drawing station {items.index(item) + 1}")
            if isinstance(item.answer, Pointed):
                spots[item.id] = sitter.spots(item, seed)
            pictures[item.id] = encoded(sitter.asked(item, spots.get(item.id, ()), printed=True))
    return [pictures[item.id] for item in items], spots


def _explained(paper: Paper, progress: Progress) -> tuple[list[BytesIO], list[str]]:
    """The picture of every station as it is explained, and what is right there."""
    pictures: dict[str, BytesIO] = {}
    answers: dict[str, str] = {}
    with Sitter(KEY_SIZE, KEY_TEXT) as sitter:
        for done, item in enumerate(by_body(paper.items)):
            number = paper.number_of(item.id)
            progress(done / len(paper.items), f"explaining station {number}")
            pictures[item.id] = encoded(sitter.explained(item, bare=True))
            answers[item.id] = right_answer(paper, number, sitter.body(item).structures)
    return [pictures[item.id] for item in paper.items], [answers[item.id] for item in paper.items]
