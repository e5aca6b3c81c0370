"""Ladders of the built-in player whose picking has habits, with faults that go with the direction.

Like ``played_ladder.py``: what is planted lies in what is played, before conversion. A repetition
is spoilt with a chance that falls with the tempo, in another way begun with a down stroke than with
an up stroke; a string may sound at one note when that is an up stroke.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import exp, log
from random import Random

from livecheck.core.cell import Cell
from livecheck.core.events import Midi, RepDone, Repetition
from livecheck.core.rig import Gate
from livecheck.player.converter import convert
from livecheck.player.guitarist import play
from livecheck.player.habits import Conversion, Habits
from livecheck.player.sounds import Sound
from livecheck.player.takes import rig_for
from livecheck.player.wire import send
from livecheck.session import Session

CONVERTER = Conversion(jitter_ms=0.6, periods=1.6)
PAUSE_S = 7.0


@dataclass(frozen=True, slots=True)
class Practice:
    """Repetitions as judged; the true stroke of each note by its arrival; and of each repetition
    played its tempo, its beginning and whether it was left unspoilt, in order."""

    reps: list[Repetition]
    strokes: dict[float, str]
    played: list[tuple[float, str, bool]]


def practice(
    rng: Random,
    cell: Cell,
    tempos: Sequence[float],
    reps: int,
    chance: dict[str, Callable[[float], float]],
    habits: Habits,
    *,
    luck: float = 0.3,
    noise_at: tuple[int, int, str] | None = None,
    noise_chance: float = 0.3,
    seam_from: tuple[float, str] | None = None,
) -> Practice:
    """A take of so many repetitions at each tempo.

    chance: of being left unspoilt, by beginning. noise_at: string, slot and stroke: the string
    sounds after the slot when that has the stroke, with ``noise_chance``. seam_from: a tempo from
    which on another seam is played.
    """
    sounds: list[Sound] = []
    played: list[tuple[float, str, bool]] = []
    clock, hands = 1.0, rng.randrange(10**9)
    slots = [slot.number for slot in cell.slots]
    for bpm in tempos:
        own = replace(habits, notes_per_s=bpm / 60.0 * cell.grid, reps=reps)
        if seam_from is not None and bpm >= seam_from[0]:
            own = replace(own, seam=seam_from[1])
        done = play(cell, own, rng, start_s=clock, same_hands=hands)
        moved = rng.gauss(0.0, luck)
        spoilt: dict[int, int] = {}
        for this in done.passes:
            first = done.strokes[this.rep, 1]
            p = min(max(chance[first](bpm), 1e-9), 1 - 1e-9)
            good = rng.random() < 1.0 / (1.0 + exp(-(log(p / (1.0 - p)) + moved)))
            if not good:
                spoilt[this.rep] = rng.choice(slots[1:])
            played.append((bpm, first, good))
        for sound in done.sounds:
            rep, slot, _ = sound.label
            if rep in spoilt and spoilt[rep] == slot:
                continue
            sounds.append(sound)
            if (
                noise_at is not None
                and slot == noise_at[1]
                and sound.stroke == noise_at[2]
                and rng.random() < noise_chance
            ):
                sounds.append(_brushed(cell, sound, noise_at[0]))
        last = done.passes[-1]
        clock = max(last.due_s, max(last.times_s.values())) + PAUSE_S
    sounds.sort(key=lambda sound: sound.t_s)
    messages = send(convert(cell, sounds, CONVERTER, rng, Gate()), CONVERTER, len(cell.tuning), rng)
    strokes = {
        message.ready_s: message.sound.stroke
        for message in messages
        if message.sound is not None
        and message.label is not None
        and message.label.slot is not None
    }
    session = Session(cell, rig_for(cell, CONVERTER))
    outcomes = session.feed_all([Midi(message.ready_s, message.data) for message in messages])
    judged = [one.repetition for one in outcomes if isinstance(one, RepDone)]
    return Practice(judged, strokes, played)


def _brushed(cell: Cell, sound: Sound, string: int) -> Sound:
    at = sound.t_s + 0.5 * (sound.end_s - sound.t_s)
    label = sound.label._replace(rep=None, slot=None, verdict="noise")
    pitch = cell.tuning[string - 1] + cell.capo
    return Sound(at, at + 0.06, string, pitch, 42, "brush", label)


def falling(break_bpm: float, width_bpm: float, lapse: float = 0.01) -> Callable[[float], float]:
    """Chance that a repetition is left unspoilt: about one half at the break."""
    return lambda bpm: (1.0 - lapse) / (1.0 + exp((bpm - break_bpm) / width_bpm))
