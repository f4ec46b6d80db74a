"""A display that goes away while the window is open: what was seen is kept, and one sentence is said.

Qt then warns through its message handler and ends the process with 1; Xlib, which the drawing library speaks to the
same display, does so by a handler of its own. Both may call in the middle of anything, so that there is no way back
from here: the process ends at once, without the destructors of a window that has no display any more.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import sys
import threading
from collections.abc import Callable

from PySide6.QtCore import QMessageLogContext, QtMsgType, qFormatLogMessage, qInstallMessageHandler

SENTENCE = "furcal: the display was lost; what you last saw is kept and comes back with the next start."
#: How the warnings of Qt's two ways to a display begin.
SIGNS = ("The X11 connection broke", "The Wayland connection broke")
EXIT_CODE = 2
#: Handlers of which only the address is kept elsewhere.
_held: list[object] = []


def watch(keep: Callable[[], None]) -> None:
    """From now on a lost display is met; call it once the application is there.

    keep : writes down what is to come back with the next start
    """
    window_thread = threading.get_ident()

    def end() -> None:
        if threading.get_ident() == window_thread:
            with contextlib.suppress(Exception):  # nothing may stand between a lost display and its sentence
                keep()
        with contextlib.suppress(OSError, ValueError):
            os.write(2, f"{SENTENCE}\n".encode())
        os._exit(EXIT_CODE)

    def told(kind: QtMsgType, context: QMessageLogContext, message: str) -> None:
        if message.startswith(SIGNS):
            end()
        pass_on(kind, context, message)

    before = qInstallMessageHandler(told)

    def pass_on(kind: QtMsgType, context: QMessageLogContext, message: str) -> None:
        if callable(before):
            before(kind, context, message)
        elif sys.stderr is not None:
            print(qFormatLogMessage(kind, context, message), file=sys.stderr)

    _watch_xlib(end)


def _watch_xlib(end: Callable[[], None]) -> None:
    """Xlib's own way of telling it."""
    if not sys.platform.startswith("linux"):
        return
    try:
        xlib = ctypes.CDLL("libX11.so.6")
    except OSError:
        return
    kind = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_void_p)

    def broken(_display: int) -> int:
        end()
        return 0

    handler = kind(broken)
    _held.append(handler)
    xlib.XSetIOErrorHandler(handler)
