"""Figures from Standard MIDI Files: a channel for each string, or one channel.

The end of the track is the end of the figure. A beat is a quarter note. Bars are those of the time
signatures, four quarters where there is none.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from ...core.cell import Cell
from ...core.positions import Place
from ...core.tunings import deep_enough
from .. import midiwalk
from .figure import MOST_NOTES, Asked, Figure, Sound, Unreadable, chosen
from .stamp import agrees, find

MOST_BARS = 10_000
HIGHEST_FRET = 24
DRUMS = 10  # channel
_TEXT, _NAME, _TEMPO, _TIME = 0x01, 0x03, 0x51, 0x58
_SLACK = Fraction(1, 90), Fraction(1, 40)  # of a quarter: least and most, for rounded ticks


@dataclass(frozen=True, slots=True)
class _Note:
    start: int  # ticks
    end: int
    channel: int  # from 1
    pitch: int


def read_midi_figure(data: bytes, name: str, asked: Asked) -> tuple[Figure, Cell | None]:
    """The figure of a file, and the cell that was exported to it, where that is still the same.

    Raises Unreadable with the place.
    """
    try:
        division, tracks = midiwalk.tracks(data)
    except midiwalk.Unreadable as wrong:
        raise Unreadable(str(wrong)) from None
    numbers = _tracks_with_notes(tracks, asked.track)
    notes = [note for number in numbers for note in _notes(tracks[number - 1])]
    notes = _without_drums(notes, asked)
    end = max(tracks[number - 1].end for number in numbers)
    metas = sorted((meta for track in tracks for meta in track.metas), key=lambda meta: meta[0])
    bars = _bars(metas, division, end)
    first, last = chosen(asked.bars, len(bars))
    begin = bars[first - 1][0]
    if asked.bars is not None:
        end = bars[last - 1][1]
        notes = [note for note in notes if begin <= note.start < end]
        if not notes:
            raise Unreadable(f"bars {first}-{last}: there are no notes in them")
    if len(notes) > MOST_NOTES:
        raise Unreadable(f"holds more than {MOST_NOTES} notes; choose some with --bars 1-4")
    notes.sort(key=lambda note: (note.start, note.pitch))
    _one_at_a_time(notes, bars, tracks, numbers, asked)
    tuning, others = _strings(notes, asked)
    sounds = []
    ends = [stop for _, stop in bars]
    for note, place in zip(notes, others[0] if others else [None] * len(notes)):
        bar = bisect_right(ends, note.start) + 1
        start, stop = note.start - begin, min(note.end, end) - begin
        sounds.append(
            Sound(
                Fraction(start, division),
                Fraction(max(stop - start, 0), division),
                f"bar {bar}",
                note.pitch,
                place,
            )
        )
    lengths = {stop - start for start, stop in bars[first - 1 : last]}
    figure = Figure(
        _title(tracks, numbers) or name,
        tuple(sounds),
        Fraction(end - begin, division),
        tuning,
        asked.capo or 0,
        _tempo(metas, begin),
        slack=min(max(_SLACK[0], Fraction(3, 4 * division)), _SLACK[1]),
        bar=Fraction(lengths.pop(), division) if len(lengths) == 1 else None,
        others=tuple(others[1:]),
    )
    return figure, _kept(tracks, figure, asked)


def _tracks_with_notes(tracks: Sequence[midiwalk.Track], wanted: int | None) -> list[int]:
    """The numbers of the tracks that are read, from 1."""
    having = [
        number
        for number, track in enumerate(tracks, 1)
        if any(message[0] >> 4 == 9 and message[2] for _, message in track.events)
    ]
    if not having:
        raise Unreadable("there are no notes in it")
    if wanted is None:
        return having
    if wanted not in having:
        there = "; ".join(_described(tracks, number) for number in having)
        raise Unreadable(f"track {wanted} has no notes; there are: {there}")
    return [wanted]


def _described(tracks: Sequence[midiwalk.Track], number: int) -> str:
    name = _text(tracks[number - 1].metas, _NAME)
    count = sum(message[0] >> 4 == 9 and message[2] > 0 for _, message in tracks[number - 1].events)
    return f"{number} ({f'{name[:30]!r}, ' if name else ''}{count} notes)"


def _notes(track: midiwalk.Track) -> Iterator[_Note]:
    """The sounding notes of a track; one that is struck again has ended."""
    sounding: dict[tuple[int, int], int] = {}
    for tick, message in track.events:
        kind, key = message[0] >> 4, (message[0] & 15, message[1])
        if kind in (8, 9):
            if key in sounding:
                yield _Note(sounding.pop(key), tick, key[0] + 1, key[1])
            if kind == 9 and message[2]:
                sounding[key] = tick
    for key, start in sounding.items():
        yield _Note(start, track.end, key[0] + 1, key[1])


def _without_drums(notes: list[_Note], asked: Asked) -> list[_Note]:
    """Without the drum channel, where that stands beside others and is no string."""
    channels = {note.channel for note in notes}
    if DRUMS in channels and DRUMS - 1 not in channels and len(channels) > 1 and not asked.track:
        return [note for note in notes if note.channel != DRUMS]
    return notes


def _bars(
    metas: Sequence[tuple[int, int, bytes]], division: int, end: int
) -> list[tuple[int, int]]:
    """First tick and end of every bar."""
    signatures = [(0, Fraction(4))]
    for tick, kind, body in metas:
        if kind == _TIME and len(body) >= 2 and body[0] and body[1] < 8:
            signatures.append((tick, Fraction(4 * body[0], 2 ** body[1])))
    bars: list[tuple[int, int]] = []
    at = Fraction(0)
    while at < max(end, 1):
        quarters = next(length for tick, length in reversed(signatures) if tick <= at)
        ahead = at + quarters * division
        bars.append((round(at), round(ahead)))
        at = ahead
        if len(bars) > MOST_BARS:
            raise Unreadable(f"holds more than {MOST_BARS} bars; split it")
    return bars


def _one_at_a_time(
    notes: Sequence[_Note],
    bars: Sequence[tuple[int, int]],
    tracks: Sequence[midiwalk.Track],
    numbers: Sequence[int],
    asked: Asked,
) -> None:
    """Two notes that begin together are told here where there are tracks to choose from."""
    starts = Counter(note.start for note in notes)
    tick = next((tick for tick, count in starts.items() if count > 1), None)
    if tick is not None and len(numbers) > 1 and asked.track is None:
        bar = next(at for at, (_, stop) in enumerate(bars, 1) if tick < stop)
        there = "; ".join(_described(tracks, number) for number in numbers)
        raise Unreadable(
            f"bar {bar}: notes of several tracks begin together; choose one with --track: {there}"
        )


def _strings(
    notes: Sequence[_Note], asked: Asked
) -> tuple[tuple[int, ...], list[tuple[Place, ...]]]:
    """The tuning, and places by channel where channels can be strings, the usual numbering first.

    One channel says nothing of strings, unless it is another than the first.
    """
    channels = sorted({note.channel for note in notes})
    capo = asked.capo or 0
    found = []
    lowest = min(note.pitch for note in notes) - capo
    tuning = asked.tuning or deep_enough(lowest)
    if len(channels) == 1 and channels[0] == 1:
        return tuning, []
    for base, sign in ((0, 1), (-10, 1), (7, -1)):
        strings = {channel: base + sign * channel for channel in channels}
        most = max(strings.values())
        own = asked.tuning or deep_enough(lowest, most)
        if min(strings.values()) < 1 or most > len(own):
            continue
        places = tuple(
            (strings[note.channel], note.pitch - own[strings[note.channel] - 1] - capo)
            for note in notes
        )
        if all(0 <= fret <= HIGHEST_FRET for _, fret in places):
            found.append((own, places))
    if not found:
        return tuning, []
    own = found[0][0]
    return own, [places for tuned, places in found if tuned == own]


def _tempo(metas: Sequence[tuple[int, int, bytes]], begin: int) -> float | None:
    """Quarter notes a minute where the figure begins; None where the file does not say it."""
    tempos = [
        (tick, int.from_bytes(body, "big"))
        for tick, kind, body in metas
        if kind == _TEMPO and len(body) == 3
    ]
    before = [value for tick, value in tempos if tick <= begin and value]
    value = before[-1] if before else None
    return None if value is None else round(60e6 / value, 2)


def _title(tracks: Sequence[midiwalk.Track], numbers: Sequence[int]) -> str | None:
    """What the file calls itself, or its only track with notes."""
    return _text(tracks[numbers[0] - 1].metas, _NAME) if len(numbers) == 1 else None


def _text(metas: Sequence[tuple[int, int, bytes]], kind: int) -> str | None:
    body = next((body for _, one, body in metas if one == kind and body.strip()), None)
    return None if body is None else body.decode("utf-8", "replace")


def _kept(tracks: Sequence[midiwalk.Track], figure: Figure, asked: Asked) -> Cell | None:
    """The cell that was exported to the file, where its notes are still those."""
    if asked.anything:
        return None
    for track in tracks:
        for _, kind, body in track.metas:
            if kind == _TEXT:
                cell = find(body.decode("utf-8", "replace"))[1]
                if cell is not None:
                    return cell if agrees(cell, figure, pitches_only=True) else None
    return None
