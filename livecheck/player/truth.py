"""What a right listener would say of a take: a label for every sounded note, and the repetitions
with their slots.

Owns the reading of formats.md on top of what the hands did: gate, complete or broken off, which
repetition an extra belongs to, what lies outside. Where the messages themselves cannot decide,
several labels are right; each such case has its own function here and its reason:

- a note within 2 ms of the gate's length (``_gated``);
- a double trigger that cuts its first note below the gate (``_gated``), or that comes where the
  same slot is due (``_near_a_slot``);
- an extra where a missed slot was due, on its string or at its pitch (``_near_a_slot``);
- the survivor of two like neighbours that came between their places (``_like_neighbours``);
- an extra at the string and pitch that sounded just before (``_again``);
- an extra on one of the cell's own strings at the moment of a stroke: passed over or not
  (``_kinds``);
- an extra about a beat behind a repetition, or about where a missed first slot was due (``_home``).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field

from ..core.cell import Cell, Slot
from ..core.events import ARTEFACT, HIT, MISSED, NOISE, STRAY, WRONG
from ..core.rig import Rig
from .converter import Message
from .habits import Conversion
from .sounds import Label, Pass, extra_kind

_GATE_UNSURE_S = 0.002
_AGAIN_S = 0.075


@dataclass(slots=True)
class TrueNote:
    """One sounded note: a note-on of a string, or the message at which a bend-alone note begins."""

    record: int  # index into the take's records
    onset_s: float
    string: int
    pitch: int  # sounding
    by: str  # "note" or "bend"
    labels: list[Label]  # the first is how it was played; the others are as right
    played_s: float | None  # true onset; None for what the converter made by itself
    stroke: str | None = None  # of a slot's note, as it was played

    @property
    def label(self) -> Label:
        return self.labels[0]


@dataclass(slots=True)
class TrueRep:
    """One repetition as a right listener would tell it."""

    rep: int
    entry: int
    start_s: float
    end_s: float
    complete: bool
    verdicts: tuple[str, ...]  # of the slots listed, from slot 1
    notes: dict[int, int]  # slot: index into Truth.notes
    pause_s: float
    step_s: float  # mean length of a grid step as planned
    follows: bool  # begun where the one before it came round
    due_s: dict[int, float]  # slot: arrival time at which it was due, played or not
    clean: bool = False
    complete_unsure: bool = False
    clean_unsure: bool = False
    unsure_slots: set[int] = field(default_factory=set)

    @property
    def missed(self) -> list[int]:
        return [number for number, verdict in enumerate(self.verdicts, 1) if verdict == MISSED]


@dataclass(slots=True)
class Truth:
    """All that is true of a take."""

    notes: list[TrueNote]
    reps: list[TrueRep]


def tell(
    cell: Cell, rig: Rig, how: Conversion, passes: Sequence[Pass], messages: Sequence[Message]
) -> Truth:
    """The truth of a take. messages: as they arrived, in order; rig: its gate decides what can be a
    slot."""
    return _Teller(cell, rig, how, passes).tell(messages)


class _Teller:
    def __init__(self, cell: Cell, rig: Rig, how: Conversion, passes: Sequence[Pass]) -> None:
        self.cell, self.rig, self.how, self.passes = cell, rig, how, passes
        self.notes: list[TrueNote] = []
        self.reps: list[TrueRep] = []
        self.under: set[int] = set()  # records of the notes under the gate
        steps = [
            (this, slot) for this in passes for slot in cell.slots if slot.number in this.times_s
        ]
        # string, step
        self.route = [(slot.string, this.steps_s[slot.number]) for this, slot in steps]
        self.route_s = [
            this.onsets_s.get(slot.number, this.times_s[slot.number]) for this, slot in steps
        ]

    def tell(self, messages: Sequence[Message]) -> Truth:
        for at, message in enumerate(messages):
            if message.label is not None:
                self.notes.append(self._note(messages, at, message, message.label))
        self._leave_out_unheard()
        for at, this in enumerate(self.passes):
            self.reps.append(self._rep(at, this))
        for note in self.notes:
            if note.label.slot is None:
                self._home(note)
        for rep in self.reps:
            self._near_a_slot(rep)
            self._like_neighbours(rep)
        self._again()
        for rep in self.reps:
            self._clean(rep)
        return Truth(self.notes, self.reps)

    # ------------------------------------------------------------------------------------ the notes

    def _note(
        self, messages: Sequence[Message], at: int, message: Message, label: Label
    ) -> TrueNote:
        sound, data = message.sound, message.data
        string = (data[0] & 15) - self.rig.channels[0] + 2
        pitch = data[1] if message.by == "note" or sound is None else sound.pitch
        labels = [label]
        if message.by == "note":
            labels = self._gated(messages, at, label)
        if labels[0].slot is None and labels[0].verdict != ARTEFACT:
            labels = self._kinds(string, sound.t_s if sound is not None else message.ready_s - 0.01)
        played_s = sound.t_s if sound is not None else None
        stroke = sound.stroke if sound is not None and label.slot is not None else None
        return TrueNote(at, message.ready_s, string, pitch, message.by, labels, played_s, stroke)

    def _gated(self, messages: Sequence[Message], at: int, label: Label) -> list[Label]:
        """A note under the gate is an artefact whatever was meant."""
        gate, under = self.rig.gate, Label(None, None, ARTEFACT)
        length_s, doubled = _length(messages, at)
        edge_s = length_s - gate.length_ms / 1000.0
        if messages[at].data[2] < gate.velocity or (edge_s < _GATE_UNSURE_S and not doubled):
            self.under.add(at)
        if messages[at].data[2] < gate.velocity:
            return [under]
        if abs(edge_s) < _GATE_UNSURE_S and label.verdict != ARTEFACT:
            return [under, label] if edge_s < 0 else [label, under]
        if edge_s >= 0:
            return [label]
        return [label, under] if doubled else [under]

    def _kinds(self, string: int, t_s: float) -> list[Label]:
        """Noise where the string is quiet or passed over at that moment, else stray.

        At a stroke the hand both ends one crossing and begins the next: within a quarter of a step
        of one, either crossing may be meant.
        """
        if string in self.cell.quiet:
            return [Label(None, None, NOISE)]
        at = bisect_right(self.route_s, t_s)
        kinds = [self._crossed(string, at)]
        for near in (at - 1, at):
            if (
                0 <= near < len(self.route)
                and abs(self.route_s[near] - t_s) < 0.25 * self.route[near][1] + 0.01
            ):
                kinds += [self._crossed(string, near), self._crossed(string, near + 1)]
        return [Label(None, None, kind) for kind in dict.fromkeys(kinds)]

    def _crossed(self, string: int, at: int) -> str:
        """The kind of an extra in the crossing that leads to slot ``at`` of all that was to be
        played."""
        if (
            not 0 < at < len(self.route)
            or self.route_s[at] - self.route_s[at - 1] > 6 * self.route[at][1]
        ):
            return STRAY
        return extra_kind(self.cell, string, self.route[at - 1][0], self.route[at][0])

    def _again(self) -> None:
        """The same string and pitch within some 60 ms reads as a double trigger, though the hand
        did it."""
        last: dict[int, TrueNote] = {}
        for note in self.notes:
            before = last.get(note.string)
            if (
                note.label.slot is None
                and note.label.verdict != ARTEFACT
                and before is not None
                and before.pitch == note.pitch
                and note.onset_s - before.onset_s < _AGAIN_S
            ):
                note.labels.append(Label(note.label.rep, None, ARTEFACT))
            if (
                note.label.slot is None
                and before is not None
                and before.pitch == note.pitch
                and before.label.slot is not None
                and any(label.verdict == ARTEFACT for label in before.labels)
            ):
                note.labels.append(before.label)  # the first of the two was cut below the gate
            last[note.string] = note

    # ------------------------------------------------------------------------------ the repetitions

    def _leave_out_unheard(self) -> None:
        """A repetition of which nothing above the gate sounded is none; the later ones count one
        less."""
        heard = {note.label.rep for note in self.notes if note.label.slot is not None}
        self.passes = [this for this in self.passes if this.rep in heard]
        number = {this.rep: at for at, this in enumerate(self.passes, 1)}
        for note in self.notes:
            note.labels = [
                label._replace(rep=number.get(label.rep)) if label.rep else label
                for label in note.labels
            ]
        for this in self.passes:
            this.rep = number[this.rep]

    def _due_s(self, this: Pass, slot: Slot) -> float:
        """Arrival time at which a slot of a repetition was due, played or not."""
        known = this.times_s.get(slot.number)
        played_s = known if known is not None else this.start_s + slot.start * this.step_s
        return played_s + self.how.fixed_ms / 1000.0 + self.how.periods * _period_s(slot.pitch)

    def _rep(self, at: int, this: Pass) -> TrueRep:
        notes = {
            note.label.slot: index
            for index, note in enumerate(self.notes)
            if note.label[0] == this.rep and note.label.slot
        }
        heard = max(notes, default=this.entry)
        count = len(self.cell.slots)
        complete, unsure = heard == count, False
        if not complete and at + 1 < len(self.passes):
            off = abs(self.passes[at + 1].start_s - this.due_s) / this.step_s
            complete, unsure = off <= 0.5, 0.35 < off < 0.65
        elif not complete:
            unsure = not this.broken
        listed = count if complete else heard
        verdicts = tuple(
            self.notes[notes[number]].label.verdict if number in notes else MISSED
            for number in range(1, listed + 1)
        )
        first = min(notes, default=this.entry)
        if 1 in notes or (this.mended and this.entry > 1) or (this.mended and first != this.entry):
            start_s = self.notes[notes[first]].onset_s
        else:
            start_s = self._due_s(this, self.cell.slots[0])
        first_slot = self.cell.slots[0]
        end_s = this.due_s + self._due_s(this, first_slot) - (this.times_s.get(1, this.start_s))
        if not complete:
            end_s = self.notes[notes[heard]].onset_s
        rep = TrueRep(
            this.rep,
            this.entry,
            start_s,
            end_s,
            complete,
            verdicts,
            notes,
            this.pause_s,
            this.step_s,
            this.follows,
            {slot.number: self._due_s(this, slot) for slot in self.cell.slots[:listed]},
        )
        rep.complete_unsure = unsure
        rep.unsure_slots = {
            label.slot
            for note in self.notes
            for label in note.labels
            if len(note.labels) > 1 and label.slot is not None and label.rep == this.rep
        }
        return rep

    def _home(self, note: TrueNote) -> None:
        """Which repetition an extra belongs to: the latest begun, unless that ended more than a
        beat ago."""
        begun = [rep for rep in self.reps if rep.start_s <= note.onset_s]
        home = begun[-1] if begun else None
        homes: list[int | None] = [home.rep if home else None]
        if home is not None:
            beat_s = home.step_s * self.cell.grid
            over_s = note.onset_s - home.end_s - beat_s
            if over_s > 0:
                homes[0] = None
            if abs(over_s) < 0.25 * beat_s + 0.02:
                homes = [homes[0], None if homes[0] else home.rep]
        for rep in self.reps:
            missing = rep.verdicts[:1] == (MISSED,)
            if missing and rep.entry == 1 and abs(note.onset_s - rep.start_s) < 0.35 * rep.step_s:
                homes += [rep.rep] if rep.rep not in homes else [rep.rep - 1 or None]
        labels = note.labels
        note.labels = [
            Label(at, label.slot, label.verdict)
            for at in homes
            for label in labels
            if label.slot is None
        ]
        note.labels += [label for label in labels if label.slot is not None]

    def _near_a_slot(self, rep: TrueRep) -> None:
        """An extra in the place of a missed slot may be its answer; a double trigger may be the
        slot that follows."""
        this = self.passes[rep.rep - 1]
        for slot in self.cell.slots[: len(rep.verdicts)]:
            due_s = self._due_s(this, slot)
            missing = slot.number not in rep.notes
            reach_s = (0.45 if missing else 0.3) * rep.step_s
            for note in self.notes:
                if note.label.slot is not None or abs(note.onset_s - due_s) > reach_s + 0.3:
                    continue
                near = abs(note.onset_s - due_s) < reach_s
                same_string, same_pitch = (
                    note.string == slot.string,
                    (note.pitch - slot.pitch) in (0, 12, 19, 24),
                )
                if (
                    not near
                    or not (same_string or note.pitch == slot.pitch)
                    or note.record in self.under
                ):
                    continue
                verdict = HIT if same_string and same_pitch else WRONG
                if missing:
                    note.labels.append(Label(rep.rep, slot.number, verdict))
                    rep.unsure_slots.add(slot.number)
                elif verdict == HIT and note.pitch == slot.pitch:
                    answer = self.notes[rep.notes[slot.number]]
                    played = abs(answer.onset_s - due_s)
                    if abs(note.onset_s - due_s) < played + 0.1 * rep.step_s:
                        note.labels.append(Label(rep.rep, slot.number, verdict))
                        answer.labels += [
                            Label(rep.rep, None, ARTEFACT),
                            Label(rep.rep, None, STRAY),
                        ]
                        rep.unsure_slots.add(slot.number)

    def _like_neighbours(self, rep: TrueRep) -> None:
        """Of two like slots in a row one was missed: which one is told by time alone, and at the
        middle not at all."""
        this = self.passes[rep.rep - 1]
        for number in rep.missed:
            slot = self.cell.slots[number - 1]
            for other in (number - 1, number + 1):
                if other not in rep.notes:
                    continue
                twin = self.cell.slots[other - 1]
                note = self.notes[rep.notes[other]]
                if (twin.string, twin.pitch) != (slot.string, slot.pitch):
                    continue
                if abs(note.onset_s - self._due_s(this, slot)) < 0.6 * rep.step_s:
                    note.labels.append(Label(rep.rep, number, note.label.verdict))
                    rep.unsure_slots |= {number, other}

    def _clean(self, rep: TrueRep) -> None:
        rep.clean = rep.complete and all(verdict == HIT for verdict in rep.verdicts)
        rep.clean_unsure = bool(rep.unsure_slots)
        for note in self.notes:
            spoils = {
                label.rep == rep.rep and label.slot is None and label.verdict != ARTEFACT
                for label in note.labels
            }
            label = note.label
            if label.rep == rep.rep and label.slot is None and label.verdict != ARTEFACT:
                rep.clean = False
            if len(spoils) > 1:
                rep.clean_unsure = True


def _period_s(pitch: int) -> float:
    return float(1.0 / (440.0 * 2.0 ** ((pitch - 69) / 12)))


def _length(messages: Sequence[Message], at: int) -> tuple[float, bool]:
    """(seconds that a note lasts, whether the same note once more, within 75 ms, ended it)."""
    channel, key = messages[at].data[0] & 15, messages[at].data[1]
    length_s: float | None = None
    for later in messages[at + 1 :]:
        data, after_s = later.data, later.ready_s - messages[at].ready_s
        if length_s is not None and after_s > length_s + 0.01:
            break  # an off alone, no double trigger behind it
        if data[0] >> 4 not in (8, 9) or data[0] & 15 != channel:
            continue
        if data[0] >> 4 == 9 and data[2] > 0:
            return (after_s if length_s is None else length_s), data[1] == key and after_s < 0.075
        if data[1] == key and length_s is None:
            length_s = after_s
    return (1e9 if length_s is None else length_s), False
