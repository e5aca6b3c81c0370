"""The MIDI driver: list input ports, receive raw bytes, close without hanging, send.

One small adapter over two bindings of the same C++ library: python-rtmidi, and rtmidi2 where the
former has no wheels (Python 3.13 and later). They are imported only when a driver is made. Whatever
is missing becomes one line, NoDevice.
"""

from __future__ import annotations

import contextlib
import os
import sys
import time
from collections.abc import Callable, Iterator
from typing import Any

from ..errors import BadInput, NoDevice
from . import jack_watch
from .ports import OWN

APIS = {
    "alsa": "API_LINUX_ALSA",
    "jack": "API_UNIX_JACK",
    "core": "API_MACOSX_CORE",
    "mm": "API_WINDOWS_MM",
}
ALSA_SEQUENCER = "/dev/snd/seq"
# callbacks under way end within this; closing while one waits for the interpreter hangs for good
DRAIN_S = 0.02


def default_api() -> str:
    """The API to use where none is named: on Linux ALSA where it has a sequencer, else JACK."""
    if sys.platform == "darwin":
        return "core"
    if sys.platform == "win32":
        return "mm"
    return "alsa" if os.path.exists(ALSA_SEQUENCER) else "jack"


def chosen_api(wanted: str | None) -> str:
    """A driver's name as given by ``--driver``, checked; the default where none is given."""
    if wanted is None:
        return default_api()
    if wanted not in APIS:
        raise BadInput(f"driver {wanted!r} is not known; there are: {', '.join(APIS)}")
    return wanted


class _Rtmidi:
    """python-rtmidi."""

    def __init__(self, module: Any) -> None:
        self.module = module

    def make_in(self, api: int) -> Any:
        midi = self.module.MidiIn(api, name=OWN)
        midi.ignore_types(sysex=False, timing=True, active_sense=True)
        return midi

    def make_out(self, api: int) -> Any:
        return self.module.MidiOut(api, name=OWN)

    def names(self, midi: Any) -> list[str]:
        return list(midi.get_ports())

    def listen(self, midi: Any, callback: Callable[[Any, Any], None]) -> None:
        midi.set_callback(callback)

    def unlisten(self, midi: Any) -> None:
        midi.cancel_callback()

    def hear_clock(self, midi: Any) -> None:
        midi.ignore_types(sysex=False, timing=False, active_sense=True)

    def send(self, midi: Any, data: bytes) -> None:
        midi.send_message(data)

    def delete(self, midi: Any) -> None:
        midi.delete()


class _Rtmidi2:
    """rtmidi2. Its callback gets the message and the delta as two arguments.

    It gives the callback up while the driver's thread may still be about to call it, so that one is
    kept here.
    """

    def __init__(self, module: Any) -> None:
        self.module = module
        self._callback: Callable[[Any, Any], None] | None = None

    def make_in(self, api: int) -> Any:
        midi = self.module.MidiIn(OWN, api=api)
        midi.ignore_types(midi_sysex=False, midi_time=True, midi_sense=True)
        return midi

    def make_out(self, api: int) -> Any:
        return self.module.MidiOut(OWN, api=api)

    def names(self, midi: Any) -> list[str]:
        return list(midi.ports)

    def listen(self, midi: Any, callback: Callable[[Any, Any], None]) -> None:
        self._callback = lambda message, delta: callback((message, delta), None)
        midi.callback = self._callback

    def unlisten(self, midi: Any) -> None:
        midi.callback = None

    def hear_clock(self, midi: Any) -> None:
        midi.ignore_types(midi_sysex=False, midi_time=False, midi_sense=True)

    def send(self, midi: Any, data: bytes) -> None:
        midi.send_message(tuple(data))

    def delete(self, midi: Any) -> None:
        """Ends with its last reference."""


def _binding() -> _Rtmidi | _Rtmidi2:
    """The binding that is installed. Raises NoDevice where none can be loaded."""
    # the system's own libraries go before the copies inside the wheels
    if sys.platform.startswith("linux"):
        jack_watch.load("libjack.so.0")
        jack_watch.load("libasound.so.2")
    troubles = []
    try:
        import rtmidi

        return _Rtmidi(rtmidi)
    except ImportError as error:
        troubles.append(error)
    try:
        import rtmidi2

        return _Rtmidi2(rtmidi2)
    except ImportError as error:
        troubles.append(error)
    raise NoDevice(_why_no_binding(troubles))


def binding_name() -> str:
    """The binding that loads. Raises NoDevice where none does."""
    return str(_binding().module.__name__)


def _why_no_binding(troubles: list[ImportError]) -> str:
    for error in troubles:
        for library, package in (("libjack", "libjack-jackd2-0"), ("libasound", "libasound2")):
            if library in str(error):
                return (
                    f"the MIDI driver needs the system library {library}: install it (Debian: "
                    f"apt install {package})"
                )
        if not isinstance(error, ModuleNotFoundError):
            return f"the MIDI driver cannot be loaded: {error}; install it anew by pip"
    package = "rtmidi2" if sys.version_info >= (3, 13) else "python-rtmidi"
    return f"no MIDI driver is installed: pip install {package}"


def _check(api: str) -> None:
    """Tell what stands in the way before the library prints it to the terminal."""
    if api != "alsa":
        return
    if not os.path.exists(ALSA_SEQUENCER):
        raise NoDevice(
            f"there is no ALSA sequencer ({ALSA_SEQUENCER}): sudo modprobe snd-seq, or use "
            "--driver jack"
        )
    if not os.access(ALSA_SEQUENCER, os.R_OK | os.W_OK):
        raise NoDevice(
            f"no permission for {ALSA_SEQUENCER}: add yourself to the group audio, then log in "
            "again"
        )


def _make(api: str, what: str) -> tuple[_Rtmidi | _Rtmidi2, Any]:
    _check(api)
    binding = _binding()
    number = getattr(binding.module, APIS[api])
    try:
        return binding, binding.make_in(number) if what == "in" else binding.make_out(number)
    except (OSError, RuntimeError, ValueError) as error:
        remedy = {
            "jack": "start a JACK server, or use another --driver",
            "alsa": "look whether the sound system runs",
            "core": "look whether the system's own MIDI settings show the interface",
            "mm": "close other programs that use the port",
        }[api]
        raise NoDevice(
            f"the {api} MIDI system does not answer ({_short(error)}): {remedy}"
        ) from error


def _open(midi: Any, index: int) -> None:
    try:
        midi.open_port(index)
    except (OSError, RuntimeError, ValueError) as error:
        raise NoDevice(
            f"the MIDI port cannot be opened ({_short(error)}): close programs that use it"
        ) from error


def _short(error: Exception) -> str:
    return str(error).strip().splitlines()[0] if str(error).strip() else type(error).__name__


class _Connection:
    """Of an open port to another one. A replaced port has its forerunner's name, but not its
    connections (JACK)."""

    def __init__(self, watch: jack_watch.JackWatch | None) -> None:
        self._watch = watch
        self._own: set[str] = set()  # the port that was made for the connection

    @contextlib.contextmanager
    def being_made(self) -> Iterator[None]:
        before = self._watch.ports(OWN) if self._watch is not None else set()
        yield
        self._own = self._watch.ports(OWN) - before if self._watch is not None else set()

    def is_there(self) -> bool:
        """True also where it cannot be told."""
        return self._watch is None or all(map(self._watch.is_connected, self._own))


class Input:
    """One instance of the driver, for listing and for receiving; both go on for as long as the
    program runs.

    Raises NoDevice when made where the driver or the MIDI system is missing.
    """

    def __init__(self, api: str, watch: jack_watch.JackWatch | None = None) -> None:
        self._binding, self._midi = _make(api, "in")
        self._open = False
        self._connection = _Connection(watch)

    def names(self) -> list[str]:
        """The ports that send, in the order of their index."""
        return self._binding.names(self._midi)

    def open(self, index: int, callback: Callable[[Any, Any], None]) -> None:
        """Open a port; ``callback((message, delta), None)`` runs in the driver's thread. Raises
        NoDevice."""
        with self._connection.being_made():
            _open(self._midi, index)
        self._open = True
        self._binding.listen(self._midi, callback)

    def hear_clock(self) -> None:
        """Let timing clocks pass, too; to be called before ``open``."""
        self._binding.hear_clock(self._midi)

    def is_connected(self) -> bool:
        """Whether the open port still leads to the other one, as far as the system tells."""
        return self._connection.is_there()

    def shut(self) -> None:
        """Close the port; the instance can open one again."""
        if not self._open:
            return
        self._open = False
        self._binding.unlisten(self._midi)
        time.sleep(DRAIN_S)
        self._midi.close_port()

    def delete(self) -> None:
        """Close and give the instance back; it cannot be used any more."""
        self.shut()
        self._binding.delete(self._midi)
        self._midi = None


class Output:
    """A port to send to: of another program or device.

    Raises NoDevice when made where the driver or the MIDI system is missing.
    """

    def __init__(self, api: str, watch: jack_watch.JackWatch | None = None) -> None:
        self._binding, self._midi = _make(api, "out")
        self._connection = _Connection(watch)

    def names(self) -> list[str]:
        """The ports that receive, in the order of their index."""
        return self._binding.names(self._midi)

    def open(self, index: int) -> None:
        with self._connection.being_made():
            _open(self._midi, index)

    def is_connected(self) -> bool:
        """As of ``Input``."""
        return self._connection.is_there()

    def send(self, data: bytes) -> None:
        self._binding.send(self._midi, data)

    def shut(self) -> None:
        """Close the port; the instance can open one again."""
        with contextlib.suppress(OSError, RuntimeError):
            self._midi.close_port()

    def delete(self) -> None:
        self.shut()
        self._binding.delete(self._midi)
        self._midi = None


def list_ports(api: str) -> list[str]:
    """The names of the ports that send. Raises NoDevice where the MIDI system does not answer."""
    if api == "jack":
        require_jack()
    midi = Input(api)
    try:
        return midi.names()
    finally:
        midi.delete()


def require_jack() -> None:
    """Raises NoDevice where no JACK server answers; one of the bindings would only print it."""
    jack = jack_watch.library()
    if jack is not None and not jack_watch.JackWatch(jack, lambda: None).connect():
        raise NoDevice("no JACK server answers: start one, or use another --driver")
