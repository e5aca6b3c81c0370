"""A session cut into its takes, each a stream of records of its own.

A take's records begin shortly before its first repetition and go on until shortly before the next take's; what was
sounded before the first take belongs to none. Each begins with what its notes need to be understood: the rig, the cell,
and each channel's bend range and bend as they stood.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from ..core.events import Mark, Midi, Outcome, Record, RepDone, UseCells, UseRig

LEAD_S = 0.5  # before the first repetition, where the take before it has ended by then
RANGE_CONTROLLERS = (101, 100, 6, 38)  # in the order in which a bend range is set


def take_starts(outcomes: Iterable[Outcome]) -> list[tuple[int, float]]:
    """Each take's number and where its records begin, in seconds from the session's start."""
    spans: dict[int, tuple[float, float]] = {}
    for outcome in outcomes:
        if isinstance(outcome, RepDone):
            rep = outcome.repetition
            first = min([rep.start_s, *(slot.note.onset_s for slot in rep.slots if slot.note is not None)])
            last = max([rep.start_s, *(slot.note.onset_s for slot in rep.slots if slot.note is not None)])
            start, end = spans.get(rep.take, (first, last))
            spans[rep.take] = min(start, first), max(end, last)
    starts, before_s = [], 0.0
    for take, (start, end) in sorted(spans.items()):
        starts.append((take, max(start - LEAD_S, (start + before_s) / 2.0, 0.0)))
        before_s = end
    return starts


def cut(records: Iterable[Record], starts: Sequence[float]) -> Iterator[list[Record]]:
    """The records of each take, its times counted from its own start."""
    state: dict[tuple[int, int], bytes] = {}
    chosen: dict[type, Record] = {}
    takes: list[list[Record]] = [[] for _ in starts]
    begun = -1
    for record in records:
        while begun + 1 < len(starts) and record.t_s >= starts[begun + 1]:
            begun += 1
            takes[begun] += [_at(one, 0.0) for one in chosen.values()]
            takes[begun] += [Midi(0.0, data) for _, data in sorted(state.items(), key=_order)]
            if begun:
                yield takes[begun - 1]
                takes[begun - 1] = []
        if isinstance(record, Midi):
            _remember(state, record.data)
        elif isinstance(record, UseRig | UseCells):
            chosen[type(record)] = record
        if begun >= 0 and isinstance(record, Midi | Mark | UseRig | UseCells):
            takes[begun].append(_at(record, record.t_s - starts[begun]))
    if begun >= 0:
        yield takes[begun]


def _remember(state: dict[tuple[int, int], bytes], data: bytes) -> None:
    """Keep the last of what a channel's later notes depend on: (channel, controller), 255 for the bend."""
    if len(data) != 3:
        return
    kind, channel = data[0] & 0xF0, data[0] & 0x0F
    if kind == 0xE0:
        state[channel, 255] = data
    elif kind == 0xB0 and data[1] in RANGE_CONTROLLERS:
        selected = [state.get((channel, number), b"\0\0\x7f")[2] for number in RANGE_CONTROLLERS[:2]]
        if data[1] in RANGE_CONTROLLERS[:2] or selected == [0, 0]:
            state[channel, data[1]] = data


def _order(entry: tuple[tuple[int, int], bytes]) -> tuple[int, int]:
    (channel, controller), _ = entry
    return channel, (*RANGE_CONTROLLERS, 255).index(controller)


def _at(record: Record, t_s: float) -> Record:
    if isinstance(record, Midi):
        return Midi(t_s, record.data)
    if isinstance(record, Mark):
        return Mark(t_s, record.text)
    if isinstance(record, UseRig):
        return UseRig(t_s, record.rig)
    assert isinstance(record, UseCells)
    return UseCells(t_s, record.cells)
