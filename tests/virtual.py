"""Virtual MIDI ports of the tests' own: what a guitar, a drum machine or a synthesiser would be."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any, TypeVar

from livecheck.daemon import drivers
from livecheck.errors import NoDevice

_TRIES, _WAIT_S = 20, 0.5
_Port = TypeVar("_Port")


def sends(client: str, port: str) -> drivers.Output:
    """A port ``client:port`` that others can listen to."""
    drivers.OWN = client  # our own ports are never listened to
    out = _patiently(drivers.Output)
    out._midi.open_virtual_port(port)
    return out


def hears(client: str, port: str, callback: Callable[[Any, Any], None]) -> drivers.Input:
    """A port ``client:port`` that others can send to, clock included."""
    drivers.OWN = client
    synth = _patiently(drivers.Input)
    synth.hear_clock()
    synth._binding.listen(synth._midi, callback)
    synth._midi.open_virtual_port(port)
    return synth


def _patiently(make: Callable[[str], _Port]) -> _Port:
    """A server that is clearing up after a client that was killed turns new ones away meanwhile."""
    for _ in range(_TRIES - 1):
        try:
            return make("jack")
        except NoDevice:
            time.sleep(_WAIT_S)
    return make("jack")
