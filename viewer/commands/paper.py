"""`furcal paper`: freeze an examination, print it with its key, and mark what was written on it."""

from __future__ import annotations

import argparse
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from meshes.errors import FurcalError
from viewer.commands.options import whole_number_of

if TYPE_CHECKING:
    from lessons.spot.blueprint import Blueprint
    from lessons.spot.item import Item
    from lessons.spot.paper import Paper
    from lessons.spot.results import Result

#: Options of each of the three things that the command does.
GOES_WITH = {
    "make": ("items", "seed", "blueprint", "bank", "seconds", "window", "key", "out"),
    "--mark": ("key", "out"),
    "--sheet": ("candidates", "out"),
}
OPTIONS = ("items", "seed", "blueprint", "bank", "seconds", "window", "candidates", "key", "out")


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    whole = whole_number_of
    make = parser.add_argument_group("making a paper")
    make.add_argument("--items", metavar="N", type=whole("--items"), help="how many stations")
    make.add_argument("--seed", metavar="N", type=whole("--seed"), help="what is chosen; keep it as secret as the key")
    make.add_argument(
        "--blueprint", metavar="FILE", type=Path, help="how many of each objective, kind and depth (TOML)"
    )
    make.add_argument("--bank", metavar="FILE", type=Path, action="append", help="a bank in place of furcal's own")
    make.add_argument("--seconds", metavar="S", type=whole("--seconds"), help="a station (90)")
    make.add_argument("--window", action="store_true", help="for the window alone: with dock items, nothing printed")
    mark = parser.add_argument_group("marking what was written on paper")
    mark.add_argument("--sheet", metavar="PAPER.json", type=Path, help="write the empty sheet of answers, a CSV file")
    mark.add_argument("--candidates", metavar="N", type=whole("--candidates"), help="--sheet: for how many (1)")
    mark.add_argument(
        "--mark", metavar=("PAPER.json", "ANSWERS.csv"), nargs=2, type=Path, help="a signed result for each candidate"
    )
    parser.add_argument("--key", metavar="FILE", type=Path, help="the lecturer's key; made where there is none yet")
    parser.add_argument("--out", metavar="PATH", type=Path, help="the folder to write; --sheet: the file")


def run(args: argparse.Namespace) -> int:
    """Make a paper, mark one, or write its sheet."""
    if args.mark and args.sheet:
        raise FurcalError("--mark and --sheet: give one of them.")
    word = "--mark" if args.mark else "--sheet" if args.sheet else "make"
    for name in OPTIONS:
        if getattr(args, name) not in (None, False) and name not in GOES_WITH[word]:
            raise FurcalError(
                f"--{name} does not go with {word if word != 'make' else 'making a paper'}; leave it out."
            )
    if args.out is None:
        raise FurcalError("furcal paper: say where to write, with --out.")
    return {"make": _make, "--mark": _mark, "--sheet": _sheet}[word](args)


# --- making


def _make(args: argparse.Namespace) -> int:
    from lessons.spot.blueprint import SECONDS, read_blueprint, whole
    from lessons.spot.paper import USUAL_SECONDS, chosen

    if args.items is None or args.seed is None:
        raise FurcalError("furcal paper: give --items N and --seed N; see furcal paper --help.")
    blueprint = read_blueprint(args.blueprint) if args.blueprint else None
    pool, left_out = _pool(args, blueprint)
    items = chosen(pool, args.items, args.seed, blueprint)
    planned = blueprint.seconds if blueprint else None
    seconds = args.seconds if args.seconds is not None else planned or USUAL_SECONDS
    whole(seconds, *SECONDS, "--seconds")
    key_says = _key(args.key, args.out)
    if args.window:
        from viewer.export.paper import export_for_window

        paper = export_for_window(items, args.seed, seconds, args.out)
        files = "paper.json"
    else:
        paper = _printed(items, args.seed, seconds, args.out)
        files = "paper.pdf, key.pdf and paper.json"
    if left_out:
        print(f"left out: {_counted(left_out, 'item')} that cannot be printed; --window takes them.")
    print(f"{args.out}: {files} written; paper {paper.id}, {_counted(len(items), 'station')} of {seconds} seconds.")
    if key_says:
        print(key_says)
    return 0


def _counted(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _pool(args: argparse.Namespace, blueprint: Blueprint | None) -> tuple[list[Item], int]:
    """The items to choose from, and how many were left out for they cannot be printed."""
    from lessons.spot.bank import bundled_items, read_banks
    from lessons.spot.paper import is_printable

    items = read_banks(args.bank) if args.bank else bundled_items()
    if args.window:
        return list(items), 0
    if blueprint and blueprint.counts.get(("kinds", "dock")):
        raise FurcalError(f"{blueprint.where}, [kinds], dock: a portal cannot be placed on paper; take the line out, "
                          "or make the paper for the --window.")  # fmt: skip
    printable = [item for item in items if is_printable(item)]
    return printable, len(items) - len(printable)


def _printed(items: Sequence[Item], seed: int, seconds: int, out: Path) -> Paper:
    from viewer.display import prepare_offscreen
    from viewer.export.paper import check_target, export_paper
    from viewer.progress import Progress

    check_target(out)
    prepare_offscreen()
    with Progress(f"writing {out.name}") as progress:
        return export_paper(items, seed, seconds, out, progress)


def _key(path: Path | None, out: Path) -> str:
    """Make the lecturer's key, or see that it is one; what to say of it."""
    from lessons.spot.results import new_key, read_key

    if path is None:
        return ""
    if path.resolve().parent == out.resolve():
        raise FurcalError(f"--key {path}: lies in the folder of the paper, which is replaced as a whole; keep the key "
                          "elsewhere.")  # fmt: skip
    if path.exists():
        read_key(path)
        return f"{path}: is the key that signs results; keep it from candidates."
    new_key(path)
    return f"{path}: written, the key that signs results; keep it from candidates."


# --- marking


def _sheet(args: argparse.Namespace) -> int:
    from lessons.spot.answersheet import sheet_text
    from lessons.spot.paper import read_paper
    from lessons.wholetext import write_text
    from viewer.picture import checked_target

    text = sheet_text(read_paper(args.sheet), 1 if args.candidates is None else args.candidates)
    checked_target(args.out, "sheet", (".csv",))
    if args.out.exists():
        raise FurcalError(f"{args.out}: is there already, and may hold answers; name another file.")
    write_text(args.out, text)
    print(f"{args.out}: written.")
    return 0


def _mark(args: argparse.Namespace) -> int:
    from datetime import datetime

    from lessons.spot.answersheet import read_answers, results_of, unknown_names
    from lessons.spot.paper import read_paper
    from lessons.spot.results import read_key
    from viewer.progress import Progress

    if args.key is None:
        raise FurcalError("furcal paper --mark: give the lecturer's key, with --key FILE; it signs the results.")
    paper, key = read_paper(args.mark[0]), read_key(args.key)
    answers = read_answers(args.mark[1], paper)
    for problem in answers.problems:
        print(problem)
    if answers.problems:
        count = _counted(len(answers.problems), "problem")
        raise FurcalError(f"{args.mark[1]}: {count} found, listed above; nothing was marked.")
    before = _there_before(args.out, paper, set(answers.given))
    with Progress("marking") as progress:
        results = results_of(answers, paper, datetime.now().astimezone().isoformat(timespec="seconds"), progress)
    _write(results, key, args.out)
    for result in results:
        print(_told(result))
    replaced = f"; {before} that {'was' if before == 1 else 'were'} there before replaced" if before else ""
    print(f"{args.out}: {_counted(len(results), 'result')} written{replaced}.")
    for sentence in unknown_names(results):
        print(sentence)
    return 0


def _told(result: Result) -> str:
    """What a candidate reached, in a sentence."""
    from lessons.spot.response import Skipped

    right = sum(given.right for given in result.answers)
    answered = sum(not isinstance(given.response, Skipped) for given in result.answers)
    return f"candidate {result.candidate}: {right} of {len(result.answers)} right, {answered} answered."


def _there_before(out: Path, paper: Paper, candidates: Collection[str]) -> int:
    """How many results stand there and will be replaced.

    Raises FurcalError where they are of another paper or of other candidates, who would lose theirs.
    """
    from lessons.spot.classtext import clean
    from lessons.spot.results import read_result

    found = sorted(out.glob("candidate-*.json")) if out.is_dir() else []
    for path in found:
        try:
            result = read_result(path, None, allow_unsigned=True)
        except FurcalError:
            raise FurcalError(
                f"{out}: holds {path.name}, which is no whole result; name a new or empty folder."
            ) from None
        if (result.paper, result.paper_hash) != (paper.id, paper.sha256):
            raise FurcalError(f"{out}: holds results of paper {clean(result.paper)}; name a new or empty folder.")
        if path.name not in map(_file_of, candidates):
            raise FurcalError(f"{out}: holds the result of candidate {result.candidate}, who is not in this sheet; "
                              "name a new or empty folder.")  # fmt: skip
    return len(found)


def _file_of(candidate: str) -> str:
    return f"candidate-{candidate}.json"


def _write(results: Sequence[Result], key: bytes, out: Path) -> None:
    from lessons.spot.results import write_result
    from viewer.export.whole import whole_folder

    files = {_file_of(result.candidate): result for result in results}
    with whole_folder(out, files.__contains__) as fresh:
        for name, result in files.items():
            write_result(fresh / name, result, key)
