"""What was heard, as the search for a figure takes it: sounds in order, each a symbol and a time.

Owns what a converter's slips are without any plan to compare with: double triggers, octaves that
correct themselves, notes under the gate. A *symbol* is a string with a sounding pitch.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from statistics import median

from ...core.decode import OCTAVE_ERRORS, OCTAVE_HOLD_S, Decoder, is_double
from ...core.events import Link, Midi, Note, Record
from ...core.rig import Rig

MOST_SOUNDS = 400
"""Only so many of the last sounds are looked at: a figure that is not told by then is none."""


@dataclass(frozen=True, slots=True)
class Sounds:
    """Sounds in the order struck.

    ``symbols``: distinct (string, pitch); ``which``: each sound's place in it. ``time_s``: stroke,
    conversion delay taken off where a rig is known. ``end_s``: None where no end came. ``firm``:
    how much like a meant stroke it is, 1 as loud as its string usually is, less for a brush.
    """

    symbols: tuple[tuple[int, int], ...]
    which: tuple[int, ...]
    time_s: tuple[float, ...]
    end_s: tuple[float | None, ...]
    firm: tuple[float, ...]

    def __len__(self) -> int:
        return len(self.which)


def notes_of(records: Iterable[Record], rig: Rig) -> list[Note]:
    """Every note that a rig makes of records, in the order struck."""
    decoder = Decoder(rig, [(string, 40) for string in range(1, len(rig.channels) + 1)])
    notes: list[Note] = []

    def release(now_s: float) -> None:
        while decoder.due_s is not None and decoder.due_s <= now_s:
            _, note = decoder.release()
            if note is not None:
                notes.append(note)

    for record in records:
        if isinstance(record, Midi):
            release(record.t_s)
            decoder.feed(record.t_s, record.data)
        elif isinstance(record, Link) and not record.up:
            decoder.silence(record.t_s)
    release(float("inf"))
    return notes


def sounds_of(notes: Iterable[Note]) -> Sounds:
    """Sounds without the converter's slips; the last ``MOST_SOUNDS`` of them."""
    kept: list[Note] = []
    latest: dict[int, Note] = {}
    for note in notes:
        before = latest.get(note.string)
        if before is not None and note.by == "note":
            if is_double(before, note):
                if before.gated and not note.gated:
                    kept.append(note)
                    latest[note.string] = note
                continue
            soon = note.onset_s - before.onset_s <= OCTAVE_HOLD_S
            octave = soon and before.pitch - note.pitch in OCTAVE_ERRORS
            if octave and before in kept[-4:]:
                kept.remove(before)
                note.struck_s = before.struck_s
        latest[note.string] = note
        if not note.gated:
            kept.append(note)
    kept.sort(key=lambda note: note.struck_s)
    kept = kept[-MOST_SOUNDS:]
    usual = _usual(kept)
    symbols = sorted({(note.string, note.pitch) for note in kept})
    place = {symbol: at for at, symbol in enumerate(symbols)}
    return Sounds(
        tuple(symbols),
        tuple(place[note.string, note.pitch] for note in kept),
        tuple(note.struck_s for note in kept),
        tuple(note.end_s for note in kept),
        tuple(_firm(note, usual) for note in kept),
    )


def _usual(notes: list[Note]) -> dict[int, float]:
    """How loud each string usually is; of strings with few notes, what all are."""
    loud: dict[int, list[int]] = {}
    for note in notes:
        if note.velocity is not None:
            loud.setdefault(note.string, []).append(note.velocity)
    everything = [one for each in loud.values() for one in each]
    if not everything:
        return {}
    whole = median(everything)
    return {
        string: max(float(median(each)), 0.6 * whole) if len(each) > 2 else whole
        for string, each in loud.items()
    }


def _firm(note: Note, usual: dict[int, float]) -> float:
    if note.velocity is None:
        return 0.6  # a bend: a slur, or a wheel put back
    firm = min(note.velocity / max(usual.get(note.string, 1.0), 1.0), 1.0)
    if note.end_s is not None and note.end_s - note.onset_s < 0.06:
        firm = min(firm, 0.6)
    return firm
