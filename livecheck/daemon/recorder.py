"""Put every message into a session's journal, and carry out commands.

Owns the sessions' beginning and end, and what a session must say of itself: rig, cells, link.
Judges nothing: cells are dictionaries that are handed through. Time comes with each call
(nanoseconds of perf_counter); all calls but ``sync`` come from one thread.

A session begins at once where that is asked for, else with the first note, and ends after a long
silence; one in which nothing was played or marked leaves nothing behind. While no journal can be
made (a full disk) messages wait in a bounded memory.
"""

from __future__ import annotations

import logging
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..core.actions import ACTIONS
from ..core.playing import PlayingTime, is_note
from ..errors import BadInput
from ..files.journal import Head, Journal
from ..files.library import PracticeFolder
from ..files.records import from_dict
from ..files.settingsfile import Settings
from .beginning import head_at, remove_empty
from .carry import Carry
from .frames import Alive, Beat, Cued, Down, End, Frame, Message, Up
from .told import block_told, cells_told, in_variant, mark_text

log = logging.getLogger("livecheck.recorder")

PEDAL = "pedal "  # goes before the name of the pedal's own port
WAITING = 100_000  # messages kept while no journal can be made
RETRY_NS = 1_000_000_000


@dataclass(slots=True)
class Counts:
    """What has happened in the session under way."""

    messages: int = 0
    notes: int = 0
    marks: int = 0
    dropped: int = 0


OpenJournal = Callable[[Path, Head], Journal]


class Recorder:
    """The sessions of one practice folder, one after the other.

    on_end is called with the folder of each session that has ended and holds something.
    """

    def __init__(
        self,
        folder: PracticeFolder,
        *,
        rig: Mapping[str, Any] | None = None,
        cells: Sequence[Mapping[str, Any]] = (),
        silence_s: float | None = Settings().silence_s,
        on_end: Callable[[Path], None] = lambda _folder: None,
        open_journal: OpenJournal = Journal.create,
    ) -> None:
        self.journal: Journal | None = None
        self.link: Up | Down = Down(0, "no reader yet")
        self.counts = Counts()
        self.playing = PlayingTime()
        self.rig = dict(rig) if rig is not None else None
        self.cells = [dict(cell) for cell in cells]
        self.gestures: list[Any] = []  # of the guitar, as the journal has them
        self._folder = folder
        self.silence_s = silence_s
        self._on_end = on_end
        self._open_journal = open_journal
        self._carry = Carry()
        self._heard_ns = 0  # the last note
        self._reported = 0  # dropped by the reader, as its heartbeat said last
        self._waiting: deque[Message] = deque()  # for a journal that could not be made
        self._lost = 0  # that did not fit into it
        self._retry_ns = 0
        self._trouble: str | None = None
        self.unsaved = 0  # records of sessions that have ended, lost for good
        self.lost_why: str | None = None  # why the last of them are

    # ------------------------------------------------------------------------------------- sessions

    def begin(self, now_ns: int) -> Path:
        """Begin a session that starts at this moment. Raises BadInput where the disk does not allow
        it."""
        head = head_at(min(now_ns, self._waiting[0].t_ns) if self._waiting else now_ns)
        folder = self._folder.new_session(head.wall)
        try:
            journal = self._open_journal(folder, head)
        except BadInput:
            remove_empty(folder)
            raise
        self.counts, self.playing = Counts(), PlayingTime()
        self._heard_ns = head.perf_ns
        self._trouble = None
        self.journal = journal
        log.info("session %s begins", journal.folder.name)
        start_ns = head.perf_ns
        if self.rig is not None:
            self._write("rig", start_ns, {"rig": self.rig})
        if self.cells:
            self._write("cells", start_ns, {"cells": self.cells})
        if self.gestures:
            self._write("gestures", start_ns, {"gestures": self.gestures})
        self._write_link(start_ns)
        for data in self._carry.messages():
            self._write("midi", start_ns, {"data": data.hex()})
        while self._waiting:
            self._message(*self._waiting.popleft())
        if self._lost:
            lost, self._lost = self._lost, 0
            self.gap(now_ns, lost, "no journal could be made and memory was full")
        return journal.folder

    def end(self, why: str, now_ns: int) -> None:
        """End the session under way, if there is one. Messages that wait for one get it now, or are
        lost."""
        if self.journal is None and self._waiting:
            self._begin_late(now_ns)
        journal, self.journal = self.journal, None
        if journal is None:
            if self._waiting or self._lost:
                self._lose(len(self._waiting) + self._lost, self._trouble)
                self._waiting.clear()
                self._lost = 0
            return
        journal.append("stop", now_ns, {"why": why})
        journal.close()
        if journal.dropped:
            self._lose(journal.dropped, journal.lost_why)
        if self.counts.notes or self.counts.marks:
            log.info("session %s ends: %s; %d notes", journal.folder.name, why, self.counts.notes)
            self._on_end(journal.folder)
        else:
            log.info(
                "session %s ends: %s; nothing was played, so it is not kept",
                journal.folder.name,
                why,
            )
            remove_empty(journal.folder)

    # --------------------------------------------------------------------------------------- stream

    def take(self, frame: Frame) -> None:
        """One frame of the reader."""
        if isinstance(frame, Message):
            self._message(frame.t_ns, frame.data)
        elif isinstance(frame, Alive):
            lost = frame.dropped - self._reported
            self._reported = frame.dropped
            if lost > 0:
                self.gap(frame.t_ns, lost, "the recorder did not keep up")
        elif isinstance(frame, (Up, Down)):
            self._link(frame)
        elif isinstance(frame, End):
            self._link(Down(frame.t_ns, frame.why))

    def click(self, frame: Frame, wanted: str) -> None:
        """One frame of a process that clicks or hears the pedal; wanted: the port as it was asked
        for."""
        if isinstance(frame, Beat):
            self._write("click", frame.t_ns, {"beat": frame.number, "bpm": frame.bpm})
        elif isinstance(frame, Cued):
            self._write("cue", frame.t_ns, {"word": frame.word})
        elif isinstance(frame, Message):
            self._write("pedal", frame.t_ns, {"data": frame.data.hex()})
        elif isinstance(frame, (Up, Down)) and wanted.startswith(PEDAL):
            log.info("%s: %s", "pedal" if isinstance(frame, Up) else "no pedal", frame[1])
            up = isinstance(frame, Up)
            self._write("pedal-link", frame.t_ns, {"up": up, "port": frame[1]})
        elif isinstance(frame, (Up, Down)):
            log.info("%s: %s", "click on" if isinstance(frame, Up) else "no click", frame[1])
            told = {"up": isinstance(frame, Up), "port": frame[1], "wanted": wanted}
            self._write("click-link", frame.t_ns, told)

    def _lose(self, records: int, why: str | None) -> None:
        self.unsaved += records
        self.lost_why = why or "the disk refused"
        log.error("%d records could not be saved: %s", records, self.lost_why)

    def gap(self, t_ns: int, dropped: int, why: str) -> None:
        """Messages were lost before they could be written."""
        self.counts.dropped += dropped
        log.error("%d messages lost: %s", dropped, why)
        self._write("gap", t_ns, {"dropped": dropped, "why": why})

    def new_reader(self) -> None:
        """The reader is another process now and counts from zero."""
        self._reported = 0

    def tick(self, now_ns: int) -> None:
        """Time passed: a long silence may end the session, and a disk that refused may take
        again."""
        if self.journal is None:
            if self._waiting and now_ns >= self._retry_ns:
                self._begin_late(now_ns)
            return
        self.journal.tick(now_ns)
        if (
            self.silence_s is not None
            and self.counts.notes
            and not self.journal.pending  # what waits may still find room
            and now_ns - self._heard_ns > self.silence_s * 1e9
        ):
            self.end("a long silence", now_ns)

    def sync(self) -> None:
        """Bring what is written to the medium; from a thread of its own."""
        journal = self.journal
        if journal is not None:
            journal.sync()

    def _message(self, t_ns: int, data: bytes) -> None:
        sounds = is_note(data)
        if self.journal is None:
            self._message_before(Message(t_ns, data), sounds)
            return
        self._write("midi", t_ns, {"data": data.hex()})
        self._carry.note(data)
        self.counts.messages += 1
        if sounds:
            self.playing.note(t_ns / 1e9)
            self.counts.notes += 1
            self._heard_ns = t_ns

    def _message_before(self, message: Message, sounds: bool) -> None:
        """A message while there is no session: the first note begins one."""
        if not sounds and not self._waiting:
            self._carry.note(message.data)
        elif len(self._waiting) >= WAITING:
            self._lost += 1
        else:
            self._waiting.append(message)
            if len(self._waiting) == 1:
                self._begin_late(message.t_ns)

    def _link(self, frame: Up | Down) -> None:
        if isinstance(frame, Down):
            self._carry.clear()
        if type(frame) is type(self.link) and frame[1] == self.link[1]:
            return
        self.link = frame
        log.info("%s: %s", "port open" if isinstance(frame, Up) else "no port", frame[1])
        if self.journal is not None:
            self._write_link(frame.t_ns)

    # ------------------------------------------------------------------------------------- commands

    def command(self, fields: Mapping[str, Any], now_ns: int) -> dict[str, Any]:
        """Carry out a command and return the answer. ``click``, ``cue`` and ``stop`` are the
        service's. Raises BadInput."""
        name = fields.get("command")
        if name == "mark":
            return self._mark(fields.get("text"), now_ns)
        if name == "cells":
            return self.use_cells(fields.get("cells"), now_ns)
        if name == "variant":
            return self._variant(fields.get("name"), now_ns)
        if name == "gestures":
            return self.use_gestures(fields.get("gestures"), now_ns)
        if name == "block":
            return self._block(fields, now_ns)
        if name == "ask":
            return self._ask(fields.get("action"), now_ns)
        if name == "status":
            return self.status(now_ns)
        raise BadInput(
            f"the recorder knows no command {name!r}; it knows mark, cells, variant, gestures, "
            "ask, block, click, cue, follow-clock, pedal, status and stop"
        )

    def use_cells(self, cells: Any, now_ns: int) -> dict[str, Any]:
        """These cells are being practised from now on; none: only recording."""
        self.cells = cells_told(cells)
        self._write("cells", now_ns, {"cells": self.cells})
        return {"cells": [cell.get("name") for cell in self.cells]}

    def use_gestures(self, gestures: Any, now_ns: int) -> dict[str, Any]:
        """These figures on the guitar are commands from now on; what they mean is only written
        down."""
        from_dict({"type": "gestures", "gestures": gestures}, 0.0)
        self.gestures = list(gestures)
        self._write("gestures", now_ns, {"gestures": self.gestures})
        return {}

    def use_rig(self, rig: Mapping[str, Any], now_ns: int) -> None:
        """The notes come through this rig from now on."""
        from_dict({"type": "rig", "rig": rig}, 0.0)
        self.rig = dict(rig)
        self._write("rig", now_ns, {"rig": self.rig})

    def status(self, now_ns: int) -> dict[str, Any]:
        """How things stand, for ``livecheck status``."""
        journal = self.journal
        return {
            "session": str(journal.folder) if journal else None,
            "started": journal.head.wall if journal else None,
            "duration_s": round((now_ns - journal.head.perf_ns) / 1e9, 1) if journal else None,
            "played_s": round(self.playing.seconds, 1) if journal else None,
            "silence_s": self.silence_s,
            "link": {"up": isinstance(self.link, Up), "port": self.link[1]},
            "rig": (self.rig or {}).get("name"),
            "cells": [
                {"name": cell.get("name"), "variant": cell.get("variant")} for cell in self.cells
            ],
            "messages": self.counts.messages,
            "notes": self.counts.notes,
            "dropped": self.counts.dropped + (journal.dropped if journal else 0) + self._lost,
            "waiting": len(self._waiting) + (journal.pending if journal else 0),
            "trouble": self._trouble or (journal.trouble if journal else None),
        }

    def _mark(self, text: Any, now_ns: int) -> dict[str, Any]:
        said = mark_text(text)
        if self.journal is None:
            self.begin(now_ns)
        self._write("mark", now_ns, {"text": said})
        self.counts.marks += 1
        return {}

    def _ask(self, action: Any, now_ns: int) -> dict[str, Any]:
        """The player asks whoever follows the session for something; it is only written down."""
        if action not in ACTIONS:
            raise BadInput(f"ask: {action!r}; there is: {', '.join(ACTIONS)}")
        self._write("ask", now_ns, {"action": action})
        return {}

    def _block(self, fields: Mapping[str, Any], now_ns: int) -> dict[str, Any]:
        """A block of repetitions to a click begins; what it is, is only written down."""
        self._write("block", now_ns, block_told(fields))
        return {}

    def _variant(self, name: Any, now_ns: int) -> dict[str, Any]:
        return self.use_cells(in_variant(self.cells, name), now_ns)

    # -------------------------------------------------------------------------------------- writing

    def _write(self, kind: str, t_ns: int, fields: dict[str, Any]) -> None:
        if self.journal is not None:
            self.journal.append(kind, t_ns, fields)

    def _write_link(self, t_ns: int) -> None:
        if self.link.t_ns:  # before the reader's first word there is nothing to say
            self._write("link", t_ns, {"up": isinstance(self.link, Up), "port": self.link[1]})

    def _begin_late(self, now_ns: int) -> None:
        """Begin a session for messages that wait; where that fails, they go on waiting."""
        try:
            self.begin(now_ns)
        except BadInput as error:
            if self._trouble is None:
                log.error("%s", error)
            self._trouble = str(error)
            self._retry_ns = now_ns + RETRY_NS
