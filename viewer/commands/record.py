"""`furcal record`: where a learner's answers lie, all of them as a file, and gone."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from meshes.errors import FurcalError
from viewer.commands.options import word_of

if TYPE_CHECKING:
    from lessons.spot.record import Record

VERBS = ("where", "export", "forget")
TO = ("json", "xapi")
#: Options that not every verb reads.
GOES_WITH = {"json": "where", "to": "export", "out": "export", "yes": "forget"}


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("verb", metavar="VERB", type=word_of(VERBS, "record"), help=", ".join(VERBS))
    parser.add_argument("--json", action="store_true", help="where: answer for programs")
    parser.add_argument(
        "--to", metavar="FORMAT", type=word_of(TO, "--to"), help="export: json, or xapi (statements of IEEE 9274.1.1)"
    )
    parser.add_argument("--out", metavar="FILE", type=Path, help="export: the file to write")
    parser.add_argument("--yes", action="store_true", help="forget: do delete the record and every copy of it")


def run(args: argparse.Namespace) -> int:
    """Do what the verb says."""
    for name, verb in GOES_WITH.items():
        if getattr(args, name) not in (None, False) and args.verb != verb:
            raise FurcalError(f"furcal record {args.verb}: --{name} goes with {verb} only.")
    work: Mapping[str, Callable[[argparse.Namespace], int]] = {"where": _where, "export": _export, "forget": _forget}
    return work[args.verb](args)


def _where(args: argparse.Namespace) -> int:
    from datetime import datetime

    from lessons.spot.recordfile import record_path
    from viewer.answers import print_json

    path = record_path()
    answers, items, due = 0, 0, 0
    if path.exists():
        with _opened() as record:
            schedule = record.schedule()
            answers, items = record.count(), len(schedule.cards)
            due = len(schedule.due(datetime.now().astimezone()))
    if args.json:
        print_json({"schema": 1, "path": str(path), "answers": answers, "items": items, "due_today": due})
    else:
        print(path)
        print(f"answers: {answers}; items: {items}; due today: {due}" if answers else "no answers yet")
    return 0


def _export(args: argparse.Namespace) -> int:
    from lessons.spot.recordfile import files_of, record_path
    from lessons.wholetext import write_text

    if args.to is None or args.out is None:
        raise FurcalError("furcal record export: say what and where to, with --to and --out.")
    path = record_path()
    if not path.exists():
        raise FurcalError(f"{path}: there is no record yet; answer an item first, or name one with FURCAL_RECORD.")
    target = args.out.resolve()
    if target in {file.resolve() for file in (path, *files_of(path))}:
        raise FurcalError(f"{args.out}: is the record itself, or a copy of it; name another file.")
    with _opened() as record:
        count = record.count()
        text = _text(record, args.to)
    write_text(args.out, text)
    print(f"{args.out}: answers: {count}")
    return 0


def _text(record: Record, to: str) -> str:
    if to == "xapi":
        from lessons.spot.xapi import xapi_json

        return xapi_json(record)
    import json

    return json.dumps(record.export(), indent=1, allow_nan=False) + "\n"


def _forget(args: argparse.Namespace) -> int:
    from lessons.spot.recordfile import check_name, files_of, forget, record_path

    path = record_path()
    check_name(path)
    if not files_of(path):
        print(f"{path}: there is no record")
        return 0
    if not args.yes:
        names = ", ".join(file.name for file in files_of(path))
        raise FurcalError(f"{path.parent}: {names} would be deleted, for good; say so with --yes.")
    for file in forget(path):
        print(f"{file}: deleted")
    return 0


def _opened() -> Record:
    """The record; what was done to a damaged one is told on standard error."""
    from lessons.spot.record import open_record

    record = open_record()
    if record.notice:
        print(f"furcal: {record.take_notice()}", file=sys.stderr)
    return record
