"""Steady notes as a measurement of the delay takes them: what was struck and clicked, and what that
says."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ..core.decode import Decoder
from ..core.events import Click, Midi, Record
from ..core.rig import Rig
from ..core.tunings import usual_tuning
from ..measures.delay.estimate import DelayEstimate, Struck, against_click, from_pulse


def steady_estimate(
    notes: Sequence[Struck], clicks_s: Sequence[float] | None, rig: Rig
) -> DelayEstimate:
    """From steady notes, to a click where there was one."""
    if clicks_s is None:
        return from_pulse(notes, open_strings(rig))
    return against_click(notes, clicks_s, open_strings(rig))


def open_strings(rig: Rig) -> tuple[int, ...]:
    """The rig's tuning, else the usual one."""
    return rig.tuning or usual_tuning(min(len(rig.channels), 8))


def one_after_another(
    found: list[tuple[list[Struck], list[float]]],
) -> tuple[list[Struck], list[float]]:
    """Several takes on one time line, a minute apart."""
    notes: list[Struck] = []
    clicks: list[float] = []
    at_s = 0.0
    for own, own_clicks in found:
        notes += [note._replace(t_s=note.t_s + at_s) for note in own]
        clicks += [click_s + at_s for click_s in own_clicks]
        at_s = 60.0 + max([at_s, *(note.t_s for note in notes), *clicks])
    return notes, clicks


def struck(
    records: Iterable[Record], rig: Rig, channel: int | None = None
) -> tuple[list[Struck], list[float]]:
    """The notes above the gate as the rig hears them, and the clicks: those written down, or notes
    on a channel."""
    decoder = Decoder(rig, list(enumerate(open_strings(rig), 1)))
    notes: list[Struck] = []
    clicks: list[float] = []

    def release(now_s: float) -> None:
        for note in decoder.due(now_s):
            if not note.gated and note.by == "note":
                notes.append(Struck(note.onset_s, note.string, note.pitch))

    for record in records:
        if isinstance(record, Click) and channel is None:
            clicks.append(record.t_s)
        if not isinstance(record, Midi):
            continue
        release(record.t_s)
        if channel is not None and len(record.data) == 3 and record.data[0] == (0x90 | channel - 1):
            if record.data[2]:
                clicks.append(record.t_s)
        else:
            decoder.feed(record.t_s, record.data)
    release(float("inf"))
    return notes, clicks
