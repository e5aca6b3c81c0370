"""Play a take in real time, in the place of a MIDI input: a child process that speaks the reader's
pipe protocol.

Frames go to standard output (``daemon/frames.py``, the protocol that both share); the process ends
when the take is over or its standard input closes. Each message is stamped at the moment it is
sent, as a driver's callback would.

    python -m livecheck.player.feed [--seconds N] [--seed N] [--cell FILE [--variant NAME]] [--speed
    X]
"""

from __future__ import annotations

import argparse
import os
import select
import signal
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from ..core.cell import Cell
from ..core.events import Midi
from ..core.playing import BUILT_IN
from ..daemon.frames import BEAT_S, End, Sender, Up
from ..errors import LivecheckError
from .demo import demo_rounds

_WAIT_S = 2.0  # for what the pipe owes, at the end


def play_into(
    sender: Sender,
    rounds: Iterable[Sequence[Midi]],
    *,
    speed: float,
    clock_ns: Callable[[], int],
    wait: Callable[[float], bool],
) -> None:
    """Send one round's records after the other's at their times, heartbeats between. A round is
    asked for when the one before is over, and its times count from then. wait(seconds) gives False
    where nobody listens any more."""
    beat_ns = clock_ns()
    sender.tell(Up(beat_ns, BUILT_IN))
    sender.beat(beat_ns)
    for records in rounds:
        begun_ns = clock_ns()
        for record in records:
            due_ns = begun_ns + int(record.t_s / speed * 1e9)
            while (left_ns := due_ns - clock_ns()) > 0:
                if not wait(min(left_ns / 1e9, BEAT_S / 2)):
                    return
                if clock_ns() - beat_ns >= BEAT_S * 1e9:
                    beat_ns = clock_ns()
                    sender.beat(beat_ns)
            sender.message(clock_ns(), record.data)
    sender.beat(clock_ns())
    sender.tell(End(clock_ns(), "the take is over"))


def _input_open(seconds: float) -> bool:
    """Wait so long; False as soon as standard input closes."""
    ready, _, _ = select.select([0], [], [], seconds)
    return not ready or bool(os.read(0, 4096))


def _cell(path: str | None, variant: str | None) -> Cell | None:
    if path is None:
        return None
    from ..files.config import load_cell

    cell = load_cell(Path(path))
    return cell.with_variant(variant) if variant is not None else cell


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(
        prog="livecheck.player.feed", description="Play a practice scenario."
    )
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--cell", metavar="FILE")
    parser.add_argument("--variant", metavar="NAME")
    parser.add_argument("--speed", type=float, default=1.0)
    asked = parser.parse_args(arguments)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever started this process ends it
    try:
        cell = _cell(asked.cell, asked.variant)
    except LivecheckError as error:
        print(error, file=sys.stderr)
        return error.exit_status
    sender = Sender(sys.stdout.fileno())
    rounds = demo_rounds(cell, asked.seconds, asked.seed)
    play_into(sender, rounds, speed=asked.speed, clock_ns=time.perf_counter_ns, wait=_input_open)
    until = time.monotonic() + _WAIT_S
    while not sender.flush() and time.monotonic() < until:
        time.sleep(0.02)
    return 0


if __name__ == "__main__":
    sys.exit(main())
