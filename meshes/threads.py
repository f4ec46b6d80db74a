"""Hold products of matrices to one thread.

Ours are small or narrow: waking and feeding a second thread takes longer than the product, up to eighty times longer.
"""

from __future__ import annotations

from contextlib import AbstractContextManager
from functools import cache
from typing import Any


def one_thread() -> AbstractContextManager[Any]:
    """While this is open, products of matrices run on the thread that asks for them."""
    limited: AbstractContextManager[Any] = _libraries().limit(limits=1, user_api="blas")
    return limited


@cache
def _libraries() -> Any:
    """The libraries behind numpy's products; found once, which takes some milliseconds."""
    from threadpoolctl import ThreadpoolController

    return ThreadpoolController()
