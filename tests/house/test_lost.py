"""A display that dies under the open window: one sentence, exit code 2, and the scene comes back."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from lessons.scenefile import text_of
from lessons.view import Placement, View
from meshes.specimen import Specimen
from tests.house.programs import ROOT, python
from viewer.lost import EXIT_CODE, SENTENCE, SIGNS

WATCH = """
import sys
from PySide6.QtCore import QCoreApplication, qWarning
from viewer.lost import watch
app = QCoreApplication([])
watch(lambda: print("kept", flush=True))
qWarning("another warning")
qWarning(sys.argv[1])
"""
SCENE = View(dissection="vertebrae", labels=False, portal=Placement(level="L3-4"))


@pytest.mark.parametrize("sign", SIGNS)
def test_the_warnings_of_qt_are_understood(sign: str) -> None:
    done = python("-c", WATCH, f"{sign} (error 1). Did it die?")
    assert (done.returncode, done.stdout) == (EXIT_CODE, "kept\n")
    assert done.stderr.splitlines() == ["another warning", SENTENCE]


def test_nothing_stands_between_a_lost_display_and_its_sentence() -> None:
    done = python("-c", WATCH.replace("print(", "nothing("), SIGNS[0])
    assert (done.returncode, done.stderr.splitlines()[-1]) == (EXIT_CODE, SENTENCE)


@pytest.fixture
def screen() -> Iterator[tuple[subprocess.Popen[bytes], str]]:
    """A virtual screen of its own, and its name."""
    reading, writing = os.pipe()
    command = ["Xvfb", "-displayfd", str(writing), "-screen", "0", "1280x800x24", "-noreset", "-nolisten", "tcp"]
    server = subprocess.Popen(command, pass_fds=[writing], stderr=subprocess.DEVNULL)
    os.close(writing)
    with os.fdopen(reading) as answer:
        number = answer.readline().strip()
    try:
        yield server, f":{number}"
    finally:
        server.kill()
        server.wait()


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM])
def test_a_lost_display(screen: tuple[subprocess.Popen[bytes], str], tmp_path: Path, how: signal.Signals) -> None:
    server, name = screen
    scene = tmp_path / "scene.toml"
    scene.write_text(text_of(Specimen(name="Birch"), SCENE), encoding="utf-8")
    env = {**os.environ, "DISPLAY": name, "FURCAL_SETTINGS": str(tmp_path), "QT_QPA_PLATFORM": "xcb"}
    env.pop("WAYLAND_DISPLAY", None)
    window = subprocess.Popen(
        [sys.executable, "-m", "viewer", "--scene", str(scene)],
        cwd=ROOT, env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    try:
        # The file is written for the first time when the window has come to rest with its body.
        wait_for(lambda: "Birch" in text_at(tmp_path / "window.ini") or window.poll() is not None)
        server.send_signal(how)
        said, complained = window.communicate(timeout=60)
    finally:
        window.kill()
    assert (window.returncode, said, complained) == (EXIT_CODE, "", f"{SENTENCE}\n")
    kept = python("-c", READ, env={"FURCAL_SETTINGS": str(tmp_path)})
    assert kept.stdout.splitlines() == ["Birch", repr(SCENE)]


READ = """
from viewer.settings import Settings, settings_folder
kept = Settings(settings_folder())
print(kept.specimen().name)
print(kept.view())
"""


def text_at(path: Path) -> str:
    return path.read_text(encoding="utf-8") if path.exists() else ""


def wait_for(there: object) -> None:
    assert callable(there)
    end = time.monotonic() + 120.0
    while not there():
        assert time.monotonic() < end, "the window did not come up"
        time.sleep(0.1)
