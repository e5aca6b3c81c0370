"""What a costly pure function gave, kept for the rest of the run.

Many tests judge the same take by several commands; the strokes of a sitting are then worked out
once. Only the same arrays, to the byte, are the same question.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

import numpy as np

MOST = 200  # answers that are kept of a function


def remembering(function: Callable[..., Any]) -> Callable[..., Any]:
    """The function, asked once for the same named tuple of arrays and plain values."""
    kept: dict[object, Any] = {}

    @wraps(function)
    def asked(question: tuple[Any, ...]) -> Any:
        key = tuple(
            (one.dtype.str, one.shape, one.tobytes()) if isinstance(one, np.ndarray) else one
            for one in question
        )
        if key not in kept:
            if len(kept) >= MOST:
                del kept[next(iter(kept))]
            kept[key] = function(question)
        return kept[key]

    return asked
