"""The 3D library of the page: upstream's files as they came, joined into one plain script.

A page that is opened from a disk cannot load a module by its name, in no browser. So the two modules become two
functions, and what one exported the other is handed. Nothing else in them is touched, and what is not as expected ends
the export.
"""

from __future__ import annotations

import hashlib
import re
from functools import cache
from pathlib import Path
from typing import Any

from meshes.errors import FurcalError
from meshes.tables import read_toml

FOLDER = Path(__file__).parent / "three"
_NAMES = r"\{([^{}]*)\}"
_IMPORT = re.compile(rf'\bimport{_NAMES}from"\./three\.core\.min\.js";')
_PASSED_ON = re.compile(rf'\bexport{_NAMES}from"\./three\.core\.min\.js";')
_EXPORT = re.compile(rf"\bexport{_NAMES};\s*$")


@cache
def table() -> dict[str, Any]:
    """three.toml: name, version, licence, and the files with their SHA-256."""
    return dict(read_toml(FOLDER / "three.toml"))


@cache
def library_script() -> str:
    """A script that leaves the library in `THREE`. Raises FurcalError for a file that is not the one it should be."""
    core, module = (_checked(name) for name in ("three.core.min.js", "three.module.min.js"))
    given = _names(_one(_IMPORT, module, "import"), ":")
    module = _IMPORT.sub(lambda _: f"const{{{given}}}=core;", module)
    module = _PASSED_ON.sub("", module)
    return (
        '"use strict";const THREE=(()=>{const core=(()=>{'
        f"{_returning(core)}\n}})();const own=(()=>{{{_returning(module)}\n}})();"
        "return Object.freeze({...core,...own});})();"
    )


def _checked(name: str) -> str:
    file = next(row for row in table()["files"] if row["name"] == name)
    held = (FOLDER / name).read_bytes()
    if hashlib.sha256(held).hexdigest() != file["sha256"]:
        raise FurcalError(f"{FOLDER / name}: is not the file that three.toml names; install furcal again.")
    return held.decode()


def _returning(module: str) -> str:
    """The module as the inside of a function that returns what it exported."""
    given = _names(_one(_EXPORT, module, "export"), ":", turned=True)
    return _EXPORT.sub(lambda _: f"return{{{given}}};", module)


def _one(pattern: re.Pattern[str], text: str, what: str) -> str:
    found = pattern.findall(text)
    if len(found) != 1:
        raise FurcalError(
            f"{FOLDER}: has {len(found)} statements of {what} where one was expected; install furcal again."
        )
    return str(found[0])


def _names(listed: str, sign: str, turned: bool = False) -> str:
    """`A as b, C` as `A:b,C:C`; turned, as `b:A,C:C`."""
    pairs = [name.split(" as ") if " as " in name else [name, name] for name in listed.split(",")]
    return ",".join(f"{b}{sign}{a}" if turned else f"{a}{sign}{b}" for a, b in pairs)
