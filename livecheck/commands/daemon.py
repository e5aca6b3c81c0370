"""A recorder that runs by itself, without a screen."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import replace
from pathlib import Path
from typing import TextIO

from ..console.words import CAUTION
from ..core.cues import REST
from ..daemon.options import Options
from ..daemon.ports import matcher
from ..daemon.resting import RestCall
from ..daemon.service import run_recorder
from ..daemon.units import default_kind, print_unit
from ..files.library import PracticeFolder
from ..files.settingsfile import NEVER, Settings
from ..report.outlet import print_text
from .choice import Choice, cells_of, practice_folder, rig_of
from .common import full_path, print_wrapped
from .record import Input, recording, settings_of


def run_daemon(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice, heard = Choice.of(options), Input.of(options)
    home = practice_folder(choice).root

    def load() -> Options:
        rig = rig_of(choice, own=True)
        told = recording(home, cells_of(choice, rig, err), rig, heard)
        return replace(told, rest=_rest(settings_of(PracticeFolder(home))))

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
            print_wrapped(text, out)

    return run_recorder(told, on_ready=ready, reload=load, to_terminal=True)


def _rest(settings: Settings) -> RestCall | None:
    """How rests are called for: by a sound, where the settings name an output for it."""
    if settings.cue_port is None or settings.rest_s is None:
        return None
    matcher(settings.cue_port)
    return RestCall(settings.rest_s, settings.cue_port, tuple(settings.cues[REST]))


def _words(choice: Choice, heard: Input) -> tuple[str, ...]:
    """The arguments of ``daemon`` that a unit repeats; files by their full path."""
    words = [full_path(name) for name in choice.cells]
    named = {"variant": choice.variant, "port": heard.port, "driver": heard.driver}
    named["rig"] = full_path(choice.rig) if choice.rig is not None else None
    if heard.silence is not None:
        named["silence"] = f"{heard.silence:g}" if heard.silence else NEVER
    return (*words, *(f"--{name}={value}" for name, value in named.items() if value is not None))
