"""What the screen knows: a pure gathering of records and outcomes, ready to be drawn.

Fed with the records of a session and the outcomes that judgment gave for them; keeps the last lines
of the practice log, the figures that look back over the last repetitions, and totals for the
summary. Everything here stays bounded however long the player goes on. Knows no clock, file or
terminal.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from ..core.cell import Cell
from ..core.events import (
    MISSED,
    WRONG,
    CellTold,
    ClickLink,
    ExtraTold,
    FootLink,
    Gap,
    Link,
    Mark,
    Midi,
    Outcome,
    Record,
    RepDone,
    Repetition,
    Stop,
    UseCells,
    UseRig,
)
from ..core.plain_text import counted
from ..core.playing import PlayingTime, is_note
from ..core.said import LONE_PICK, NO_LONE_PICK, said_by
from ..files.settingsfile import Settings
from ..measures.profile import SlotAttack, SlotMean, attack_profile, slot_profile
from ..measures.sound import RepSound, SoundMemory
from ..measures.strokes.stroke_memory import Reading
from .kept import Kept
from .later import Later
from .struck import Struck
from .tally import Tally
from .waymarks import WayMarks
from .words import artefacts, cell_title, clean_text, slots_with, sounded, take_begun

WINDOW = 20
"""Repetitions that the tallies and the ruler look back on: a few minutes of a short figure."""
KEPT = 200
"""Lines of the practice log that are kept for drawing; how they sounded is kept as long
(measures/sound.py)."""
REST_AFTER_S = Settings().rest_s


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of the practice log that is no repetition."""

    t_s: float
    kind: str  # "take", "mark", "port", "click", "gap", "cell", "rest" or "stop"
    text: str
    up: bool = True  # of a port or click: it was found, not lost


LogItem = Repetition | Entry

_WORDS = {
    "down": "the next take begins with a down stroke",
    "up": "the next take begins with an up stroke",
    LONE_PICK: "one note picked alone before a take says down, two say up",
    NO_LONE_PICK: "a note picked alone says nothing",
}
"""What marks mean that say something of a first stroke."""


class Judged(Protocol):
    """What the screen reads from a ``Session`` beside its outcomes."""

    @property
    def cell(self) -> Cell | None: ...

    @property
    def foreign(self) -> int: ...

    @property
    def damaged(self) -> int: ...

    @property
    def since_start(self) -> int: ...

    def current(self) -> tuple[int, tuple[str | None, ...]] | None: ...


class Model:
    """The practice log and the figures beside it.

    ``hear`` takes a record, ``tell`` an outcome, ``look`` reads the session's pending state;
    ``version`` changes with everything that may change the screen.
    """

    def __init__(
        self,
        cell: Cell | None = None,
        title: str = "",
        opening: str = "",
        practising: bool = True,
        rest_after_s: float | None = REST_AFTER_S,
        earlier_s: float | None = None,
        unrested: PlayingTime | None = None,
        in_place: bool = True,
    ) -> None:
        """title: what is shown, where it needs saying; opening: what will happen, told before the
        first repetition; practising: False where an old session is looked at again.

        rest_after_s: time played after which a rest is called for; None: never. earlier_s: played
        today before this session; None: not known. unrested: play since the last rest, in sessions
        before this one. in_place: signs show early and late by their place, and how notes ring on.
        """
        self.version = 0
        self.title = clean_text(title)
        self.opening = opening
        self.practising = practising
        self.keys = "q stop  f far  l late"
        self.drawn = Kept()
        self.in_place = in_place
        self.cell = cell
        self.choice = 0 if cell is None else 1  # cells in use
        self.log: deque[LogItem] = deque(maxlen=KEPT)
        self.recent: deque[Repetition] = deque(maxlen=WINDOW)  # of the cell in force
        self.current: tuple[int, tuple[str | None, ...]] | None = None
        self.struck = Struck()  # notes of which nothing is certain yet
        self.since_start = 1  # of the repetition under way: which strokes the plan has in it
        self.last: Repetition | None = None
        self.sounds = SoundMemory()  # by number, of the repetitions in the log
        self.ways = WayMarks()
        self.tempo_bpm: float | None = None
        self.notes_per_s: float | None = None
        self.later: Later | None = None  # where what takes long is not to be waited for
        self.tallies: dict[tuple[str, str | None], Tally] = {}
        self.reps = 0
        self.clean = 0
        self.take = 0
        self.marks = 0
        self.outside = 0
        self.artefacts = 0
        self.foreign = 0
        self.damaged = 0
        self.dropped = 0  # messages that could not be kept
        self.played_s = 0.0
        self.now_s = 0.0
        self.heard_s: float | None = None
        self.sounded = False  # a note, on whatever channel
        self.link: Link | None = None
        self.unsaved: str | None = None  # why nothing is being saved just now
        self.reminder: str | None = None
        self.stopped: str | None = None
        self._rest_after_s = rest_after_s if practising else None
        self._earlier_s = earlier_s
        self._playing = PlayingTime() if unrested is None else unrested

    # -------------------------------------------------------------------------------------- records

    def hear(self, record: Record) -> list[Entry]:
        """Take a record; returns the log lines that it gave."""
        self.now_s = max(self.now_s, record.t_s)
        if isinstance(record, Midi):
            self.heard_s = record.t_s
            self.version += self.struck.hear(record)
            if is_note(record.data):
                self.sounded = True
                self._playing.note(record.t_s)
            return []
        self.version += 1
        if isinstance(record, UseRig):
            self.struck.hear(record)
            self.ways.begin_anew()
        entry: Entry | None = None
        if isinstance(record, Link):
            self.link = record
            port = clean_text(record.port)
            entry = Entry(
                record.t_s,
                "port",
                f"listening to {port}" if record.up else f"port lost: {port}",
                record.up,
            )
        elif isinstance(record, ClickLink):
            port = clean_text(record.port)
            entry = Entry(
                record.t_s,
                "click",
                f"click at {port}" if record.up else f"click lost: {port}",
                record.up,
            )
        elif isinstance(record, FootLink):
            port = clean_text(record.port)
            entry = Entry(
                record.t_s, "pedal", f"pedal at {port}" if record.up else f"pedal lost: {port}"
            )
        elif isinstance(record, Mark):
            self.marks += 1
            text = _WORDS.get(said_by(record)) or clean_text(record.text)
            entry = Entry(record.t_s, "mark", text or f"mark {self.marks}")
        elif isinstance(record, Gap):
            self.dropped += record.dropped
            why = clean_text(record.why)
            entry = Entry(
                record.t_s,
                "gap",
                f"{counted(record.dropped, 'message')} not saved: {why}",
            )
        elif isinstance(record, UseCells):
            self.choice = len(record.cells)
            if len(record.cells) == 1:
                self._use(record.cells[0])
            else:
                self.cell = None
            names = "; ".join(cell_title(cell) for cell in record.cells)
            entry = Entry(record.t_s, "cell", names or "no cell: only recording")
        elif isinstance(record, Stop):
            self.stopped = clean_text(record.why)
            entry = Entry(record.t_s, "stop", f"stopped: {self.stopped}")
        return [self._write(entry)] if entry else []

    # ------------------------------------------------------------------------------------- outcomes

    def tell(self, outcome: Outcome) -> list[LogItem]:
        """Take an outcome; returns the log lines that it gave, oldest first."""
        self.version += 1
        self.struck.tell(outcome)
        if isinstance(outcome, RepDone):
            return self._finished(outcome.repetition)
        if isinstance(outcome, ExtraTold) and outcome.rep is None:
            self.outside += 1
        if isinstance(outcome, CellTold):
            if outcome.cell is None:
                self.cell = None
            else:
                self._use(outcome.cell)
            told = "none of them" if outcome.cell is None else cell_title(outcome.cell)
            return [self._write(Entry(outcome.t_s, "cell", told))]
        return []

    def look(self, session: Judged) -> None:
        """Read what is pending and what was counted aside."""
        current = session.current()
        seen = (current, session.since_start, session.foreign, session.damaged)
        if seen != (self.current, self.since_start, self.foreign, self.damaged):
            self.version += 1
            self.current, self.since_start, self.foreign, self.damaged = seen
        if session.cell is not None and session.cell is not self.cell:
            self._use(session.cell)

    def pass_time(self, now_s: float) -> None:
        """Time went by; the screen changes with each whole second."""
        if self.struck.pass_time(now_s) or int(now_s) != int(self.now_s):
            self.version += 1
        self.now_s = max(self.now_s, now_s)
        self._playing.pass_time(self.now_s)
        if self.reminder is not None and not self._playing.since_rest_s:
            self.reminder = None

    def say(self, text: str) -> Entry:
        """Something to tell the player, as a line of the log."""
        self.version += 1
        return self._write(Entry(self.now_s, "ask", clean_text(text)))

    def say_unsaved(self, why: str | None) -> None:
        """Say why nothing is being saved just now; None: it is."""
        if why != self.unsaved:
            self.version += 1
            self.unsaved = None if why is None else clean_text(why)

    def place_signs(self, in_place: bool) -> None:
        """Show early and late by the signs' places, or set all signs in the middle."""
        self.version += 1
        self.in_place = in_place

    def _finished(self, rep: Repetition) -> list[LogItem]:
        given: list[LogItem] = []
        if rep.cell is not self.cell:
            self._use(rep.cell)
        if rep.take != self.take:
            self.take = rep.take
            given.append(self._write(Entry(rep.start_s, "take", take_begun(rep))))
        self.log.append(rep)
        given.append(rep)
        self.recent.append(rep)
        self.sounds.hear(rep)
        self.ways.hear(rep)
        self.last = rep
        self.reps += 1
        self.clean += rep.clean
        self.artefacts += artefacts(rep)
        self.played_s += max(0.0, rep.end_s - rep.start_s - rep.pause_s)
        if rep.tempo_bpm is not None:
            self.tempo_bpm, self.notes_per_s = rep.tempo_bpm, rep.notes_per_s
        key = (rep.cell.name, rep.cell.variant)
        if key not in self.tallies:
            self.tallies[key] = Tally(rep.cell)
        self.tallies[key].add(rep)
        return given + self._watch_rest(rep.end_s)

    def _watch_rest(self, t_s: float) -> list[Entry]:
        """A line in the log when a rest has become due, at a repetition's end and never within
        one."""
        played_s = self._playing.since_rest_s
        if self._rest_after_s is None or played_s < self._rest_after_s:
            self.reminder = None
            return []
        new = self.reminder is None
        minutes = counted(int(played_s // 60), "minute")
        self.reminder = f"{minutes} played without a rest: put the guitar down for about five"
        return [self._write(Entry(t_s, "rest", self.reminder))] if new else []

    @property
    def today_s(self) -> float | None:
        """Time played today, this session with it; None where what was before is not known."""
        return None if self._earlier_s is None else self._earlier_s + self._playing.seconds

    def _use(self, cell: Cell) -> None:
        """Another cell or another way to play it: what looks back over repetitions starts anew."""
        now = self.cell
        if now is None or (cell.name, cell.variant, cell.slots) != (
            now.name,
            now.variant,
            now.slots,
        ):
            self.recent.clear()
        self.cell = cell
        self.version += 1

    def _write(self, entry: Entry) -> Entry:
        self.log.append(entry)
        return entry

    @property
    def begins(self) -> str | None:
        """The stroke that the repetition under way begins with, told from what was played; None
        where it is not told, and at a new beginning."""
        if self.since_start <= 1:
            return None
        strokes = self._strokes()
        return strokes.next_begins() if strokes is self.sounds.strokes else None

    def sound_of(self, rep: int) -> RepSound | None:
        """How a repetition sounded; None where it is not known, or not yet."""
        return self.sounds.get(rep) if self.later is None else self.later.sound(rep)

    def _strokes(self) -> Reading:
        return self.sounds.strokes if self.later is None else self.later.strokes()

    # -------------------------------------------------------------------- over the last repetitions

    @property
    def means(self) -> tuple[SlotMean, ...]:
        """Each slot's mean deviation over the window."""
        strokes = self._strokes()
        return self.drawn.of(
            "means",
            0,
            (self.last, self.cell, strokes),
            lambda: slot_profile(tuple(self.recent), strokes.told),
        )

    @property
    def attacks(self) -> tuple[SlotAttack, ...]:
        """Each slot's attack over the last repetitions, and how its strokes were told."""
        reading = self.sounds.attacks if self.later is None else self.later.attacks()
        if reading is None:
            return ()
        return self.drawn.of("attacks", 0, (reading,), lambda: attack_profile(reading))

    def faults_by_slot(self) -> Mapping[int, int]:
        """Repetitions of the window in which each slot was missed or wrong."""
        return self.drawn.of("faults", 0, (self.last, self.cell), self._faults)

    def noise_by_string(self) -> Mapping[int, int]:
        """Repetitions of the window in which each string sounded besides."""
        return self.drawn.of("noise", 0, (self.last, self.cell), self._noise)

    def _faults(self) -> Counter[int]:
        found: Counter[int] = Counter()
        for rep in self.recent:
            found.update(slots_with(rep, MISSED) + slots_with(rep, WRONG))
        return found

    def _noise(self) -> Counter[int]:
        return Counter(string for rep in self.recent for string in sounded(rep))
