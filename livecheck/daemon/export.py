"""``python -m livecheck.daemon.export FOLDER``: write ``session.mid`` and the summary beside a
finished journal."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from ..errors import LivecheckError
from ..files.journal import read
from ..files.midifile import write_midi
from ..files.summary import summary_of


def main(folder: Path) -> int:
    os.umask(0o077)
    try:
        write_midi(folder / "session.mid", read(folder))
        summary_of(folder)
    except LivecheckError as error:
        print(error, file=sys.stderr)
        return error.exit_status
    return 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
