"""Virtual MIDI ports of the tests' own: what a guitar, a drum machine or a synthesiser would be."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from livecheck.daemon import drivers


def sends(client: str, port: str) -> drivers.Output:
    """A port ``client:port`` that others can listen to."""
    drivers.OWN = client  # our own ports are never listened to
    out = drivers.Output("jack")
    out._midi.open_virtual_port(port)
    return out


def hears(client: str, port: str, callback: Callable[[Any, Any], None]) -> drivers.Input:
    """A port ``client:port`` that others can send to, clock included."""
    drivers.OWN = client
    synth = drivers.Input("jack")
    synth.hear_clock()
    synth._binding.listen(synth._midi, callback)
    synth._midi.open_virtual_port(port)
    return synth
