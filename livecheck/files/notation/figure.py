"""What was found written down, before it is a cell: notes with exact times, and how they become
cells.

Owns the grid, the checks that all kinds of file share (one note at a time, not too many), and the
choice of places where only pitches are known.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from ...core.cell import Cell, make_cell
from ...core.click import HIGHEST_BPM, LOWEST_BPM
from ...core.pitch import name_of
from ...core.plain_text import LONGEST_NAME
from ...core.positions import HIGHEST_FRET, Place, readings
from ...errors import BadInput
from ..cellfile import FINEST_GRID, MOST_SLOTS, MOST_STEPS
from ..config import cell_from_dict, cell_to_dict
from ..written import one_line

MOST_NOTES = 4096  # that are looked at
MOST_READINGS = 8
USUAL_GRIDS, FINE = (1, 2, 3, 4, 6, 8, 12, 16), 6
CLOSELY = Fraction(1, 200)  # of a quarter note
LONGEST = MOST_SLOTS  # grid steps of one note


class Unreadable(Exception):
    """What is wrong with a file, and where in it (line or bar)."""


@dataclass(frozen=True, slots=True)
class Sound:
    """One note as it is written down."""

    start: Fraction  # quarter notes from the beginning of what was chosen
    length: Fraction
    where: str  # its line or bar, for mistakes
    pitch: int  # sounding
    place: Place | None = None  # string and fret, where they are written
    stroke: str | None = None


@dataclass(frozen=True, slots=True)
class Figure:
    """The notes of a file or of some of its bars, in order of time."""

    name: str
    sounds: tuple[Sound, ...]
    length: Fraction  # quarter notes
    tuning: tuple[int, ...]
    capo: int = 0
    tempo_bpm: float | None = None
    grid: int | None = None  # where the kind of file says it
    slack: Fraction = Fraction(0)  # quarter notes by which times may be off, for rounded ones
    bar: Fraction | None = None  # quarter notes of a bar, where all are alike
    others: tuple[tuple[Place, ...], ...] = ()  # places of further readings
    lower_too: bool = False  # may be written an octave above what sounds, as for the guitar
    notes: tuple[str, ...] = ()  # what the player should know


@dataclass(frozen=True, slots=True)
class Asked:
    """What was asked for beside the file."""

    bars: tuple[int, int] | None = None  # first and last, from 1
    track: int | None = None
    grid: int | None = None
    tuning: tuple[int, ...] | None = None
    capo: int | None = None

    @property
    def anything(self) -> bool:
        return self != Asked()


def cells_of(figure: Figure, grid: int | None = None) -> tuple[list[Cell], list[str]]:
    """The cells that a figure may be, the likeliest first, and remarks.

    Raises Unreadable where it is none: nothing to play, two notes at once, too long, off every
    grid.
    """
    sounds = sorted(figure.sounds, key=lambda sound: sound.start)
    if not sounds:
        raise Unreadable("there are no notes in it")
    if len(sounds) > MOST_NOTES:
        raise Unreadable(f"holds more than {MOST_NOTES} notes; choose some with --bars 1-4")
    for one, other in zip(sounds, sounds[1:]):
        if one.start == other.start:
            raise Unreadable(
                f"{other.where}: {name_of(one.pitch)} and {name_of(other.pitch)} begin together; a "
                "cell has one note at a time"
            )
    steps = grid or figure.grid or _grid(sounds, figure)
    notes = list(figure.notes)
    timed, total = _on_grid(sounds, figure, steps)
    timed, total, times = _once(timed, total, figure, steps)
    if times > 1:
        notes.append(f"the same cell stands there {times} times; it is read once")
    if len(timed) > MOST_SLOTS or total > MOST_STEPS:
        raise Unreadable(
            f"{len(timed)} notes on {total} grid steps; a cell has at most {MOST_SLOTS} on "
            f"{MOST_STEPS}: choose some with --bars 1-2"
        )
    places = _places([sound for sound, _, _ in timed], figure)
    if len(places) > 1:
        notes.append(
            f"{len(places)} ways to play these notes; the first is the easiest for the hand"
        )
    return [_cell(figure, timed, total, steps, way) for way in places], notes


def _grid(sounds: Sequence[Sound], figure: Figure) -> int:
    """The coarsest grid that all times lie on; where only the ends do not, they give way.

    Where times may be rounded, ends are those of a performance: they choose no unusual grid.
    """
    starts = [sound.start for sound in sounds]
    ends = [sound.start + sound.length for sound in sounds]
    coarsest = _coarsest(starts, figure)
    for times in ([*starts, *ends, figure.length], [*starts, figure.length]):
        grid = _coarsest(times, figure)
        if grid is not None and (
            not figure.slack or grid == coarsest or (grid in USUAL_GRIDS and grid <= FINE)
        ):
            return grid
    if coarsest is not None:
        return coarsest
    first = next(
        sound
        for sound in sounds
        if all(_off(sound.start, grid) > figure.slack for grid in (12, 16)) or sound is sounds[-1]
    )
    raise Unreadable(
        f"{first.where}: the notes lie on no grid of up to {FINEST_GRID} steps a beat; `livecheck "
        "cell learn` reads what was played freely"
    )


def _coarsest(times: Sequence[Fraction], figure: Figure) -> int | None:
    """The coarsest grid that all times lie on; an unusual one only where they do so closely."""
    for grid in range(1, FINEST_GRID + 1):
        slack = figure.slack if grid in USUAL_GRIDS else min(figure.slack, CLOSELY)
        if all(_off(time, grid) <= slack for time in times):
            return grid
    return None


def _off(time: Fraction, grid: int) -> Fraction:
    return abs(time - Fraction(round(time * grid), grid))


_Timed = tuple[Sound, int, int]  # start and length in grid steps


def _on_grid(sounds: Sequence[Sound], figure: Figure, grid: int) -> tuple[list[_Timed], int]:
    """Every note with its place on the grid; none reaches into the next."""
    starts = [round(sound.start * grid) for sound in sounds]
    for (one, start), (other, after) in zip(zip(sounds, starts), zip(sounds[1:], starts[1:])):
        if start == after:
            raise Unreadable(
                f"{other.where}: {name_of(one.pitch)} and {name_of(other.pitch)} fall on the same "
                f"step at {grid} to the beat; choose a finer --grid"
            )
    total = max(round(figure.length * grid), starts[-1] + 1)
    timed = []
    for sound, start, ahead in zip(sounds, starts, [*starts[1:], total]):
        length = min(max(1, round(sound.length * grid)), ahead - start, LONGEST)
        timed.append((sound, start, length))
    return timed, total


def _once(
    timed: list[_Timed], total: int, figure: Figure, grid: int
) -> tuple[list[_Timed], int, int]:
    """A figure that stands there several times over, in whole bars, once."""
    bar = figure.bar * grid if figure.bar is not None else None
    if bar is None or bar.denominator != 1:
        return timed, total, 1
    step = int(bar)
    told = {
        start: (length, sound.pitch, sound.place, sound.stroke) for sound, start, length in timed
    }
    for period in range(step, total // 2 + 1, step):
        if total % period == 0 and all(
            told.get((start + period) % total) == what for start, what in told.items()
        ):
            once = [one for one in timed if one[1] < period]
            return once, period, total // period
    return timed, total, 1


def _places(sounds: Sequence[Sound], figure: Figure) -> list[tuple[Place, ...]]:
    """Strings and frets: as they are written, else those that a hand can play."""
    written = tuple(sound.place for sound in sounds if sound.place is not None)
    if len(written) == len(sounds):
        others = [other[: len(sounds)] for other in figure.others]
        return list(dict.fromkeys([written, *others]))[:MOST_READINGS]
    for sound in sounds:
        if not any(
            0 <= sound.pitch - open_pitch - figure.capo <= HIGHEST_FRET
            for open_pitch in figure.tuning
        ):
            raise Unreadable(
                f"{sound.where}: {name_of(sound.pitch)} is on no string of "
                f"{' '.join(map(name_of, figure.tuning))}; give another --tuning"
            )
    pitches = [sound.pitch for sound in sounds]
    known = [sound.place for sound in sounds]
    found = readings(pitches, figure.tuning, figure.capo, MOST_READINGS, known)
    if figure.lower_too and not written:
        lower = [pitch - 12 for pitch in pitches]
        found = found[:3] + readings(lower, figure.tuning, figure.capo, 3)
    if not found:  # settled places beyond the usual frets
        raise Unreadable("strings are written for some notes only; write them for all or for none")
    others = [other[: len(sounds)] for other in figure.others]
    return list(dict.fromkeys([*found, *others]))[: MOST_READINGS + len(others)]


def _cell(
    figure: Figure, timed: Sequence[_Timed], total: int, grid: int, places: Sequence[Place]
) -> Cell:
    slots: list[tuple[int, int, str | None, int] | int] = []
    at = 0
    for (sound, start, length), (string, fret) in zip(timed, places):
        slots += _rests(start - at)
        slots.append((string, fret, sound.stroke, length))
        at = start + length
    slots += _rests(total - at)
    tempo = figure.tempo_bpm
    cell = make_cell(
        clean_name(figure.name),
        slots,
        grid=grid,
        tempo_bpm=tempo if tempo is not None and LOWEST_BPM <= tempo <= HIGHEST_BPM else None,
        tuning=figure.tuning,
        capo=figure.capo,
    )
    try:
        return cell_from_dict(cell_to_dict(cell), "the cell")
    except BadInput as error:
        raise Unreadable(str(error)) from None


def _rests(steps: int) -> Iterable[int]:
    return [steps] if steps > 0 else []


def clean_name(text: str) -> str:
    """A title as a cell may be called."""
    return " ".join(one_line(text).split())[:LONGEST_NAME].strip() or "unnamed"


def chosen(bars: tuple[int, int] | None, count: int) -> tuple[int, int]:
    """First and last bar, from 1; all where none is asked for. Raises Unreadable where they are not
    there."""
    if bars is None:
        return 1, max(count, 1)
    if not 1 <= bars[0] <= bars[1] <= count:
        there = "1 bar" if count == 1 else f"{count} bars"
        raise Unreadable(f"bars {bars[0]}-{bars[1]} are not there: it has {there}")
    return bars


def renamed(cell: Cell, name: str) -> Cell:
    """The same cell under another name."""
    return replace(cell, name=name)
