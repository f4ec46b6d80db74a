"""`furcal lesson`: list, read, check, begin and hand out lessons."""

from __future__ import annotations

import argparse
import json
import re
import sys
from pathlib import Path

from lessons.lesson import Lesson
from meshes.errors import FurcalError
from viewer.commands.options import word_of
from viewer.export.lesson import KINDS

VERBS = ("list", "show", "check", "new", "export", "sources", "ids")
#: Options that not every verb reads.
GOES_WITH = {
    "json": ("list", "show"),
    "title": ("new",),
    **dict.fromkeys(("to", "out", "steps", "size"), ("export",)),
}
_SIZE = re.compile(r"(\d{2,5})x(\d{2,5})")
#: Smallest and largest side of a picture, pixels.
SIDES_PX = (200, 7680)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of the command."""
    parser.add_argument("verb", metavar="VERB", type=word_of(VERBS, "lesson"), help=", ".join(VERBS))
    parser.add_argument("names", metavar="NAME", nargs="*", help="a lesson of the course by name, or a file")
    parser.add_argument("--json", action="store_true", help="list, show: for programs")
    parser.add_argument("--title", metavar="TEXT", help="new: the title")
    kinds = "; ".join(f"{name}: {kind.says}" for name, kind in KINDS.items())
    parser.add_argument("--to", metavar="KIND", type=word_of(KINDS, "--to"), help=f"export: {kinds}")
    parser.add_argument("--out", metavar="PATH", type=Path, help="export: the file or folder to write")
    parser.add_argument("--steps", metavar="LIST", help="export: only these steps, as 1,3-5")
    parser.add_argument("--size", metavar="WxH", help="export: size of the pictures in pixels, as 1920x1080")
    parser.add_argument("--progress-lines", action="store_true", help=argparse.SUPPRESS)


def run(args: argparse.Namespace) -> int:
    """Do what the verb says."""
    if args.verb in ("list", "sources", "ids") and args.names:
        raise FurcalError(f"furcal lesson {args.verb}: takes no name.")
    if args.verb == "check" and not args.names:
        raise FurcalError("furcal lesson check: name at least one file.")
    if args.verb in ("show", "new", "export") and len(args.names) != 1:
        raise FurcalError(f"furcal lesson {args.verb}: name one lesson.")
    for name, verbs in GOES_WITH.items():
        if getattr(args, name) not in (None, False) and args.verb not in verbs:
            raise FurcalError(f"furcal lesson {args.verb}: --{name} goes with {' and '.join(verbs)} only.")
    work = {
        "list": _list,
        "show": _show,
        "check": _check,
        "new": _new,
        "export": _export,
        "sources": _sources,
        "ids": _ids,
    }
    return work[args.verb](args)


def _list(args: argparse.Namespace) -> int:
    from lessons.bundled import course, course_problems, number_of

    lessons = course()
    if args.json:
        rows = [
            {"name": o.key, "title": o.title, "level": o.level, "minutes": o.minutes, "steps": len(o.steps)}
            for o in lessons
        ]
        print(json.dumps({"schema": 1, "lessons": rows}, indent=1, ensure_ascii=False))
        return _told(course_problems())
    width = max((len(o.key) for o in lessons), default=0)
    for one in lessons:
        print(f"{number_of(one):2}  {one.key:<{width}}  {len(one.steps):2} steps {one.minutes:3} min  {one.title}")
    return _told(course_problems())


def _told(problems: tuple[str, ...]) -> int:
    """Tell what is wrong, a line each, on standard error; the exit code."""
    sys.stdout.flush()  # what is good comes first, also where both go to one place
    for problem in problems:
        print(f"furcal: {problem}", file=sys.stderr)
    return 2 if problems else 0


def _show(args: argparse.Namespace) -> int:
    from lessons.lessontext import as_json, as_text

    lesson = _lesson(args.names[0])
    if args.json:
        print(json.dumps(as_json(lesson), indent=1, ensure_ascii=False))
    else:
        print(as_text(lesson))
    return 0


def _check(args: argparse.Namespace) -> int:
    from lessons.bundled import lesson_path
    from lessons.lessoncheck import checked
    from viewer.progress import Progress

    wrong = 0
    for name in args.names:
        with Progress(f"checking {name}") as progress:
            found = checked(lesson_path(name), progress)
        for problem in found.problems:
            print(problem)
        for hint in found.hints:
            print(f"hint: {hint}")
        if not found.problems:
            print(f"{found.path}: nothing wrong ({found.steps} steps).")
        wrong += len(found.problems)
    if wrong:
        raise FurcalError(f"{wrong} problem{'s' if wrong > 1 else ''} found, listed above.")
    return 0


def _new(args: argparse.Namespace) -> int:
    from lessons.lessonfile import new_lesson

    path = Path(args.names[0])
    new_lesson(path, args.title or "")
    print(f"{path}: written; open it with: furcal --lesson {path}")
    return 0


def _sources(_: argparse.Namespace) -> int:
    from lessons.prose import known_sources, source

    for key in sorted(known_sources()):
        print(f"{key}: {source(key, {})}")
    return 0


def _ids(_: argparse.Namespace) -> int:
    from lessons.lessonwords import word_lines

    print("\n".join(word_lines()))
    return 0


def _export(args: argparse.Namespace) -> int:
    from viewer.display import prepare_offscreen
    from viewer.export.lesson import Asked, export_lesson, target_of
    from viewer.progress import Lines, Progress

    if args.to is None or args.out is None:
        raise FurcalError(f"furcal lesson export: give --to ({', '.join(KINDS)}) and --out PATH.")
    lesson = _lesson(args.names[0])
    asked = Asked(_numbers(args.steps, len(lesson.steps)), _size(args.size))
    target_of(args.to, args.out)
    prepare_offscreen()
    with Lines() if args.progress_lines else Progress(f"writing {args.out.name}") as progress:
        export_lesson(lesson, args.to, args.out, asked, progress)
    print(f"{args.out}: written.")
    return 0


def _lesson(name: str) -> Lesson:
    from lessons.bundled import lesson_path
    from lessons.script import read_lesson

    return read_lesson(lesson_path(name))


def _size(text: str | None) -> tuple[int, int] | None:
    if text is None:
        return None
    match = _SIZE.fullmatch(text)
    if not match or not all(SIDES_PX[0] <= int(n) <= SIDES_PX[1] for n in match.groups()):
        raise FurcalError(f"--size: {text!r} is no size; write width and height as 1920x1080, each {SIDES_PX[0]} to "
                          f"{SIDES_PX[1]}.")  # fmt: skip
    return int(match[1]), int(match[2])


def _numbers(text: str | None, count: int) -> tuple[int, ...]:
    """Steps from 0, in the order of the lesson, of words as 1,3-5."""
    if text is None:
        return tuple(range(count))
    found: set[int] = set()
    for part in text.split(","):
        match = re.fullmatch(r"\s*(\d{1,3})(?:-(\d{1,3}))?\s*", part)
        first, last = (int(match[1]), int(match[2] or match[1])) if match else (0, 0)
        if not 1 <= first <= last <= count:
            raise FurcalError(f"--steps: {part.strip()!r} names no steps; this lesson has 1 to {count}.")
        found.update(range(first - 1, last))
    return tuple(sorted(found))
