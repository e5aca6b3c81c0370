"""What was played, as a cell, with how sure that is and what is not.

The search tells which figures could have been meant and how likely each is; here the likeliest
becomes a cell, and the others become the words of a doubt.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import log
from statistics import median

from ...core.cell import Cell, make_cell
from ...core.click import HIGHEST_BPM, LOWEST_BPM
from ...core.events import Record
from ...core.pitch import STANDARD_TUNING, name_of
from ...core.rig import Rig
from ..stats import sigmoid
from .search import LEAST_REPS, Figure, Found, found, rounds, unexplained
from .sounds import Sounds, notes_of, sounds_of

SURE = 0.9
"""A cell is told for sure from this chance on."""

_HELD = 0.6
"""A note that sounds for less of its time is one with a rest after it (no source)."""
_LOUDEST_DOUBT = 0.02


@dataclass(frozen=True, slots=True)
class Learned:
    """The answer. ``chance``: that the cell is exactly right. ``why``: what it is not sure of, None
    where it is sure. ``repetitions``: complete ones that were heard. ``step_s``: a grid step."""

    sure: bool
    chance: float
    why: str | None
    cell: Cell | None
    repetitions: int
    step_s: float | None = None


def learn(
    records: Iterable[Record],
    rig: Rig | None = None,
    *,
    tuning: Sequence[int] = STANDARD_TUNING,
    capo: int = 0,
    grid: int = 4,
    start: int = 1,
    name: str = "learned",
) -> Learned:
    """The cell that was played over and over.

    rig: what the notes came through; without it channel 1 is string 1, and no delay is taken off.
    start: the slot, as found, that becomes the first one. Raises ValueError where there is none.
    """
    if rig is None:
        rig = Rig(channels=tuple(range(1, len(tuning) + 1)))
    sounds = sounds_of(notes_of(records, rig))
    if len(sounds) < 4:
        heard = {0: "no note was", 1: "only 1 note was"}
        notes = heard.get(len(sounds), f"only {len(sounds)} notes were")
        return _nothing(f"{notes} heard: play the cell three times or more")
    answer = found(sounds)
    if answer is None:
        return _nothing("nothing that was heard comes back: play the cell three times or more")
    figure = answer.ranked[0][0]
    below = [
        (string, pitch)
        for string, pitch in (sounds.symbols[one] for one in figure.slots)
        if string > len(tuning) or pitch < tuning[string - 1] + capo
    ]
    reps = rounds(figure, answer.story)
    if reps < 2:
        return _nothing("nothing that was heard comes back: play the cell three times or more")
    if below:
        return _nothing(_no_place(below[0], tuning, capo), reps)
    if not 1 <= start <= len(figure.slots):
        raise ValueError(f"the cell has {len(figure.slots)} notes")
    chance = _chance(sounds, answer, reps)
    sure = chance >= SURE and reps >= LEAST_REPS
    step_s = _step_s(answer)
    places = _places(sounds, answer, start - 1, tuning, capo)
    tempo = round(60.0 / (step_s * grid), 1)
    cell = make_cell(
        name,
        places,
        grid=grid,
        tempo_bpm=tempo if LOWEST_BPM <= tempo <= HIGHEST_BPM else None,
        tuning=tuning,
        capo=capo,
    )
    why = None if sure else _doubts(sounds, answer, reps, tuning, capo)
    return Learned(sure, round(chance, 3), why, cell, reps, step_s)


def _nothing(why: str, reps: int = 0) -> Learned:
    return Learned(False, 0.0, why, None, reps)


def _no_place(heard: tuple[int, int], tuning: Sequence[int], capo: int) -> str:
    string, pitch = heard
    if string > len(tuning):
        return f"string {string} sounded, and the tuning has {len(tuning)}: say it by --tuning"
    lowest = name_of(tuning[string - 1] + capo)
    return (
        f"string {string} sounded {name_of(pitch)}, below its lowest note {lowest}: "
        "say the tuning by --tuning, the capo by --capo"
    )


def _step_s(answer: Found) -> float:
    """Seconds a grid step, the middle of all that was played."""
    return median(
        step for step, slot in zip(answer.story.step_s, answer.story.answers) if slot >= 0
    )


# ------------------------------------------------------------------------------------- how sure


def _chance(sounds: Sounds, answer: Found, reps: int) -> float:
    """That the cell is exactly right: the weight of its figure among all that were tried, less
    where much is left over or the figure was heard too seldom. The numbers are fitted to takes
    whose truth is known (bench_learn.py)."""
    raw = min(max(answer.ranked[0][1], 1e-4), 1.0 - 1e-4)
    odds = 0.3 + 0.9 * log(raw / (1.0 - raw))
    odds -= 1.5 * max(0, LEAST_REPS - reps)
    odds -= 12.0 * max(0.0, unexplained(sounds, answer.story) - 0.12)
    return sigmoid(odds)


# ------------------------------------------------------------------------------------- the slots


def _places(
    sounds: Sounds, answer: Found, first: int, tuning: Sequence[int], capo: int
) -> list[tuple[int, int, str | None, int] | int]:
    """Slots and rests as ``make_cell`` takes them; a note that is let go early has a rest."""
    figure = answer.ranked[0][0]
    held = _held(sounds, answer)
    places: list[tuple[int, int, str | None, int] | int] = []
    for at in range(len(figure.slots)):
        slot = (first + at) % len(figure.slots)
        string, pitch = sounds.symbols[figure.slots[slot]]
        steps, share = figure.steps[slot], held[slot]
        length = steps
        if steps > 1 and share is not None and share < _HELD:
            length = min(max(1, round(share * steps)), steps)
        places.append((string, pitch - tuning[string - 1] - capo, None, length))
        if length < steps:
            places.append(steps - length)
    return places


def _held(sounds: Sounds, answer: Found) -> list[float | None]:
    """For how much of its time each slot sounds, the middle of its repetitions."""
    figure, story = answer.ranked[0][0], answer.story
    shares: list[list[float]] = [[] for _ in figure.slots]
    for at, slot in enumerate(story.answers):
        end_s = sounds.end_s[at]
        if slot >= 0 and end_s is not None and story.step_s[at] > 0.0:
            whole_s = figure.steps[slot] * story.step_s[at]
            shares[slot].append((end_s - sounds.time_s[at]) / whole_s)
    return [median(each) if each else None for each in shares]


# ------------------------------------------------------------------------------------- its doubts


def _doubts(sounds: Sounds, answer: Found, reps: int, tuning: Sequence[int], capo: int) -> str:
    """What it is not sure of, in words."""
    told: list[str] = []
    if reps < LEAST_REPS:
        told.append("the cell was heard only twice from beginning to end")
    best = answer.ranked[0][0]
    for other, chance in answer.ranked[1:]:
        if chance < _LOUDEST_DOUBT or len(told) >= 3:
            break
        text = _difference(sounds, best, other, tuning, capo)
        if text not in told:
            told.append(text)
    if unexplained(sounds, answer.story) > 0.12:
        told.append("many notes do not belong to it")
    return "; ".join(told) or "it was played too unevenly to be sure of every length"


def _difference(
    sounds: Sounds, best: Figure, other: Figure, tuning: Sequence[int], capo: int
) -> str:
    """How another figure differs from the one told."""
    count = len(best.slots)
    if len(other.slots) != count:
        size = "1 note" if len(other.slots) == 1 else f"{len(other.slots)} notes"
        return f"it may have {size}, not {count}"
    if any(other == best.turned(by) for by in range(1, count)):
        by = next(by for by in range(1, count) if other == best.turned(by))
        return f"it may begin at note {by + 1}"
    if other.slots == best.slots:
        lengths = zip(best.steps, other.steps)
        differing = [str(at) for at, (one, two) in enumerate(lengths, 1) if one != two]
        if len(differing) > 3:
            return "the lengths may be others"
        return f"the length of note {' and '.join(differing)} may be another"
    notes = [at for at in range(count) if best.slots[at] != other.slots[at]]
    if len(notes) == 1:
        string, pitch = sounds.symbols[other.slots[notes[0]]]
        if string <= len(tuning) and pitch >= tuning[string - 1] + capo:
            fret = pitch - tuning[string - 1] - capo
            return f"note {notes[0] + 1} may be string {string}, fret {fret}"
        return f"note {notes[0] + 1} may be another"
    return "another cell fits nearly as well"
