"""Simpler ways to tell a take, for scale: an oracle, a greedy cursor, and a general alignment of
the whole take.

Each has the face of a session: feed(), tick(), finish(). None of them hears a bend as a note.
"""

from __future__ import annotations

from figures import figures

from livecheck.core.cell import Cell
from livecheck.core.events import (
    ARTEFACT,
    HIT,
    MISSED,
    NOISE,
    STRAY,
    WRONG,
    Evenness,
    Extra,
    ExtraTold,
    Midi,
    Note,
    Outcome,
    RepDone,
    Repetition,
    SlotResult,
    SlotTold,
)
from livecheck.core.rig import Rig
from livecheck.player.takes import Take


class Teller:
    """Collects the note-ons and tells everything at the end; subclasses decide which slot each
    answers."""

    def __init__(self, cell: Cell, rig: Rig) -> None:
        self.cell, self.rig, self.notes = cell, rig, list[Note]()

    def feed(self, record: Midi) -> list[Outcome]:
        data = record.data
        if data[0] >> 4 == 9 and data[2] > 0:
            string = self.rig.string_of((data[0] & 15) + 1)
            if string is not None:
                self.notes.append(Note(record.t_s, string, data[1], data[1], data[2]))
        return []

    def tick(self, now_s: float) -> list[Outcome]:
        return []

    def finish(self) -> list[Outcome]:
        return tell(self.cell, self.notes, self.answers())

    def answers(self) -> list[tuple[int, int] | None]:
        """(repetition, slot) for each note, or None."""
        raise NotImplementedError

    def cost(self, note: Note, slot: int) -> float:
        """How unlike a note is to a slot: 0 the same, 0.6 its string or its pitch, 2 neither."""
        place = self.cell.slots[slot - 1]
        same = note.string == place.string, note.pitch == place.pitch
        return 0.0 if all(same) else 0.6 if any(same) else 2.0


def tell(cell: Cell, notes: list[Note], answers: list[tuple[int, int] | None]) -> list[Outcome]:
    """Outcomes for notes with their answers; extras belong to the repetition of the last answer
    before them."""
    outcomes: list[Outcome] = []
    reps: dict[int, dict[int, Note]] = {}
    extras: dict[int, list[Extra]] = {}
    current: int | None = None
    for note, answer in zip(notes, answers):
        if answer is None:
            soft = note.velocity is not None and note.velocity < 12
            kind = ARTEFACT if soft else NOISE if note.string in cell.quiet else STRAY
            outcomes.append(ExtraTold(current, Extra(note, kind)))
            if current is not None:
                extras.setdefault(current, []).append(Extra(note, kind))
        else:
            current = answer[0]
            reps.setdefault(current, {})[answer[1]] = note
    for at, (rep, slots) in enumerate(sorted(reps.items()), 1):
        last = len(cell.slots) if max(slots) == len(cell.slots) or at < len(reps) else max(slots)
        results = []
        for slot in cell.slots[:last]:
            note = slots.get(slot.number)
            verdict = (
                MISSED
                if note is None
                else HIT
                if (note.string, note.pitch) == (slot.string, slot.pitch)
                else WRONG
            )
            outcomes.append(SlotTold(rep, slot.number, verdict, note))
            results.append(SlotResult(slot.number, verdict, note, None, None))
        own = tuple(extras.get(rep, ()))
        hits = sum(result.verdict == HIT for result in results)
        complete = last == len(cell.slots)
        clean = complete and hits == last and all(extra.kind == ARTEFACT for extra in own)
        start_s, end_s = (
            min(note.onset_s for note in slots.values()),
            max(note.onset_s for note in slots.values()),
        )
        outcomes.append(
            RepDone(
                Repetition(
                    rep=rep,
                    take=1,
                    cell=cell,
                    start_s=start_s,
                    end_s=end_s,
                    complete=complete,
                    pause_s=0.0,
                    tempo_bpm=None,
                    notes_per_s=None,
                    slots=tuple(results),
                    extras=own,
                    accuracy=hits / last,
                    clean=clean,
                    evenness=Evenness(None, None, None, None),
                )
            )
        )
    return outcomes


class GreedyCursor(Teller):
    """Takes each note for the nearest of the next two slots that it fits; knows no time and never
    looks back."""

    def answers(self) -> list[tuple[int, int] | None]:
        out: list[tuple[int, int] | None] = []
        rep, slot, begun = 1, 1, False
        count = len(self.cell.slots)
        for note in self.notes:
            found = None
            for ahead in range(min(3, count)):
                if self.cost(note, (slot - 1 + ahead) % count + 1) == 0.0:
                    found = ahead
                    break
            if found is None and begun and self.cost(note, slot) < 2.0:
                found = 0
            if found is None or (not begun and found):
                out.append(None)
                continue
            begun = True
            place = slot - 1 + found
            rep, slot = rep + place // count, place % count + 1
            out.append((rep, slot))
            rep, slot = rep + slot // count, slot % count + 1
        return _renumbered(out)


class WholeTake(Teller):
    """General alignment: least edit distance between the notes and so many repetitions, which it is
    told; no time."""

    def __init__(self, take: Take, cell: Cell, rig: Rig) -> None:
        super().__init__(cell, rig)
        self.reps = len(take.truth.reps)

    def answers(self) -> list[tuple[int, int] | None]:
        plan = [(rep, slot.number) for rep in range(1, self.reps + 1) for slot in self.cell.slots]
        width = len(plan) + 1
        rows = [[float(at) for at in range(width)]]
        for note in self.notes:
            above, row = rows[-1], [rows[-1][0] + 1.0]
            costs = [self.cost(note, slot.number) for slot in self.cell.slots]
            for at in range(1, width):
                match = above[at - 1] + costs[(at - 1) % len(costs)]
                row.append(min(match, above[at] + 1.0, row[at - 1] + 1.0))
            rows.append(row)
        out: list[tuple[int, int] | None] = []
        at = min(range(width), key=lambda column: rows[-1][column])
        for index in range(len(self.notes), 0, -1):
            while at and rows[index][at] == rows[index][at - 1] + 1.0:
                at -= 1
            if at and rows[index][at] == rows[index - 1][at - 1] + self.cost(
                self.notes[index - 1], plan[at - 1][1]
            ):
                out.append(plan[at - 1])
                at -= 1
            else:
                out.append(None)
        return _renumbered(out[::-1])


def _renumbered(answers: list[tuple[int, int] | None]) -> list[tuple[int, int] | None]:
    numbers = {
        rep: at for at, rep in enumerate(sorted({answer[0] for answer in answers if answer}), 1)
    }
    return [(numbers[answer[0]], answer[1]) if answer else None for answer in answers]


class Oracle:
    """Tells the truth: what a perfect session would say. Its figures are those of the judge's own
    definition."""

    def __init__(self, take: Take, cell: Cell, rig: Rig) -> None:
        self.take = take

    def feed(self, record: Midi) -> list[Outcome]:
        return []

    def tick(self, now_s: float) -> list[Outcome]:
        return []

    def finish(self) -> list[Outcome]:
        take, outcomes = self.take, list[Outcome]()
        heard = []
        for note in take.truth.notes:
            data = take.records[note.record].data
            heard.append(
                Note(
                    note.onset_s,
                    note.string,
                    note.pitch,
                    note.pitch,
                    data[2] if note.by == "note" else None,
                    note.by,
                )
            )
        for at, rep in enumerate(take.truth.reps):
            results, extras = [], []
            for slot, verdict in enumerate(rep.verdicts, 1):
                note = heard[rep.notes[slot]] if slot in rep.notes else None
                outcomes.append(SlotTold(rep.rep, slot, verdict, note))
                results.append(SlotResult(slot, verdict, note, None, None))
            for note, true in zip(heard, take.truth.notes):
                if true.label.slot is None and true.label.rep == rep.rep:
                    extras.append(Extra(note, true.label.verdict))
                    outcomes.append(ExtraTold(rep.rep, extras[-1]))
            following = take.truth.reps[at + 1] if at + 1 < len(take.truth.reps) else None
            tempo, cv = figures(take, rep, following)
            outcomes.append(
                RepDone(
                    Repetition(
                        rep=rep.rep,
                        take=1,
                        cell=take.cell,
                        start_s=rep.start_s,
                        end_s=rep.end_s,
                        complete=rep.complete,
                        pause_s=rep.pause_s,
                        tempo_bpm=tempo,
                        notes_per_s=None,
                        slots=tuple(results),
                        extras=tuple(extras),
                        accuracy=0.0,
                        clean=rep.clean,
                        evenness=Evenness(cv, None, None, None),
                    )
                )
            )
        for note, true in zip(heard, take.truth.notes):
            if true.label.slot is None and true.label.rep is None:
                outcomes.append(ExtraTold(None, Extra(note, true.label.verdict)))
        return outcomes
