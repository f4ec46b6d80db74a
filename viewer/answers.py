"""What a command prints."""

from __future__ import annotations

import json
from typing import Any


def print_json(value: Any) -> None:
    """A JSON answer on standard output; numbers that JSON does not know (NaN, infinity) are refused, not written."""
    print(json.dumps(value, indent=1, ensure_ascii=False, allow_nan=False))
