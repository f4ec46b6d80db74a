"""Finds out whether a picture or a window can be drawn, before anything can crash.

VTK and Qt end the process (a segmentation fault, an abort) where a graphics library or a display is missing, and no
`try` catches that. So libraries are looked for by name, the display is asked whether it is there, and a way of drawing
that may still fail is tried in a child process first. Only the standard library is imported: the set-up asks this
module before anything is installed.
"""

from __future__ import annotations

import ctypes
import os
import shutil
import subprocess
import sys
from collections.abc import Iterable, Mapping
from pathlib import Path

from meshes.errors import FurcalError

#: Library -> the Debian package that brings it. Measured from an empty Debian 12 root: nothing here can be left out.
SOFTWARE: Mapping[str, str] = {"libOSMesa.so.8": "libosmesa6"}
EGL: Mapping[str, str] = {"libEGL.so.1": "libegl1"}
DESKTOP: Mapping[str, str] = {
    "libGL.so.1": "libgl1",
    "libEGL.so.1": "libegl1",
    "libglib-2.0.so.0": "libglib2.0-0",
    "libfontconfig.so.1": "libfontconfig1",
    "libdbus-1.so.3": "libdbus-1-3",
}
X11: Mapping[str, str] = {
    "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
    "libxcb-cursor.so.0": "libxcb-cursor0",
    "libxcb-icccm.so.4": "libxcb-icccm4",
    "libxcb-keysyms.so.1": "libxcb-keysyms1",
    "libxcb-shape.so.0": "libxcb-shape0",
    "libXcursor.so.1": "libxcursor1",
}
WAYLAND: Mapping[str, str] = {
    "libwayland-client.so.0": "libwayland-client0",
    "libwayland-cursor.so.0": "libwayland-cursor0",
    "libwayland-egl.so.1": "libwayland-egl1",
    "libxkbcommon.so.0": "libxkbcommon0",
}
#: What the tests need besides the libraries, for a virtual screen and for the pages that are handed out: program or
#: file -> package.
VIRTUAL_SCREEN: Mapping[str, str] = {
    "Xvfb": "xvfb",
    "xauth": "xauth",
    "chromium": "chromium",
    "chromedriver": "chromium-driver",
    "/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf": "fonts-dejavu-core",
}
#: Environment variable by which VTK is told how to draw, and its ways.
VTK_WINDOW = "VTK_DEFAULT_OPENGL_WINDOW"
BY_SOFTWARE, BY_EGL, BY_X11 = "vtkOSOpenGLRenderWindow", "vtkEGLRenderWindow", "vtkXOpenGLRenderWindow"
#: Draws one frame of nothing; ends with 0 where that works. Run in a child, for where it does not it may crash.
_TRIAL = """
import sys
import vtkmodules.vtkRenderingOpenGL2 as gl
window = getattr(gl, sys.argv[1])()
window.OffScreenRenderingOn()
window.SetSize(16, 16)
window.Render()
sys.exit(0 if window.SupportsOpenGL() else 1)
"""
TRIAL_SECONDS = 30


def prepare_offscreen() -> None:
    """Choose a way to draw pictures without a screen, and tell VTK of it. Call it before VTK is imported.

    Raises FurcalError naming the Debian package when there is none.
    """
    if sys.platform != "linux" or _window_is_open():
        return
    chosen = os.environ.get(VTK_WINDOW)
    if chosen:
        if not _draws(chosen):
            raise FurcalError(f"{VTK_WINDOW}={chosen} cannot draw here; unset it and furcal looks for a way itself.")
        return
    os.environ[VTK_WINDOW] = _way_to_draw()


def prepare_window() -> None:
    """Make sure that a window can be opened. Raises FurcalError naming what is missing, and the Debian packages."""
    if sys.platform != "linux":
        return
    platform = os.environ.get("QT_QPA_PLATFORM", "").split(":")[0]
    if platform in ("offscreen", "minimal", "vnc", "linuxfb"):
        raise FurcalError(f"QT_QPA_PLATFORM={platform} shows no window that furcal can draw in; unset it.")
    missing = missing_libraries(DESKTOP, X11 if display_kind() == "x11" else WAYLAND)
    if missing:
        raise FurcalError(f"a window needs system packages that are missing; {install_hint(missing)}.")


def display_kind() -> str:
    """`x11` or `wayland`: the display that answers. Raises FurcalError when none does."""
    named = os.environ.get("DISPLAY")
    if named and _x11_answers():
        return "x11"
    if os.environ.get("WAYLAND_DISPLAY") and _wayland_answers():
        return "wayland"
    if named and missing_libraries({"libxcb.so.1": "libxcb1"}):
        raise FurcalError(f"a window needs system packages that are missing; {install_hint(packages(DESKTOP, X11))}.")
    if named or os.environ.get("WAYLAND_DISPLAY"):
        which = f"DISPLAY={named}" if named else f"WAYLAND_DISPLAY={os.environ['WAYLAND_DISPLAY']}"
        raise FurcalError(
            f"the display that {which} names does not answer; check the variable, or use `furcal picture`, "
            "which needs no display."
        )
    raise FurcalError(
        "there is no display (neither DISPLAY nor WAYLAND_DISPLAY is set); use `furcal picture`, which needs none, or "
        "a virtual one: xvfb-run furcal."
    )


def has_display() -> bool:
    """True when a display answers."""
    try:
        display_kind()
    except FurcalError:
        return False
    return True


def missing_libraries(*tables: Mapping[str, str]) -> list[str]:
    """The Debian packages whose libraries cannot be loaded, each once, in order."""
    return packages(*({name: package for name, package in t.items() if not _loads(name)} for t in tables))


def missing_for_window() -> list[str]:
    """The Debian packages without which no window can be opened on the display that is named; none when none is."""
    if os.environ.get("DISPLAY"):
        return missing_libraries(DESKTOP, X11)
    return missing_libraries(DESKTOP, WAYLAND) if os.environ.get("WAYLAND_DISPLAY") else []


def missing_for_pictures() -> list[str]:
    """The Debian packages without which no picture can be drawn: none where software or EGL drawing is there."""
    if not missing_libraries(SOFTWARE) or not missing_libraries(EGL):
        return []
    return packages(SOFTWARE)


def missing_for_tests() -> list[str]:
    """The Debian packages without which the tests cannot open a window on a virtual screen, or a page."""
    programs = {n: p for n, p in VIRTUAL_SCREEN.items() if not (Path(n).is_file() if "/" in n else shutil.which(n))}
    return missing_libraries(DESKTOP, X11) + packages(programs)


def packages(*tables: Mapping[str, str]) -> list[str]:
    """The packages of some tables, each once, in order."""
    return list(dict.fromkeys(package for table in tables for package in table.values()))


def install_command(names: Iterable[str]) -> list[str]:
    """The command that installs some Debian packages."""
    return ["apt-get", "install", "--yes", "--no-install-recommends", *names]


def install_hint(names: Iterable[str]) -> str:
    """Half a sentence that says how to install some packages."""
    return f"on Debian: sudo apt-get install --no-install-recommends {' '.join(names)}"


def _way_to_draw() -> str:
    if not missing_libraries(SOFTWARE):
        return BY_SOFTWARE
    if _loads("libEGL.so.1") and _draws(BY_EGL):
        return BY_EGL
    if _loads("libGL.so.1") and has_display() and _draws(BY_X11):
        return BY_X11
    raise FurcalError(f"pictures need a graphics library that is missing; {install_hint(packages(SOFTWARE))}.")


def _draws(window_class: str) -> bool:
    """Whether VTK draws a frame this way, tried in a child process."""
    command = [sys.executable, "-c", _TRIAL, window_class]
    try:
        done = subprocess.run(command, capture_output=True, timeout=TRIAL_SECONDS, check=False)
    except subprocess.TimeoutExpired:
        return False
    return done.returncode == 0


def _loads(library: str) -> bool:
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def _window_is_open() -> bool:
    """Whether this process already runs Qt: then drawing works, and VTK must keep the way it has."""
    widgets = sys.modules.get("PySide6.QtWidgets")
    return widgets is not None and widgets.QApplication.instance() is not None


def _x11_answers() -> bool:
    """Whether the display that DISPLAY names lets us in, asked through the library that Qt asks too."""
    try:
        xcb = ctypes.CDLL("libxcb.so.1")
    except OSError:
        return False
    xcb.xcb_connect.restype = ctypes.c_void_p
    xcb.xcb_connect.argtypes = [ctypes.c_char_p, ctypes.c_void_p]
    xcb.xcb_connection_has_error.argtypes = [ctypes.c_void_p]
    # The connection stays open until the process ends: a virtual screen starts anew when its last client leaves, and
    # the window that is opened next would find nobody at home.
    return int(xcb.xcb_connection_has_error(xcb.xcb_connect(None, None))) == 0


def _wayland_answers() -> bool:
    import socket

    place = Path(os.environ.get("XDG_RUNTIME_DIR", "/nonexistent")) / os.environ["WAYLAND_DISPLAY"]
    with socket.socket(socket.AF_UNIX) as line:
        try:
            line.connect(str(place))
        except OSError:
            return False
    return True
