"""A missing library or display is found before anything can crash, and told in one sentence."""

from __future__ import annotations

import ctypes
import os
import socket
from collections.abc import Iterable
from pathlib import Path

import pytest

from meshes.errors import FurcalError
from tests.house.programs import furcal, python
from viewer import display

NO_DISPLAY = {"DISPLAY": None, "WAYLAND_DISPLAY": None}
DRAW = "import viewer.display as d; d.prepare_offscreen(); import os; print(os.environ[d.VTK_WINDOW])"


def without(monkeypatch: pytest.MonkeyPatch, libraries: Iterable[str]) -> None:
    """Let the loader miss some libraries."""
    gone, load = set(libraries), ctypes.CDLL

    def faked(name: str, *args: object, **options: object) -> ctypes.CDLL:
        if name in gone:
            raise OSError(f"{name}: cannot open shared object file: No such file or directory")
        return load(name)

    monkeypatch.setattr(ctypes, "CDLL", faked)


def refusal(call: object) -> str:
    """What a call says when it refuses."""
    assert callable(call)
    with pytest.raises(FurcalError) as caught:
        call()
    said = str(caught.value)
    assert "\n" not in said
    assert said.endswith(".")
    return said


@pytest.fixture(autouse=True)
def no_choice_made(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each test starts without a way to draw, and as if no window were open in this process."""
    monkeypatch.setenv(display.VTK_WINDOW, "")
    monkeypatch.delenv(display.VTK_WINDOW)
    monkeypatch.setattr(display, "_window_is_open", lambda: False)


@pytest.mark.parametrize("library", [*display.DESKTOP, *display.X11])
def test_each_missing_library_of_the_window_is_named_by_its_package(
    monkeypatch: pytest.MonkeyPatch, library: str
) -> None:
    package = {**display.DESKTOP, **display.X11}[library]
    without(monkeypatch, [library])
    said = refusal(display.prepare_window)
    assert f"apt-get install --no-install-recommends {package}." in said


def test_all_missing_libraries_are_named_once(monkeypatch: pytest.MonkeyPatch) -> None:
    without(monkeypatch, [*display.DESKTOP, *display.X11, "libxcb.so.1"])
    said = refusal(display.prepare_window)
    packages = said.split("--no-install-recommends ")[1].rstrip(".").split()
    assert packages == [*display.DESKTOP.values(), *display.X11.values()]


def test_the_window_can_be_opened_here() -> None:
    display.prepare_window()
    assert display.display_kind() == "x11"
    assert display.missing_for_window() == []
    assert display.missing_for_tests() == []


def test_no_display_at_all(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in NO_DISPLAY:
        monkeypatch.delenv(name, raising=False)
    assert not display.has_display()
    assert "no display" in refusal(display.prepare_window)


@pytest.mark.parametrize("named", [":987", "localhost:987", "nonsense"])
def test_a_display_that_is_not_there(monkeypatch: pytest.MonkeyPatch, named: str) -> None:
    monkeypatch.setenv("DISPLAY", named)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    assert f"DISPLAY={named} names does not answer" in refusal(display.prepare_window)


def test_a_wayland_display_answers_or_does_not(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.setenv("WAYLAND_DISPLAY", "wayland-7")
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    assert "WAYLAND_DISPLAY=wayland-7 names does not answer" in refusal(display.display_kind)
    with socket.socket(socket.AF_UNIX) as server:
        server.bind(str(tmp_path / "wayland-7"))
        server.listen()
        assert display.display_kind() == "wayland"


@pytest.mark.parametrize("platform", ["offscreen", "minimal:fontconfig"])
def test_a_qt_platform_without_windows(monkeypatch: pytest.MonkeyPatch, platform: str) -> None:
    monkeypatch.setenv("QT_QPA_PLATFORM", platform)
    assert "QT_QPA_PLATFORM" in refusal(display.prepare_window)


def test_the_program_says_it_and_does_not_crash() -> None:
    for env in ({**NO_DISPLAY}, {**NO_DISPLAY, "DISPLAY": ":987"}):
        done = furcal(env=env)
        assert (done.returncode, done.stdout, done.stderr.count("\n")) == (2, "", 1), done.stderr
        assert "display" in done.stderr


def test_pictures_need_no_display() -> None:
    done = python("-c", DRAW, env=NO_DISPLAY)
    assert done.returncode == 0, done.stderr
    way = done.stdout.strip()
    assert way in (display.BY_SOFTWARE, display.BY_EGL)
    drawn = python("-c", display._TRIAL, way, env=NO_DISPLAY)
    assert drawn.returncode == 0, drawn.stderr


def test_a_way_that_crashes_is_not_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    """The trial dies in the child (no display for X11), and only there."""
    for name in NO_DISPLAY:
        monkeypatch.delenv(name, raising=False)
    assert not display._draws(display.BY_X11)
    assert not display._draws("vtkNoSuchWindow")
    monkeypatch.setenv(display.VTK_WINDOW, display.BY_X11)
    assert f"{display.VTK_WINDOW}={display.BY_X11} cannot draw" in refusal(display.prepare_offscreen)


def test_without_any_graphics_library_the_package_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    without(monkeypatch, [*display.SOFTWARE, *display.EGL, "libGL.so.1"])
    assert refusal(display.prepare_offscreen).endswith("apt-get install --no-install-recommends libosmesa6.")
    assert display.VTK_WINDOW not in os.environ
    assert display.missing_for_pictures() == ["libosmesa6"]


def test_the_next_way_is_taken_when_the_first_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    without(monkeypatch, display.SOFTWARE)
    tried: list[str] = []

    def draws(way: str) -> bool:
        tried.append(way)
        return way == display.BY_X11

    monkeypatch.setattr(display, "_draws", draws)
    display.prepare_offscreen()
    assert tried == [display.BY_EGL, display.BY_X11]
    assert os.environ[display.VTK_WINDOW] == display.BY_X11
