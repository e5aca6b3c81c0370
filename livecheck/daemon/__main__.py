"""``python -m livecheck.daemon``: a recorder alone, as a child of a console (``--child``) or by
itself."""

from __future__ import annotations

import contextlib
import json
import os
import sys
import traceback
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from ..core.plain_text import clean
from ..errors import LivecheckError
from .options import from_arguments
from .service import run_recorder


def main(words: Sequence[str] | None = None) -> int:
    options, child = from_arguments(sys.argv[1:] if words is None else words)
    try:
        return run_recorder(
            options,
            on_ready=_ready if child else _nobody,
            on_end=_ended if child else _nobody,
            child=child,
            to_terminal=not child,
        )
    except LivecheckError as error:
        if child:
            _report({"error": str(error), "status": error.exit_status})
        else:
            print(f"livecheck: {clean(str(error))}", file=sys.stderr)
        return error.exit_status
    except Exception as error:
        if not child:
            raise
        with contextlib.suppress(OSError):
            traceback.print_exc()
        _report({"error": f"a fault of the recorder ({error!r:.300})", "status": 1})
        return 1


def _ready(session: Path | None) -> None:
    _report({"session": str(session) if session else None})


def _ended(unsaved: int, why: str | None) -> None:
    _report({"unsaved": unsaved, "why": why})


def _nobody(*_told: object) -> None:
    """Without a parent there is none to tell."""


def _report(fields: Mapping[str, Any]) -> None:
    """One line to the parent: the first when it records, one more at the end."""
    line = json.dumps(fields).encode("ascii") + b"\n"
    try:
        os.write(1, line)
    except OSError:
        return


if __name__ == "__main__":
    sys.exit(main())
