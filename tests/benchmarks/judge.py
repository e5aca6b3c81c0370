"""Judge what was told of a take against the truth.

Owns every rule of the comparison: how told and true repetitions are paired, when a note is told
right, what counts as missed, clean, miscounted, late. Knows nothing of how the telling was done:
anything with feed(), tick() and finish() can be judged (the session, a baseline, an oracle).
"""

from __future__ import annotations

import traceback
from bisect import bisect_right
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, fields

from contract import score_violations, violations
from figures import comes_round, figures

from livecheck.core.cell import Cell
from livecheck.core.events import MISSED, ExtraTold, Outcome, RepDone, Repetition, SlotTold
from livecheck.core.rig import Rig
from livecheck.player.sounds import Label
from livecheck.player.takes import Take
from livecheck.player.truth import TrueNote

TICK_S = 0.02
BEND_NEAR_S = 0.03


@dataclass(slots=True)
class ToldNote:
    """One note as it was told."""

    onset_s: float
    string: int
    pitch: int
    by: str
    label: Label
    told_s: float


@dataclass(slots=True)
class Heard:
    """All that was told of one take."""

    notes: list[ToldNote] = field(default_factory=list)
    missed: list[tuple[int, int, float]] = field(default_factory=list)  # rep, slot, when told
    reps: list[Repetition] = field(default_factory=list)
    outcomes: list[Outcome] = field(default_factory=list)
    counts: dict[str, int] | None = None  # the session's own, where it keeps them
    crash: str | None = None


@dataclass(slots=True)
class Tally:
    """Counts over any number of takes; lists hold one figure a note or repetition."""

    notes: int = 0
    right: int = 0
    phantoms: int = 0
    bends: int = 0
    bends_right: int = 0
    extras: int = 0
    kinds_right: int = 0
    missed_both: int = 0
    missed_true: int = 0
    missed_told: int = 0
    complete: int = 0
    clean_right: int = 0
    clean_judged: int = 0
    miscounted: int = 0
    violations: int = 0
    crashes: int = 0
    untold_figures: int = 0  # tempo or evenness told where it cannot be said, or the reverse
    tempo_pct: list[float] = field(default_factory=list)
    cv_points: list[float] = field(default_factory=list)
    further: list[int] = field(default_factory=list)  # slots between a note and its telling
    # seconds from the last slot's place to the telling
    wait_s: list[float] = field(default_factory=list)

    def add(self, other: Tally) -> None:
        for each in fields(self):
            setattr(self, each.name, getattr(self, each.name) + getattr(other, each.name))


@dataclass(slots=True)
class Mistake:
    """One thing told wrong, with what is needed to look at it."""

    t_s: float
    what: str


# --------------------------------------------------------------------------------------- collecting


def listen(
    take: Take, make_session: Callable[[Cell, Rig], object], tick_s: float | None = TICK_S
) -> Heard:
    """Feed a take to a fresh session and keep what it tells, and when. tick_s: None gives no
    ticks."""
    heard = Heard()
    try:
        session = make_session(take.cell, take.rig)
        now_s = 0.0
        for record in take.records:
            if tick_s is not None:
                ticks = 0
                while now_s + tick_s < record.t_s and ticks < 500:
                    now_s += tick_s
                    ticks += 1
                    _keep(heard, session.tick(now_s), now_s)  # type: ignore[attr-defined]
            now_s = record.t_s
            _keep(heard, session.feed(record), now_s)  # type: ignore[attr-defined]
        if tick_s is not None:
            for _ in range(int(8.0 / tick_s)):
                now_s += tick_s
                _keep(heard, session.tick(now_s), now_s)  # type: ignore[attr-defined]
        _keep(heard, session.finish(), now_s)  # type: ignore[attr-defined]
        heard.counts = getattr(session, "counts", None)
    except Exception:
        heard.crash = traceback.format_exc()
    return heard


def _keep(heard: Heard, outcomes: list[Outcome], now_s: float) -> None:
    heard.outcomes += outcomes
    for outcome in outcomes:
        if isinstance(outcome, SlotTold):
            if outcome.note is None:
                heard.missed.append((outcome.rep, outcome.slot, now_s))
            else:
                note, label = outcome.note, Label(outcome.rep, outcome.slot, outcome.verdict)
                heard.notes.append(
                    ToldNote(note.onset_s, note.string, note.pitch, note.by, label, now_s)
                )
        elif isinstance(outcome, ExtraTold):
            note, label = outcome.extra.note, Label(outcome.rep, None, outcome.extra.kind)
            heard.notes.append(
                ToldNote(note.onset_s, note.string, note.pitch, note.by, label, now_s)
            )
        elif isinstance(outcome, RepDone):
            heard.reps.append(outcome.repetition)


# ------------------------------------------------------------------------------------------ judging


def judge(take: Take, heard: Heard) -> tuple[Tally, list[Mistake]]:
    """Compare what was told with the truth of the take."""
    return _Judge(take, heard).judge()


class _Judge:
    def __init__(self, take: Take, heard: Heard) -> None:
        self.take, self.heard, self.truth = take, heard, take.truth
        self.tally, self.mistakes = Tally(), list[Mistake]()
        self.pairs = self._pair_notes()
        self.true_rep = self._pair_reps()  # told rep -> true rep
        self.told_rep = {true: told for told, true in self.true_rep.items()}
        self.by_number = {rep.rep: rep for rep in self.truth.reps}

    def judge(self) -> tuple[Tally, list[Mistake]]:
        tally = self.tally
        if self.heard.crash:
            tally.crashes = 1
            self._wrong(0.0, "crash: " + self.heard.crash)
        self._notes()
        self._missed()
        self._reps()
        self._figures()
        self._delays()
        for text in violations(self.take, self.heard) + score_violations(self.take, self.heard):
            tally.violations += 1
            self._wrong(0.0, "contract: " + text)
        self.mistakes.sort(key=lambda mistake: mistake.t_s)
        return tally, self.mistakes

    def _wrong(self, t_s: float, what: str) -> None:
        self.mistakes.append(Mistake(t_s, what))

    def _pair_notes(self) -> list[tuple[TrueNote, ToldNote | None]]:
        """Each true note with the telling of it: note-ons by their exact time, bends within 30 ms
        on their string."""
        exact = {
            (told.onset_s, told.string): told for told in self.heard.notes if told.by == "note"
        }
        bends = [told for told in self.heard.notes if told.by == "bend"]
        pairs: list[tuple[TrueNote, ToldNote | None]] = []
        for note in self.truth.notes:
            if note.by == "note":
                pairs.append((note, exact.get((note.onset_s, note.string))))
                continue
            near = [
                told
                for told in bends
                if told.string == note.string and abs(told.onset_s - note.onset_s) < BEND_NEAR_S
            ]
            best = min(
                near,
                key=lambda told: (
                    told.label.slot != note.label.slot,
                    abs(told.onset_s - note.onset_s),
                ),
                default=None,
            )
            if best is not None:
                bends.remove(best)
            pairs.append((note, best))
        return pairs

    def _pair_reps(self) -> dict[int, int]:
        """Told repetitions with true ones, one to one, those that share most slots first."""
        shared = Counter(
            (told.label.rep, note.label.rep)
            for note, told in self.pairs
            if told is not None
            and note.label.slot is not None
            and told.label.slot == note.label.slot
        )
        pairs: dict[int, int] = {}
        taken: set[int] = set()
        for (told_rep, true_rep), _ in sorted(shared.items(), key=lambda item: (-item[1], item[0])):
            if (
                told_rep is not None
                and true_rep is not None
                and told_rep not in pairs
                and true_rep not in taken
            ):
                pairs[told_rep] = true_rep
                taken.add(true_rep)
        return pairs

    # ----------------------------------------------------------------------------- the table's rows

    def _notes(self) -> None:
        tally = self.tally
        for note, told in self.pairs:
            tally.notes += 1
            right = told is not None and self._agrees(told.label, note.labels)
            tally.right += right
            if note.by == "bend" and note.label.slot is not None:
                tally.bends += 1
                tally.bends_right += right
            if not right:
                self._wrong(
                    note.onset_s,
                    f"{_name(note)} is {_say(note.labels)}, told {_told(told, self.true_rep)}",
                )
            if note.label.slot is None and told is not None and told.label.slot is None:
                tally.extras += 1
                kinds = {label.verdict for label in note.labels if label.slot is None}
                tally.kinds_right += told.label.verdict in kinds
                if told.label.verdict not in kinds:
                    self._wrong(
                        note.onset_s,
                        f"{_name(note)} is {_say(note.labels)}, kind told {told.label.verdict}",
                    )
        paired = {id(told) for _, told in self.pairs if told is not None}
        for told in self.heard.notes:
            if id(told) not in paired:
                tally.notes += 1
                tally.phantoms += 1
                self._wrong(
                    told.onset_s,
                    f"made up: {told.by}, string {told.string} pitch {told.pitch}: "
                    f"{_told(told, self.true_rep)}",
                )

    def _agrees(self, told: Label, labels: list[Label]) -> bool:
        if told.slot is None:
            return any(label.slot is None for label in labels)
        mapped = Label(self.true_rep.get(told.rep or 0), told.slot, told.verdict)
        return mapped in labels

    def _missed(self) -> None:
        tally = self.tally
        unsure = {(rep.rep, slot) for rep in self.truth.reps for slot in rep.unsure_slots}
        for rep in self.truth.reps:
            if rep.complete_unsure:
                heard = max(rep.notes, default=0)
                unsure |= {
                    (rep.rep, slot.number) for slot in self.take.cell.slots if slot.number > heard
                }
        true = {(rep.rep, slot) for rep in self.truth.reps for slot in rep.missed} - unsure
        told: set[tuple[int, int]] = set()
        for done in self.heard.reps:
            for result in done.slots:
                if result.verdict == MISSED:
                    told.add((self.true_rep.get(done.rep, -done.rep), result.slot))
        told -= unsure
        tally.missed_true, tally.missed_told, tally.missed_both = (
            len(true),
            len(told),
            len(true & told),
        )
        for number, slot in sorted(true ^ told):
            rep = self.by_number.get(number)
            t_s = rep.due_s.get(slot, rep.end_s) if rep else 0.0
            what = "missed, not told so" if (number, slot) in true else "told missed, but was not"
            self._wrong(t_s, f"rep {number} slot {slot}: {what}")

    def _reps(self) -> None:
        tally = self.tally
        told_by_number = {done.rep: done for done in self.heard.reps}
        for rep in self.truth.reps:
            told = told_by_number.get(self.told_rep.get(rep.rep, 0))
            if rep.complete_unsure:
                continue
            if not rep.complete:
                if told is not None and told.complete:
                    tally.miscounted += 1
                    self._wrong(
                        rep.start_s, f"rep {rep.rep}: broken off, told complete (rep {told.rep})"
                    )
                continue
            tally.complete += 1
            if told is None or not told.complete:
                tally.miscounted += 1
                self._wrong(
                    rep.start_s,
                    f"rep {rep.rep}: complete, told {'nothing' if told is None else 'broken off'}",
                )
            if not rep.clean_unsure:
                tally.clean_judged += 1
                right = told is not None and told.complete and told.clean == rep.clean
                tally.clean_right += right
                if not right:
                    self._wrong(
                        rep.start_s,
                        f"rep {rep.rep}: {'clean' if rep.clean else 'flawed'}, told otherwise",
                    )
        for done in self.heard.reps:
            if done.complete and done.rep not in self.true_rep:
                tally.miscounted += 1
                self._wrong(done.start_s, f"told rep {done.rep}, complete: there is none")

    def _figures(self) -> None:
        told_by_number = {done.rep: done for done in self.heard.reps}
        for at, rep in enumerate(self.truth.reps):
            done = told_by_number.get(self.told_rep.get(rep.rep, 0))
            if done is None or not rep.complete or rep.unsure_slots or rep.complete_unsure:
                continue
            following = self.truth.reps[at + 1] if at + 1 < len(self.truth.reps) else None
            if following is not None and following.unsure_slots & {1}:
                continue
            if (
                following is not None
                and following.follows
                and not comes_round(self.take, rep, following)
            ):
                continue
            tempo, cv = figures(self.take, rep, following)
            for true, said, into in (
                (tempo, done.tempo_bpm, self.tally.tempo_pct),
                (cv, done.evenness.cv_pct, self.tally.cv_points),
            ):
                if true is None:
                    continue
                if said is None:
                    self.tally.untold_figures += 1
                    self._wrong(
                        rep.start_s,
                        f"rep {rep.rep}: tempo or evenness not told (should be {true:.3f})",
                    )
                else:
                    into.append(
                        abs(said / true - 1.0) * 100.0
                        if into is self.tally.tempo_pct
                        else abs(said - true)
                    )
                    if into[-1] > (0.15 if into is self.tally.tempo_pct else 0.1):
                        name = "tempo" if into is self.tally.tempo_pct else "cv"
                        self._wrong(
                            rep.start_s, f"rep {rep.rep}: {name} {true:.3f}, told {said:.3f}"
                        )

    def _delays(self) -> None:
        places = sorted(
            self.truth.notes[rep.notes[slot]].onset_s if slot in rep.notes else due_s
            for rep in self.truth.reps
            for slot, due_s in rep.due_s.items()
        )
        for told in self.heard.notes:
            if told.label.slot is None:
                continue
            upto = bisect_right(places, told.told_s + 1e-9)
            further = upto - bisect_right(places, told.onset_s + 1e-9)
            self.tally.further.append(further)
            self.tally.wait_s.append(
                told.told_s - max(told.onset_s, places[upto - 1] if upto else 0.0)
            )
            if further > 4:
                self._wrong(
                    told.onset_s,
                    f"told late, after {further} further slots: {_told(told, self.true_rep)}",
                )


# -------------------------------------------------------------------------------------------- words


def _name(note: TrueNote) -> str:
    return f"{note.onset_s:8.3f} s {note.by} string {note.string} pitch {note.pitch}"


def _say(labels: list[Label]) -> str:
    return " or ".join(_label(label) for label in labels)


def _label(label: Label) -> str:
    if label.slot is not None:
        return f"rep {label.rep} slot {label.slot} {label.verdict}"
    return f"{label.verdict} in {f'rep {label.rep}' if label.rep else 'no rep'}"


def _told(told: ToldNote | None, true_rep: dict[int, int]) -> str:
    if told is None:
        return "nothing"
    mapped = true_rep.get(told.label.rep or 0)
    return _label(told.label) + (
        f" (its true rep: {mapped})" if told.label.rep and mapped != told.label.rep else ""
    )


def context(take: Take, heard: Heard, t_s: float, around_s: float = 0.6) -> str:
    """The notes around a moment: time, string, pitch, velocity, what each is, what it was told to
    be."""
    told_by_time = {(told.onset_s, told.string): told for told in heard.notes}
    lines = []
    for note in take.truth.notes:
        if abs(note.onset_s - t_s) > around_s:
            continue
        told = told_by_time.get((note.onset_s, note.string))
        velocity = take.records[note.record].data[2] if note.by == "note" else 0
        mark = " <<" if abs(note.onset_s - t_s) < 1e-6 else ""
        lines.append(
            f"    {_name(note)} vel {velocity:3d}  {_say(note.labels):36} | {_told(told, {})}{mark}"
        )
    return "\n".join(lines)
