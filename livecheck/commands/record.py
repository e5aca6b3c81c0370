"""What a recorder is told: cells, rig, port, settings; and one session of it."""

from __future__ import annotations

import json
from argparse import Namespace
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TextIO

from ..core.cell import Cell
from ..core.rig import Rig
from ..daemon.options import Options
from ..daemon.ports import matcher
from ..daemon.process import RecorderProcess, start_recorder
from ..errors import BadInput, LivecheckError, NoDevice
from ..files.config import cell_to_dict, load_settings, rig_for, rig_to_dict
from ..files.library import PracticeFolder
from ..files.settingsfile import Settings
from .common import near_path

MOST_BYTES = 900 << 10  # of cells: a line of the journal holds a little more


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """Where notes come from, and after how many minutes without any a session ends (0: never; None:
    as the settings say)."""

    port: str | None = None
    driver: str | None = None
    silence: float | None = None

    @classmethod
    def of(cls, options: Namespace) -> Input:
        """What was typed."""
        return cls(port=options.port, driver=options.driver, silence=vars(options).get("silence"))


def settings_of(
    folder: PracticeFolder, rest: float | None = None, silence: float | None = None
) -> Settings:
    """The practice folder's settings, and in their place minutes that were typed (0: never).
    Raises BadInput."""
    settings = load_settings(folder.settings) if folder.settings.exists() else Settings()
    if rest is not None:
        settings = replace(settings, rest_s=60.0 * rest or None)
    if silence is not None:
        settings = replace(settings, silence_s=60.0 * silence or None)
    return settings


def as_told(cells: Sequence[Cell]) -> list[dict[str, Any]]:
    """Cells as a recorder is told them and writes them down. Raises BadInput where that is too much
    for one record."""
    told = [{**cell_to_dict(cell), "variant": cell.variant} for cell in cells]
    size = len(json.dumps(told))
    if size > MOST_BYTES:
        raise BadInput(
            f"these {len(cells)} cells are too much for one record ({size >> 10} KB; at most "
            f"{MOST_BYTES >> 10} KB): "
            "name fewer of them, or take out variants that are not played"
        )
    return told


@contextmanager
def one_session(told: Options, out: TextIO) -> Iterator[tuple[RecorderProcess, Path]]:
    """A recorder, and the session that it records until this is left; Ctrl-C is how a player leaves
    it. Raises NoDevice where nothing was played."""
    process = start_recorder(replace(told, at_once=True, need_port=True, silence_s=None))
    session = process.session
    try:
        if session is None:
            raise LivecheckError("the recorder began no session")
        yield process, session
    except KeyboardInterrupt:
        print("", file=out)  # enough was played: what there is, is told
    finally:
        process.stop()
    if session is None or not session.exists():
        raise NoDevice("nothing was played; look with `livecheck ports` and `livecheck rig check`")
    print(f"Saved in {near_path(session)}", file=out)


def recording(
    home: Path,
    cells: Sequence[Cell],
    rig: Rig | None,
    heard: Input | None = None,
    source: Sequence[str] | None = None,
) -> Options:
    """What a recorder is told.

    heard: where notes come from; source: the command that plays in the place of a port. Raises
    BadInput where cell and rig do not go together, or the port is nonsense.
    """
    heard = heard or Input()
    if rig is None and cells:
        rig = rig_for(max(cells, key=lambda cell: len(cell.tuning)), None)
    for cell in cells:
        rig_for(cell, rig)
    wanted = heard.port or (rig.port if rig is not None else None)
    if source is None and wanted is not None:
        matcher(wanted)
    return Options(
        home=home,
        driver=heard.driver,
        port=heard.port,
        rig=rig_to_dict(rig) if rig is not None else None,
        cells=tuple(as_told(cells)),
        source=tuple(source) if source is not None else None,
        silence_s=(
            None
            if source is not None
            else settings_of(PracticeFolder(home), silence=heard.silence).silence_s
        ),
    )
