"""The process that owns a MIDI output for clicks and cues: send each message at its time, and tell
when it was sent.

A process of its own for the same reasons as the reader's, and so that neither disturbs the other.
It is told what to sound on standard input, one JSON object a line: ``{"click": schedule or null}``
(in the place of what was told before), ``{"cue": {"word", "notes": [[ms, note, velocity], …]}}``
(at once). What it tells goes to standard output as frames: the port opened or lost, and each click
and cue with the clock's reading right before it was handed to the driver. While there is no port
nothing is sent and nothing told; the beats go on being counted. It ends when its standard input
closes.

    python -m livecheck.daemon.clicker [--driver NAME] [--port TEXT]
"""

from __future__ import annotations

import contextlib
import heapq
import json
import os
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NoReturn, Protocol

from ..core.click import LENGTH_NS, STOP, Schedule, note_off, schedule_from
from ..core.cues import Tone, tones_from
from ..errors import BadInput
from . import drivers, ports
from .child import POLL_S, Stop, live
from .frames import Beat, Cued, Sender
from .reader import Keeper
from .spawn import at_port

NEAR_NS = 20_000_000  # so near to a deadline nothing else is begun
LINE_BYTES = 1 << 16
_NICE = -15  # where real time is not allowed, but this is
_PRIORITY = 10  # among real-time processes, where the system allows it


class MidiOutput(Protocol):
    """What is needed of a driver."""

    def names(self) -> list[str]: ...
    def open(self, index: int) -> None: ...
    def is_connected(self) -> bool: ...
    def shut(self) -> None: ...
    def send(self, data: bytes) -> None: ...


class Speaker:
    """An output as ``Keeper`` keeps it open: nothing is heard from it, but whether it is open is
    known."""

    def __init__(self, midi: MidiOutput) -> None:
        self.is_open = False
        self._midi = midi

    def names(self) -> list[str]:
        return self._midi.names()

    def open(self, index: int, _callback: Callable[[Any, Any], None]) -> None:
        self._midi.open(index)
        self.is_open = True

    def is_connected(self) -> bool:
        return self._midi.is_connected()

    def shut(self) -> None:
        self.is_open = False
        self._midi.shut()

    def send(self, data: bytes) -> None:
        if self.is_open:
            self._midi.send(data)


class Clicker:
    """Sounds what it is told, as long as ``over(seconds)``, which waits so long, gives False."""

    def __init__(
        self,
        midi: MidiOutput,
        wanted: str | None,
        sender: Sender,
        clock_ns: Callable[[], int],
    ) -> None:
        self._speaker = Speaker(midi)
        self._keeper = Keeper(self._speaker, wanted, sender, clock_ns, ports.choose_output)
        self._sender = sender
        self._clock_ns = clock_ns
        self._schedule: Schedule | None = None
        self._tick = -1  # of the schedule, sent last
        self._running = False  # MIDI clock was started and not stopped
        self._later: list[tuple[int, int, bytes]] = []  # due, number, message: ends and cues
        self._numbers = 0
        self._rest = b""

    # ----------------------------------------------------------------------------------- being told

    def hear(self, data: bytes) -> None:
        """Bytes came in on standard input. A line that is nonsense is passed over."""
        *lines, self._rest = (self._rest + data).split(b"\n")
        self._rest = self._rest[-LINE_BYTES:]
        for line in lines:
            try:
                told = json.loads(line)
                if "click" in told:
                    found = told["click"]
                    self.click(None if found is None else schedule_from(found, self._clock_ns()))
                if "cue" in told:
                    self.cue(str(told["cue"]["word"]), tones_from(told["cue"]["notes"]))
            except (ValueError, TypeError, LookupError, BadInput):
                self._sender.errors += 1

    def click(self, schedule: Schedule | None) -> None:
        """Click by this from now on; None: no more."""
        if self._running:
            self._speaker.send(STOP)
            self._running = False
        self._schedule, self._tick = schedule, -1

    def cue(self, word: str, tones: Sequence[Tone]) -> None:
        """Sound a cue at once."""
        now_ns = self._clock_ns()
        if self._speaker.is_open:
            self._sender.tell(Cued(now_ns, word))
        for tone in tones:
            self._put(now_ns + round(tone.at_ms * 1e6), tone.on())
            self._put(now_ns + round((tone.at_ms + tone.length_ms) * 1e6), tone.off())

    # -------------------------------------------------------------------------------------- sending

    def run(self, over: Callable[[float], bool]) -> None:
        """Until ``over`` says so."""
        self._keeper.look()
        looked_ns = self._clock_ns()
        while True:
            now_ns = self._clock_ns()
            due_ns = self._send_due(now_ns)
            if due_ns is not None and due_ns <= now_ns:
                continue
            near = due_ns is not None and due_ns - now_ns <= NEAR_NS
            if not near and now_ns - looked_ns > POLL_S * 1e9:
                self._keeper.look()
                looked_ns = now_ns
                continue
            wait_s = POLL_S if due_ns is None else min((due_ns - now_ns) / 1e9, POLL_S)
            if over(wait_s):
                break
        if self._running:
            self._speaker.send(STOP)
        for _, _, data in sorted(self._later):
            if data[0] & 0xF0 == 0x80:
                self._speaker.send(data)

    def shut(self) -> None:
        """Close the port for good."""
        self._keeper.shut()

    def _send_due(self, now_ns: int) -> int | None:
        """Send what is due; returns when the next thing is, None where nothing is to come."""
        schedule = self._schedule
        due_ns = None
        if schedule is not None:
            ahead = schedule.next_tick(self._tick, now_ns)
            if ahead is None:
                self._schedule = schedule = None
            else:
                due_ns = schedule.due_ns(ahead)
                if due_ns <= now_ns:
                    self._send_tick(schedule, ahead)
                    return now_ns
        if self._later and self._later[0][0] <= now_ns:
            self._speaker.send(heapq.heappop(self._later)[2])
            return now_ns
        later_ns = self._later[0][0] if self._later else None
        known = [one for one in (due_ns, later_ns) if one is not None]
        return min(known, default=None)

    def _send_tick(self, schedule: Schedule, tick: int) -> None:
        left_out, self._tick = tick - self._tick - 1, tick
        if not self._speaker.is_open:
            self._running = False
            return
        sent_ns = self._clock_ns()
        sent = schedule.sent_at(tick)
        if schedule.clock and tick > schedule.start_tick:
            if left_out and self._running:
                self._speaker.send(STOP)
                self._running = False
            if not self._running and STOP not in sent:
                sent = (*sent, *schedule.again_at(tick))
        for data in sent:
            self._speaker.send(data)
            if data[0] & 0xF0 == 0x90:
                self._put(sent_ns + LENGTH_NS, note_off(data[1]))
            elif data[0] in (0xFA, 0xFB, 0xFC):
                self._running = data != STOP
        beat = schedule.beat_at(tick)
        if beat is not None:
            self._sender.tell(Beat(sent_ns, beat, schedule.bpm))

    def _put(self, due_ns: int, data: bytes) -> None:
        self._numbers += 1
        heapq.heappush(self._later, (due_ns, self._numbers, data))


def main(argv: Sequence[str] | None = None) -> NoReturn:
    _hurry()
    early: list[bytes] = []  # told before the driver is there

    def work(midi: _Whole, wanted: str | None, sender: Sender, stop: Stop) -> None:
        clicker = Clicker(midi, wanted, sender, time.perf_counter_ns)
        for data in early:
            clicker.hear(data)
        stop.heard = clicker.hear
        clicker.run(stop.within)
        time.sleep(drivers.DRAIN_S)  # what was sent last is still in its buffer
        clicker.shut()

    other = {ports.SOUND: _sound}
    live("livecheck.daemon.clicker", argv, drivers.Output, work, early.append, other)


class _Whole(MidiOutput, Protocol):
    def delete(self) -> None: ...


def _sound(_api: str, _watch: object) -> _Whole:
    """The sound card; numpy is loaded only for it."""
    from .sound_out import SoundOutput

    return SoundOutput()


def _hurry() -> None:
    """Go before other work where the system allows it: it sleeps nearly all of the time. Waiting
    ends when it is due, and not up to 50 us later, as is usual on Linux."""
    with contextlib.suppress(OSError):
        Path("/proc/self/timerslack_ns").write_text("1", "ascii")
    try:
        os.sched_setscheduler(0, os.SCHED_RR, os.sched_param(_PRIORITY))
    except (OSError, AttributeError):
        with contextlib.suppress(OSError, AttributeError):
            os.setpriority(os.PRIO_PROCESS, 0, _NICE)


def clicker_command(driver: str | None, port: str | None) -> list[str]:
    """The command that clicks on a MIDI port."""
    return at_port("livecheck.daemon.clicker", driver, port)


if __name__ == "__main__":
    main()
