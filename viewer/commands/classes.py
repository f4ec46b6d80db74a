"""`furcal class`: what the results of a class say about the items, and about what the class does not know."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from meshes.errors import FurcalError

if TYPE_CHECKING:
    from lessons.spot.item import Item
    from lessons.spot.results import Result

PLOTS = (".svg", ".png", ".pdf")


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument(
        "results", metavar="RESULTS", nargs="+", type=Path, help="results of one paper, or their folder"
    )
    parser.add_argument("--key", metavar="FILE", type=Path, help="the key file of the examination: checks signatures")
    parser.add_argument("--paper", metavar="FILE", type=Path, help="paper.json: tells also the options nobody took")
    parser.add_argument("--allow-unsigned", action="store_true", help="take results without a signature, too")
    parser.add_argument("--json", action="store_true", help="answer for programs")
    parser.add_argument("--csv", metavar="FILE", type=Path, help="write a table, a row an item")
    parser.add_argument("--plot", metavar="FILE", type=Path, help="draw items and objectives: .svg, .png or .pdf")


def run(args: argparse.Namespace) -> int:
    """Read the results, and print the report."""
    from lessons.spot.classtext import report_csv, report_json, report_text
    from lessons.spot.results import read_class, read_key
    from lessons.spot.statistics import class_report
    from lessons.wholetext import write_text
    from viewer.answers import print_json

    paths = list(_files(args.results))
    _check_targets(args, paths)
    key = read_key(args.key) if args.key else None
    results = read_class(paths, key, args.allow_unsigned)
    report = class_report(results, _items(args.paper, results))
    if args.csv:
        write_text(args.csv, report_csv(report))
    if args.plot:
        from viewer.export.classplot import write_plot

        write_plot(report, args.plot)
    says = _signatures(results, key is not None)
    written = [str(target) for target in (args.csv, args.plot) if target]
    if args.json:
        print_json({**report_json(report), "signatures": says, "written": written})
    else:
        print(f"{report_text(report)}\n\n{says}")
        if not args.paper:
            print("Options that nobody took are told with --paper only.")
        for target in written:
            print(f"{target}: written.")
    return 0


def _files(paths: Iterable[Path]) -> Iterable[Path]:
    """The files that are named; of a folder those that end in .json, but for the paper, which may lie beside them."""
    for path in paths:
        if not path.is_dir():
            yield path
            continue
        found = sorted(one for one in path.glob("*.json") if one.name != "paper.json")
        if not found:
            raise FurcalError(f"{path}: holds no results (*.json); name their folder or the files.")
        yield from found


def _check_targets(args: argparse.Namespace, paths: Sequence[Path]) -> None:
    """Raise FurcalError, before anything is read, for a file that must not be written."""
    if args.plot and args.plot.suffix.lower() not in PLOTS:
        raise FurcalError(f"--plot: expected a file that ends in {', '.join(PLOTS)}, found {str(args.plot)!r}.")
    inputs = {path.resolve() for path in (*paths, args.key, args.paper) if path}
    targets = [(option, target) for option, target in (("--csv", args.csv), ("--plot", args.plot)) if target]
    for option, target in targets:
        if target.resolve() in inputs:
            raise FurcalError(f"{option}: {target} is read here and would be overwritten; name another file.")
        if target.is_dir():
            raise FurcalError(f"{option}: {target} is a folder; name a file.")
        if not target.resolve().parent.is_dir():
            raise FurcalError(f"{option}: {target.parent} is no folder; make it first.")
    if len(targets) == 2 and targets[0][1].resolve() == targets[1][1].resolve():
        raise FurcalError("--csv and --plot: name two files.")


def _items(path: Path | None, results: Sequence[Result]) -> tuple[Item, ...]:
    """The items of the paper. Raises FurcalError for another paper than the one that was sat."""
    if path is None:
        return ()
    from lessons.spot.paper import read_paper

    paper = read_paper(path)
    if (paper.id, paper.sha256) != (results[0].paper, results[0].paper_hash):
        raise FurcalError(
            f"{path}: is the paper {paper.id}, and the candidates sat {results[0].paper}; give the paper that was sat."
        )
    return paper.items


def _signatures(results: Sequence[Result], checked: bool) -> str:
    """What is known of the signatures, in a sentence."""
    bare = sum(not result.signature for result in results)
    if bare == len(results):
        return "No result is signed: nobody vouches for them."
    rest = f" {bare} of {len(results)} are not signed: nobody vouches for them." if bare else ""
    if checked:
        return f"The signatures agree with the key.{rest}"
    return f"The signatures were not checked: give the key file with --key.{rest}"
