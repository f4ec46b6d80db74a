"""`furcal items`: list, read, check, look at and hand on the items of spot tests."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from meshes.errors import FurcalError, unknown_word
from viewer.commands.options import word_of

if TYPE_CHECKING:
    from lessons.spot.item import Item

VERBS = ("list", "show", "check", "picture", "export")
TO = ("qti",)
#: Options that not every verb reads.
GOES_WITH = {
    "json": ("list", "show"),
    "kind": ("list", "export"),
    "explained": ("picture",),
    "to": ("export",),
    "out": ("picture", "export"),
}
SIZE_PX = (960, 720)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    from lessons.spot.item import KINDS

    parser.add_argument("verb", metavar="VERB", type=word_of(VERBS, "items"), help=", ".join(VERBS))
    parser.add_argument("names", metavar="NAME", nargs="*", help="check: banks; show, picture: an item by its id")
    parser.add_argument("--bank", metavar="FILE", type=Path, action="append", help="a bank in place of furcal's own")
    parser.add_argument("--kind", metavar="KIND", type=word_of(KINDS, "--kind"), help="list, export: only this kind")
    parser.add_argument("--json", action="store_true", help="list, show: for programs")
    parser.add_argument("--explained", action="store_true", help="picture: as it is explained, with names")
    parser.add_argument("--to", metavar="FORMAT", type=word_of(TO, "--to"), help="export: qti (1EdTech QTI 3)")
    parser.add_argument("--out", metavar="PATH", type=Path, help="picture, export: the file to write")


def run(args: argparse.Namespace) -> int:
    """Do what the verb says."""
    if args.verb in ("list", "export") and args.names:
        raise FurcalError(f"furcal items {args.verb}: takes no name; --bank names a file.")
    if args.verb in ("show", "picture") and len(args.names) != 1:
        raise FurcalError(f"furcal items {args.verb}: name one item by its id; furcal items list has them.")
    if args.verb == "check" and args.bank:
        raise FurcalError("furcal items check: name the files without --bank.")
    for name, verbs in GOES_WITH.items():
        if getattr(args, name) not in (None, False) and args.verb not in verbs:
            raise FurcalError(f"furcal items {args.verb}: --{name} goes with {' and '.join(verbs)} only.")
    if args.verb in ("picture", "export") and args.out is None:
        raise FurcalError(f"furcal items {args.verb}: say where to write, with --out.")
    work: Mapping[str, Callable[[argparse.Namespace], int]] = {
        "list": _list, "show": _show, "check": _check, "picture": _picture, "export": _export,
    }  # fmt: skip
    return work[args.verb](args)


def _items(args: argparse.Namespace) -> tuple[Item, ...]:
    from lessons.spot.bank import bundled_items, read_banks

    items = read_banks(args.bank) if args.bank else bundled_items()
    return tuple(item for item in items if args.kind in (None, item.kind))


def _item(args: argparse.Namespace) -> Item:
    """The item that is named. What is wrong with others of its bank is told beside it and stops nothing."""
    from lessons.spot.bank import all_looked_over, bundled_items

    found, problems = all_looked_over(args.bank) if args.bank else (bundled_items(), [])
    items = {item.id: item for item in reversed(found)}  # of an id that is given twice, the first one
    name = args.names[0]
    if name not in items:
        own = [problem for problem in problems if f" ({name})" in problem]
        if own or (problems and not items):
            raise FurcalError((own or problems)[0])
    for problem in problems:
        print(f"furcal: {problem}", file=sys.stderr)
    if name not in items:
        raise unknown_word(name, tuple(items), "item")
    return items[name]


def _list(args: argparse.Namespace) -> int:
    from lessons.spot.itemtext import row

    items = _items(args)
    if args.json:
        print(json.dumps({"schema": 1, "items": [row(item) for item in items]}, indent=1, ensure_ascii=False))
        return 0
    for item in items:
        print(f"{item.kind:<8} {item.objective:<12} {item.id:<44} {item.structure}")
    print(f"{_counted(len(items), 'item')}.")
    return 0


def _show(args: argparse.Namespace) -> int:
    from lessons.spot.itemtext import as_text, row

    item = _item(args)
    told: Any = json.dumps(row(item), indent=1, ensure_ascii=False) if args.json else as_text(item)
    print(told)
    return 0


def _check(args: argparse.Namespace) -> int:
    from lessons.spot.bank import bank_files
    from lessons.spot.bankcheck import checked
    from viewer.progress import Progress

    paths = [Path(name) for name in args.names] or list(bank_files())
    with Progress("checking items") as progress:
        found = checked(paths, progress)
    for problem in found.problems:
        print(problem)
    for hint in found.hints:
        print(f"hint: {hint}")
    if found.problems:
        raise FurcalError(f"{_counted(len(found.problems), 'problem')} found, listed above.")
    print(f"nothing wrong ({_counted(found.items, 'item')} in {_counted(len(paths), 'file')}).")
    return 0


def _counted(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _picture(args: argparse.Namespace) -> int:
    from viewer.spotshots import write_item_picture

    write_item_picture(_item(args), args.out, SIZE_PX, explained=args.explained)
    print(f"{args.out}: written.")
    return 0


def _export(args: argparse.Namespace) -> int:
    if args.to is None:
        raise FurcalError(f"furcal items export: say to what, with --to {' or '.join(TO)}.")
    from viewer.export.qti import write_qti
    from viewer.progress import Progress

    with Progress(f"writing {args.out.name}") as progress:
        left_out = write_qti(_items(args), args.out, progress)
    for item, why in left_out:
        print(f"left out: {item} ({why})")
    print(f"{args.out}: written.")
    return 0
