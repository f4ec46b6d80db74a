"""Makes a checkout ready: system packages for the goal, and the Python environment in .venv. Standard library only.

Usage: .ci/setup run|test|bench|pictures|lint
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from viewer import display  # noqa: E402  (the checkout is not installed yet)

VENV = ROOT / ".venv"
STAMP = VENV / "furcal-stamp"


def main(goal: str) -> int:
    """Set up for one goal; 0 when all is there."""
    missing = missing_packages(goal)
    if missing and not install_packages(missing):
        return refuse(
            f"`make {goal}` needs system packages that are missing; {display.install_hint(missing)}, then run it again."
        )
    state = wanted_state()
    if not STAMP.is_file() or STAMP.read_text() != state:
        return make_environment(state)
    return 0


def missing_packages(goal: str) -> list[str]:
    """Debian packages that the goal needs and that are not there."""
    if sys.platform != "linux" or goal == "lint":
        return []
    if goal in ("test", "bench"):  # both open windows on a virtual screen
        return display.missing_for_tests()
    return (display.missing_for_window() if goal == "run" else []) or display.missing_for_pictures()


def install_packages(names: list[str]) -> bool:
    """Install Debian packages where we may (as root, with apt-get); whether all went well."""
    if os.geteuid() != 0 or shutil.which("apt-get") is None:
        return False
    say(f"installing system packages: {' '.join(names)}")
    env = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for command in (["apt-get", "update", "--quiet=2"], display.install_command(names)):
        # The output is kept back unless it fails.
        done = subprocess.run(
            command, env=env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, check=False
        )
        if done.returncode != 0:
            say(f"{' '.join(command[:2])} failed:\n{done.stdout[-2000:]}")
            return False
    return True


def wanted_state() -> str:
    """What the environment depends on: the project file, the Python, and where the checkout stands."""
    parts = (ROOT / "pyproject.toml").read_bytes(), sys.version.encode(), str(ROOT).encode()
    return hashlib.sha256(b"\0".join(parts)).hexdigest()


def make_environment(state: str) -> int:
    """Make .venv anew and install the project with what its tests need."""
    say("making the Python environment in .venv (about a minute)")
    python = VENV / "bin" / "python"
    pip = [str(python), "-m", "pip", "--disable-pip-version-check", "install", "--quiet", "--editable", f"{ROOT}[test]"]
    for command in ([sys.executable, "-m", "venv", "--clear", str(VENV)], pip):
        if subprocess.run(command, check=False).returncode != 0:
            return refuse(
                "the Python environment could not be made; the lines above say why (no network, or no room?), then run "
                "it again."
            )
    STAMP.write_text(state)
    return 0


def say(words: str) -> None:
    """Tell the person what goes on."""
    print(f"furcal set-up: {words}", file=sys.stderr, flush=True)


def refuse(words: str) -> int:
    """Tell why it ends, and end with 1."""
    say(words)
    return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1] if len(sys.argv) > 1 else "run"))
