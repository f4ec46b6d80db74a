"""The page as text: frame, style, scripts, and the table that they read, with a rule that lets nothing else run."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from viewer.export.lesson.pageparts.library import library_script
from viewer.palette import THEMES, rgb_hex

HERE = Path(__file__).parent
#: In this order, inside one function.
SCRIPTS = (
    "read.js", "solid.js", "field.js", "eye.js", "names.js", "flat.js", "hand.js", "words.js", "page.js",
)  # fmt: skip
#: What a browser may take for the end of a script, for markup, or for the end of a line.
_ESCAPED = {"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"}


def page_text(table: Mapping[str, Any]) -> str:
    """The page that shows a table."""
    style, library, own = style_text(), library_script(), own_script()
    parts = {
        "RULE": rule(style, library, own),
        "STYLE": style,
        "TABLE": json_text(table),
        "LIBRARY": library,
        "SCRIPT": own,
        "LIGHT": rgb_hex(THEMES["light"].background),
        "DARK": rgb_hex(THEMES["dark"].background),
    }
    # Cut at the marks before anything is put in, so that no word of a lesson is taken for a mark.
    return "".join(parts.get(piece, piece) for piece in (HERE / "page.html").read_text(encoding="utf-8").split("@@"))


def json_text(table: Mapping[str, Any]) -> str:
    """JSON that may stand in a script element, whatever its texts hold."""
    text = json.dumps(table, ensure_ascii=False, separators=(",", ":"))
    for sign, escaped in _ESCAPED.items():
        text = text.replace(sign, escaped)
    # Half a pair of UTF-16 cannot be written as UTF-8.
    return text.encode("utf-8", "replace").decode()


def own_script() -> str:
    """Our scripts as one function."""
    inside = "\n".join((HERE / name).read_text(encoding="utf-8") for name in SCRIPTS)
    return f'(() => {{\n"use strict";\n{inside}\n}})();\n'


def style_text() -> str:
    """The style, with the colours of both themes."""
    style = (HERE / "page.css").read_text(encoding="utf-8")
    for name, theme in THEMES.items():
        colours = ("background", "text", "quiet", "line", "accent", "panel")
        lines = "; ".join(f"--{colour}: {rgb_hex(getattr(theme, colour))}" for colour in colours)
        style = style.replace(f"/*{name}*/", f"{lines};")
    return style


def rule(style: str, *scripts: str) -> str:
    """The Content-Security-Policy: our own style and scripts by their hashes, pictures in the page, nothing else."""
    hashes = " ".join(_hash(script) for script in scripts)
    return "; ".join(
        (
            "default-src 'none'",
            f"script-src {hashes}",
            f"style-src {_hash(style)}",
            "img-src data:",
            "base-uri 'none'",
            "form-action 'none'",
            "require-trusted-types-for 'script'",
        )
    )


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
