"""Opens a page of a lesson in Debian's Chromium, without a screen, and reads what it shows, says and asks for."""

from __future__ import annotations

import io
import json
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.common.utils import is_connectable

__all__ = ["Keys", "Page", "browser"]

Pixels = NDArray[np.float64]
CHROMIUM, DRIVER, HERE = "/usr/bin/chromium", "/usr/bin/chromedriver", "127.0.0.1"
#: Draws 3D in software, asks nobody for anything by itself, and is spoken to through a pipe: a bare system may not know
#: the name of its own host.
FLAGS = (
    "--headless=new", "--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader",
    "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update",
    "--disable-sync", "--hide-scrollbars", "--disable-dev-shm-usage", "--remote-debugging-pipe",
)  # fmt: skip
#: The longest that a page may take for anything, seconds.
PATIENCE_S = 60.0


class _HereService(Service):
    """The driver by its number, for the same reason."""

    @property
    def service_url(self) -> str:
        return f"http://{HERE}:{self.port}"

    def is_connectable(self) -> bool:
        return is_connectable(self.port, HERE)


class Page:
    """One page in one browser."""

    def __init__(self, driver: webdriver.Chrome) -> None:
        self.driver = driver

    # --- opening

    def open(
        self, path: Path, size: tuple[int, int] = (1280, 800), at: str = "", dark: bool = False, moves: bool = False,
        touch: bool = False,
    ) -> Self:  # fmt: skip
        """Load a page anew and wait until it stands.

        at    : the step in its address
        moves : without it the reader has asked for less motion
        touch : a phone
        """
        self.driver.get("about:blank")
        self.said()
        self.asked_for()
        width, height = size
        self.command(
            "Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=touch
        )
        self.command("Emulation.setTouchEmulationEnabled", enabled=touch)
        features = {"prefers-color-scheme": "dark" if dark else "light",
                    "prefers-reduced-motion": "no-preference" if moves else "reduce"}  # fmt: skip
        self.command("Emulation.setEmulatedMedia", features=[{"name": n, "value": v} for n, v in features.items()])
        self.driver.get(path.as_uri() + (f"#{at}" if at else ""))
        self.wait(lambda: self.text("fp-count") != "")
        return self

    def command(self, name: str, **given: Any) -> Any:
        """A command of the browser's own protocol."""
        return self.driver.execute_cdp_cmd(name, given)

    def run(self, script: str, *given: Any) -> Any:
        """A script, run from outside the page's rule as the driver may."""
        return self.driver.execute_script(script, *given)

    def wait(self, holds: Callable[[], Any]) -> None:
        """Until something holds."""
        end = time.monotonic() + PATIENCE_S
        while not holds():
            assert time.monotonic() < end, f"the page did not come to it; it shows {self.text('fp-words')[:200]!r}"
            time.sleep(0.05)

    def rest(self) -> Self:
        """Until two pictures in a row are the same."""
        before = b""
        for _ in range(60):
            time.sleep(0.15)
            now = self.driver.get_screenshot_as_png()
            if now == before:
                return self
            before = now
        raise AssertionError("the page does not come to rest")

    # --- what it shows

    def text(self, name: str) -> str:
        """The text of an element, hidden or not."""
        return str(self.run("const e = document.getElementById(arguments[0]); return e ? e.textContent : '';", name))

    def shown(self, name: str) -> bool:
        """Whether an element is there to be seen."""
        return any(e.is_displayed() for e in self.driver.find_elements(By.ID, name))

    def attribute(self, name: str, word: str) -> str:
        """An attribute of an element; empty for none."""
        return str(self.driver.find_element(By.ID, name).get_attribute(word) or "")

    def names(self) -> list[str]:
        """The names that stand in the field, its orientation mark and its scale aside."""
        asked = "return [...document.querySelectorAll('#fp-names text:not(.small)')].map((e) => e.textContent);"
        return [str(name) for name in self.run(asked)]

    def field(self) -> Pixels:
        """The drawing of the body alone, (height, width, 3), 0..255, without names and buttons."""
        hide = "for (const n of ['names', 'tools']) document.getElementById('fp-' + n).style.visibility = arguments[0];"
        self.run(hide, "hidden")
        try:
            picture = Image.open(io.BytesIO(self.rest().driver.get_screenshot_as_png())).convert("RGB")
            box = self.run("const b = document.getElementById('fp-canvas').getBoundingClientRect();"
                           "return [b.left, b.top, b.right, b.bottom];")  # fmt: skip
        finally:
            self.run(hide, "")
        return np.asarray(picture.crop(tuple(round(x) for x in box)), dtype=np.float64)

    # --- what is done to it

    def press(self, *keys: str, shift: bool = False) -> Self:
        """Press keys, one after the other."""
        for key in keys:
            actions = ActionChains(self.driver)
            if shift:
                actions.key_down(Keys.SHIFT)
            actions.send_keys(key)
            if shift:
                actions.key_up(Keys.SHIFT)
            actions.perform()
        return self

    def click(self, name: str) -> Self:
        """Click a button."""
        self.driver.find_element(By.ID, name).click()
        return self

    def drag(self, right: int, down: int) -> Self:
        """Turn the body by the mouse."""
        canvas = self.driver.find_element(By.ID, "fp-canvas")
        ActionChains(self.driver).move_to_element(canvas).click_and_hold().move_by_offset(
            right, down
        ).release().perform()
        return self

    def swipe(self, name: str, right: int) -> Self:
        """A finger that goes aside over an element."""
        box = self.run("const b = document.getElementById(arguments[0]).getBoundingClientRect();"
                       "return [(b.left + b.right) / 2, (b.top + b.bottom) / 2];", name)  # fmt: skip
        when = time.time()
        for kind, points in (
            ("touchStart", [{"x": box[0], "y": box[1]}]),
            ("touchMove", [{"x": box[0] + right, "y": box[1]}]),
            ("touchEnd", []),
        ):
            # With their own times: how quick a finger is must not depend on how busy the machine is.
            self.command("Input.dispatchTouchEvent", type=kind, touchPoints=points, timestamp=when)
            when += 0.1
        return self

    # --- what it says and asks for behind one's back

    def said(self) -> list[str]:
        """Warnings and errors on its console since they were last asked for."""
        entries: Any = self.driver.get_log("browser")  # type: ignore[no-untyped-call]
        return [str(entry["message"]) for entry in entries if entry["level"] in ("WARNING", "SEVERE")]

    def asked_for(self) -> list[str]:
        """Addresses that it asked for since they were last asked for."""
        entries: Any = self.driver.get_log("performance")  # type: ignore[no-untyped-call]
        events = [json.loads(entry["message"])["message"] for entry in entries]
        return [e["params"]["request"]["url"] for e in events if e["method"] == "Network.requestWillBeSent"]


@contextmanager
def browser(*flags: str) -> Iterator[Page]:
    """A browser with an empty profile. Fails where Debian's chromium or chromium-driver is missing."""
    assert Path(CHROMIUM).is_file(), "install chromium: the page of a lesson is tested in it"
    assert Path(DRIVER).is_file(), "install chromium-driver: it drives the browser of the tests"
    profile = tempfile.mkdtemp(prefix="furcal-chromium-")
    options = Options()
    options.binary_location = CHROMIUM
    for flag in (*FLAGS, *flags, f"--user-data-dir={profile}"):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options=options, service=_HereService(DRIVER))
    try:
        driver.set_script_timeout(PATIENCE_S)
        yield Page(driver)
    finally:
        driver.quit()
        shutil.rmtree(profile, ignore_errors=True)
