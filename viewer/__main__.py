"""The console program: finds the command, runs it, and turns every failure into one sentence."""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Callable, Sequence

from lessons.caution import CAUTION
from meshes.errors import FurcalError

ABOUT = "The lumbar plexus on a parametric body: dock a working channel, see what it passes, touches and comes near."
USAGE = """furcal [--scene FILE | --lesson NAME | --spot [N]] [--specimen FILE | --seed N]    open the window
       furcal --paper FILE --key FILE [--candidate N]                        sit a paper in the window
       furcal COMMAND [options]                                              see furcal COMMAND --help"""
#: Exit codes: a fault of ours, bad input, and, as shells count them, the keyboard's stop and a reader that has gone.
FAULT, BAD_INPUT, STOPPED, READER_GONE = 1, 2, 130, 141


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit code."""
    # Before numpy is imported: our products are small, and a second BLAS thread makes them slower, not faster.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # an embedding program's stream may be of another kind
            stream.reconfigure(errors="replace")
    words = list(sys.argv[1:] if argv is None else argv)
    return in_words(lambda: run(words))


def run(words: Sequence[str]) -> int:
    """Find the command that the words name and carry it out."""
    from viewer.commands import find
    from viewer.commands.options import Parser

    if words and not words[0].startswith("-"):
        command, rest = find(words[0]), words[1:]
        parser = Parser(f"furcal {command.name}", f"{command.says[0].upper()}{command.says[1:]}.", CAUTION)
    else:
        command, rest = find("window"), words
        parser = Parser("furcal", ABOUT, overview(), USAGE)
        parser.add_argument("--version", action="version", version=f"furcal {version()}")
    module = command.module()
    module.add_options(parser)
    code: int = module.run(parser.read(rest))
    return code


def overview() -> str:
    """The commands, one a line, and the caution."""
    from viewer.commands import COMMANDS

    lines = [f"  {c.name:<10}{c.says}" for c in COMMANDS if not c.hidden]
    return "\n".join(["commands:", *lines, "", CAUTION])


def version() -> str:
    """The installed version."""
    from importlib.metadata import version as installed

    return installed("furcal")


def in_words(work: Callable[[], int]) -> int:
    """Do some work; whatever stops it is told in one sentence on standard error. The exit code."""
    try:
        return finished(work)
    except FurcalError as error:
        return tell(str(error), BAD_INPUT)
    except KeyboardInterrupt:
        return tell("stopped.", STOPPED)
    except BrokenPipeError:
        drop_output()
        return READER_GONE  # in silence: `furcal ... | head` has had what it asked for
    except OSError as error:
        drop_output()
        return tell(disk_words(error), BAD_INPUT)
    except Exception as error:  # noqa: BLE001  (the last resort: a person never sees a traceback)
        return fault(error)


def finished(work: Callable[[], int]) -> int:
    """Do some work and have its output written out, so that what hinders that is met here; the exit code."""
    try:
        code = work()
    except SystemExit as leaving:  # argparse, after --help and --version
        code = int(leaving.code or 0)
    sys.stdout.flush()
    return code


def disk_words(error: OSError) -> str:
    """What the system answered, as a sentence that names the file."""
    where = error.filename if isinstance(error.filename, str) else "the output"
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return f"{where}: there is no room left on the disk."
    return f"{where}: {error.strerror or error}."


def fault(error: Exception) -> int:
    """A fault of ours: its name in a sentence, or the traceback for whoever asks for it."""
    if os.environ.get("FURCAL_DEBUG") == "1":
        import traceback

        traceback.print_exception(error)
        return FAULT
    what = " ".join(f"{type(error).__name__}: {error}".split())
    return tell(f"something went wrong inside furcal ({what}); FURCAL_DEBUG=1 shows where.", FAULT)


def tell(sentence: str, code: int) -> int:
    """Say one line on standard error; the exit code, unchanged."""
    print(f"furcal: {' '.join(sentence.split())}", file=sys.stderr)
    return code


def drop_output() -> None:
    """Point standard output at nothing, so that leaving the program does not try to write what could not be written."""
    try:
        number = sys.stdout.fileno()
    except (OSError, ValueError):
        return
    nothing = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, number)
    os.close(nothing)


if __name__ == "__main__":
    sys.exit(main())
