"""A session cut into its takes, each a stream of records of its own.

A take's records begin shortly before its first repetition and go on until shortly before the next
take's; what was sounded before the first take belongs to none. Each begins with what its notes need
to be understood: the rig, the cell, and each channel's bend range and bend as they stood.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from ..core.events import Mark, Midi, Outcome, Record, RepDone, UseCells, UseRig

LEAD_S = 0.5  # before the first repetition, where the take before it has ended by then


def take_starts(outcomes: Iterable[Outcome]) -> list[tuple[int, float]]:
    """Each take's number and where its records begin, in seconds from the session's start."""
    spans: dict[int, tuple[float, float]] = {}
    for outcome in outcomes:
        if isinstance(outcome, RepDone):
            rep = outcome.repetition
            first = min(
                [rep.start_s, *(slot.note.onset_s for slot in rep.slots if slot.note is not None)]
            )
            last = max(
                [rep.start_s, *(slot.note.onset_s for slot in rep.slots if slot.note is not None)]
            )
            start, end = spans.get(rep.take, (first, last))
            spans[rep.take] = min(start, first), max(end, last)
    starts, before_s = [], 0.0
    for take, (start, end) in sorted(spans.items()):
        starts.append((take, max(start - LEAD_S, (start + before_s) / 2.0, 0.0)))
        before_s = end
    return starts


def cut(records: Iterable[Record], starts: Sequence[float]) -> Iterator[list[Record]]:
    """The records of each take, its times counted from its own start."""
    channels = [_Channel() for _ in range(16)]
    chosen: dict[type, Record] = {}
    takes: list[list[Record]] = [[] for _ in starts]
    begun = -1
    for record in records:
        while begun + 1 < len(starts) and record.t_s >= starts[begun + 1]:
            begun += 1
            takes[begun] += [_at(one, 0.0) for one in chosen.values()]
            for number, channel in enumerate(channels):
                takes[begun] += [Midi(0.0, data) for data in channel.messages(number)]
            if begun:
                yield takes[begun - 1]
                takes[begun - 1] = []
        if isinstance(record, Midi):
            if len(record.data) == 3 and record.data[0] & 0xF0 in (0xB0, 0xE0):
                channels[record.data[0] & 0x0F].take(record.data)
        elif isinstance(record, UseRig | UseCells):
            chosen[type(record)] = record
        if begun >= 0 and isinstance(record, Midi | Mark | UseRig | UseCells):
            takes[begun].append(_at(record, record.t_s - starts[begun]))
    if begun >= 0:
        yield takes[begun]


class _Channel:
    """What a channel's later notes depend on: bend range, bend, and which parameter is selected."""

    def __init__(self) -> None:
        self.selected = {101: 127, 100: 127}  # none, until one is
        self.range = dict[int, int]()  # data by controller, 6 for semitones and 38 for hundredths
        self.bend: bytes | None = None

    def take(self, data: bytes) -> None:
        if data[0] & 0xF0 == 0xE0:
            self.bend = data
        elif data[1] in self.selected:
            self.selected[data[1]] = data[2]
        elif data[1] in (98, 99):  # a parameter of the maker's own is selected instead
            self.selected = {101: 127, 100: 127}
        elif data[1] in (6, 38) and set(self.selected.values()) == {0}:
            self.range[data[1]] = data[2]

    def messages(self, channel: int) -> list[bytes]:
        """What brings a fresh channel to the same state."""
        control = 0xB0 | channel
        out = []
        if self.range:
            out += [bytes([control, 101, 0]), bytes([control, 100, 0])]
            out += [bytes([control, number, value]) for number, value in sorted(self.range.items())]
            out += [bytes([control, number, value]) for number, value in self.selected.items()]
        return out + ([self.bend] if self.bend is not None else [])


def _at(record: Record, t_s: float) -> Record:
    if isinstance(record, Midi):
        return Midi(t_s, record.data)
    if isinstance(record, Mark):
        return Mark(t_s, record.text)
    if isinstance(record, UseRig):
        return UseRig(t_s, record.rig)
    assert isinstance(record, UseCells)
    return UseCells(t_s, record.cells)
