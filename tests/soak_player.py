"""Two processes for the long run: ``listen HOME SECONDS RATE`` is a console with its recorder,
``play SECONDS RATE`` is what it listens to: a minute of play at so many notes a second, over and
over, by the reader's pipe protocol."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from itertools import count
from pathlib import Path
from random import Random
from typing import Any

from livecheck.commands.live import Showing, record_and_show
from livecheck.commands.record import recording
from livecheck.core.cell import Cell, make_cell
from livecheck.core.events import Midi
from livecheck.daemon.frames import Sender
from livecheck.player.feed import _input_open, play_into
from livecheck.player.habits import Conversion, Habits
from livecheck.player.takes import Take, perform, rig_for

CELL: Cell = make_cell(
    "eight without a rest",
    [(2, 13), (2, 10), (3, 12), (3, 10), (4, 12), (4, 10), (3, 10), (3, 12)],
    tempo_bpm=300.0,
)
CONVERTER = Conversion(ghost=0.02, double=0.01, octave_corrected=0.01, sensing=True, vibrato=0.2)
ROUND_S = 60.0


def minute(notes_per_s: float) -> Take:
    """A minute of play with every fault now and then."""
    habits = Habits(
        notes_per_s=notes_per_s,
        reps=int(notes_per_s * (ROUND_S - 3.0) / CELL.steps),
        dropped=0.01,
        wrong_fret=0.01,
        soft=0.01,
        clipped=0.05,
        brushed=0.01,
    )
    return perform(CELL, habits, CONVERTER, Random(f"soak {notes_per_s}"))


def rounds(seconds: float, notes_per_s: float) -> Iterator[Midi]:
    """The minute, over and over."""
    records = [record for record in minute(notes_per_s).records if record.t_s < ROUND_S]
    for turn in count():
        for record in records:
            t_s = turn * ROUND_S + record.t_s
            if t_s > seconds:
                return
            yield Midi(t_s, record.data)


def play(seconds: float, notes_per_s: float) -> None:
    sender = Sender(sys.stdout.fileno())
    records: Any = rounds(seconds, notes_per_s)
    play_into(sender, [records], speed=1.0, clock_ns=time.perf_counter_ns, wait=_input_open)
    while not sender.flush():
        time.sleep(0.02)


def listen(home: Path, seconds: float, notes_per_s: float) -> None:
    source = [sys.executable, __file__, "play", str(seconds), str(notes_per_s)]
    told = recording(home, (CELL,), rig_for(CELL, CONVERTER), source=source)
    record_and_show(told, Showing(), sys.stdout)


if __name__ == "__main__":
    if sys.argv[1] == "play":
        play(float(sys.argv[2]), float(sys.argv[3]))
    else:
        listen(Path(sys.argv[2]), float(sys.argv[3]), float(sys.argv[4]))
