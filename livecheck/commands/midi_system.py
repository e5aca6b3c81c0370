"""Ask the MIDI system in a process of its own: a driver or sound server in a bad state hangs,
crashes or prints.

``ask`` runs this module as that process, which answers with one line of JSON.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ..errors import LivecheckError, NoDevice

ASK_S = 20.0  # with a JACK server that died a moment ago it takes 10 s


def ask(what: str, *words: str) -> Any:
    """``binding``: the name of the MIDI binding. ``jack``: whether a JACK server answers. ``ports
    API``, ``outputs API``: their names. ``sound``: the name of the sound card.

    Raises NoDevice.
    """
    package = str(Path(__file__).resolve().parents[2])
    paths = os.pathsep.join(filter(None, [package, os.environ.get("PYTHONPATH")]))
    command = [sys.executable, "-m", __name__, what, *words]
    try:
        done = subprocess.run(
            command,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=ASK_S,
            env={**os.environ, "PYTHONPATH": paths},
            check=False,
        )
        told = json.loads(done.stdout.splitlines()[-1])
    except subprocess.TimeoutExpired:
        raise NoDevice(
            f"the MIDI system gave no answer within {ASK_S:.0f} s: restart it, then ask again"
        ) from None
    except (OSError, ValueError, LookupError) as error:
        raise NoDevice(
            "whoever asked the MIDI system has crashed: restart it, then ask again"
        ) from error
    if "error" in told:
        raise NoDevice(told["error"])
    return told["answer"]


def _answer(what: str, words: Sequence[str]) -> Any:
    from ..daemon import drivers

    if what == "binding":
        return drivers.binding_name()
    if what == "jack":
        return drivers.require_jack()
    if what == "sound":
        from ..daemon.sound_out import card_name

        return card_name()
    if what == "outputs":
        return drivers.Output(words[0]).names()
    return drivers.list_ports(*words)


if __name__ == "__main__":
    try:
        line = {"answer": _answer(sys.argv[1], sys.argv[2:])}
    except LivecheckError as error:
        line = {"error": str(error)}
    sys.stdout.write(json.dumps(line) + "\n")
    sys.stdout.flush()
    os._exit(0)  # the driver's threads are left where they are: joining them is what can hang
