"""``python -m livecheck.daemon``: a recorder alone, as a child of a console (``--child``) or by
itself."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from ..errors import LivecheckError
from .options import from_arguments
from .service import run_recorder


def main(words: Sequence[str] | None = None) -> int:
    options, child = from_arguments(sys.argv[1:] if words is None else words)
    try:
        return run_recorder(
            options, on_ready=_ready if child else _nobody, child=child, to_terminal=not child
        )
    except LivecheckError as error:
        if child:
            _report({"error": str(error), "status": error.exit_status})
        else:
            print(f"livecheck: {error}", file=sys.stderr)
        return error.exit_status


def _ready(session: Path | None) -> None:
    _report({"session": str(session) if session else None})


def _nobody(_session: Path | None) -> None:
    """Without a parent there is none to tell."""


def _report(fields: Mapping[str, Any]) -> None:
    """One line to the parent, the first of which counts; nobody reads any further."""
    line = json.dumps(fields).encode("ascii") + b"\n"
    try:
        os.write(1, line)
    except OSError:
        return


if __name__ == "__main__":
    sys.exit(main())
