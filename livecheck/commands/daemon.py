"""A recorder that runs by itself, without a screen."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path
from typing import TextIO

from ..console.words import CAUTION
from ..daemon.options import Options
from ..daemon.service import run_recorder
from ..daemon.units import default_kind, print_unit
from ..files.settingsfile import NEVER
from ..report.outlet import print_text
from .choice import Choice, cells_of, practice_folder, rig_of
from .common import full_path, wrapped
from .record import Input, recording


def run_daemon(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice, heard = Choice.of(options), Input.of(options)
    home = practice_folder(choice).root

    def load() -> Options:
        rig = rig_of(choice, own=True)
        return recording(home, cells_of(choice, rig, err), rig, heard)

    told = load()
    if options.print_unit is not None:
        kind = default_kind() if options.print_unit is True else options.print_unit
        print_text(print_unit(kind, home, _words(choice, heard)), out)
        return 0

    def ready(_session: Path | None) -> None:
        for text in (
            f"recording into {home / 'recordings'}; `livecheck stop` or Ctrl-C ends it",
            CAUTION,
        ):
            print(wrapped(text, out), file=out, flush=True)

    return run_recorder(told, on_ready=ready, reload=load, to_terminal=True)


def _words(choice: Choice, heard: Input) -> tuple[str, ...]:
    """The arguments of ``daemon`` that a unit repeats; files by their full path."""
    words = [full_path(name) for name in choice.cells]
    named = {"variant": choice.variant, "port": heard.port, "driver": heard.driver}
    named["rig"] = full_path(choice.rig) if choice.rig is not None else None
    if heard.silence is not None:
        named["silence"] = f"{heard.silence:g}" if heard.silence else NEVER
    return (*words, *(f"--{name}={value}" for name, value in named.items() if value is not None))
