"""What is said when a call is refused."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from meshes.errors import FurcalError


def refused(call: Callable[..., object], *given: Any, **named: Any) -> str:
    """The one line, ending with a stop, that a call is refused with."""
    with pytest.raises(FurcalError) as caught:
        call(*given, **named)
    said = str(caught.value)
    assert len(said.splitlines()) == 1
    assert said.endswith(".")
    return said
