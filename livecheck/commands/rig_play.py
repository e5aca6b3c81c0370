"""Measure at the guitar: start a recorder and its click, say what to play, and stop when the delays
are known.

The notes and the clicks go into a session like any other, which can be looked at again later.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from textwrap import wrap
from typing import TextIO

from ..console.words import STOP_IF
from ..control import Client
from ..core.click import HIGHEST_BPM, LOWEST_BPM
from ..core.events import Click, ClickLink, Link, Record, Stop
from ..core.plain_text import clean
from ..core.rig import Rig
from ..core.setup import ASK, HEARD, Said
from ..core.steady import FRETS, LONGEST_S, TEMPO_BPM, Steady, cell_at
from ..daemon.ports import matcher
from ..daemon.process import RecorderProcess
from ..errors import BadInput, LivecheckError, NoDevice
from ..files.config import cell_to_dict
from ..files.journal_reader import Follower
from ..report.outlet import raw
from .choice import Choice, practice_folder, rig_of
from .common import program_name, width_of
from .record import Input, one_session, recording
from .rig_steady import steady_estimate, struck

POLL_S = 0.05
COUNT_S = 0.5  # between two counts of the notes
ESTIMATE_S = 4.0
PLAIN_S = 15.0  # between two lines of how it goes where there is no terminal


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """How to play: to a click on a MIDI output, if any, and for how long at most."""

    click_port: str | None = None
    tempo_bpm: float = TEMPO_BPM
    seconds: float | None = None


def play_steadily(choice: Choice, heard: Input, asked: Asked, out: TextIO) -> Path:
    """Let the player play until enough is known. Returns the session. Raises NoDevice, BadInput."""
    if asked.click_port is not None:
        matcher(asked.click_port)
        if not LOWEST_BPM <= asked.tempo_bpm <= HIGHEST_BPM:
            raise BadInput(
                f"--tempo {asked.tempo_bpm:g}: a click can have {LOWEST_BPM:g} to {HIGHEST_BPM:g} "
                "a minute"
            )
    rig = rig_of(choice, own=True) or Rig()
    home = practice_folder(choice).root
    told = recording(home, [cell_at(rig, FRETS[0])], rig, heard)
    with one_session(told, out) as (process, session):
        _Talk(asked, rig, Client(home), process, out).run(session)
    print(
        f"(`{program_name()} rig latency {session.name}` shows the following again)",
        "",
        sep="\n",
        file=out,
    )
    return session


class _Talk:
    """One measurement: what is heard, what is said, and the line that tells how it goes."""

    def __init__(
        self, asked: Asked, rig: Rig, client: Client, process: RecorderProcess, out: TextIO
    ) -> None:
        self._bpm = asked.tempo_bpm if asked.click_port is not None else None
        self._port = asked.click_port
        self._rig = rig
        self._client = client
        self._process = process
        self._out = out
        self._guide = Steady(min(len(rig.channels), 8), self._bpm, asked.seconds or LONGEST_S)
        self._records: list[Record] = []
        self._halves_ms: dict[int, float] = {}
        self._written = 0  # columns of the line that tells how it goes
        self._told_s = 0.0
        self._ended: str | None = None  # why the session has, before its time

    def run(self, session: Path) -> None:
        """Until the guide says that it is over, or the recorder has ended."""
        follower, guide = Follower(session), self._guide
        begun_s = counted_s = estimated_s = time.monotonic()
        print(f"{STOP_IF}.", file=self._out, flush=True)
        self._say(guide.begin(0.0))
        if self._port is not None:
            self._client.ask(
                {"command": "click", "port": self._port, "schedule": {"bpm": self._bpm}}
            )
        fret = guide.fret
        while guide.over is None and self._ended is None:
            time.sleep(POLL_S)
            for record in follower.poll():
                self._hear(record)
            now_s = time.monotonic()
            if self._process.poll() is not None:
                raise LivecheckError("the recorder has ended; its log is .livecheck/recorder.log")
            if now_s - counted_s < COUNT_S:
                continue
            counted_s = now_s
            due = now_s - estimated_s >= ESTIMATE_S
            if due:
                estimated_s = now_s
            counts = self._count(due)
            said = guide.tick(now_s - begun_s, counts, self._halves_ms)
            self._show(now_s - begun_s)
            if guide.over is not None:
                self._end_line()
            self._say(said)
            if guide.fret != fret:
                fret = guide.fret
                self._use_cell(fret)
        if guide.dead:
            raise NoDevice("nothing came in; look with `livecheck ports` and `livecheck rig check`")

    def _hear(self, record: Record) -> None:
        self._records.append(record)
        if isinstance(record, Link):
            self._line(
                f"  Listening to {record.port}."
                if record.up
                else f"! {record.port}. It goes on when it is back."
            )
        elif isinstance(record, Stop):
            self._ended = record.why
            self._line(f"! The session has ended: {record.why}.")
        elif isinstance(record, ClickLink):
            if record.up:
                self._line(f"  The click goes to {record.port}.")
            elif not any(isinstance(one, Click) for one in self._records):
                raise NoDevice(record.port)
            else:
                self._line(f"! The click: {record.port}. Go on; it clicks again when it is back.")

    def _count(self, estimate: bool) -> dict[int, int]:
        notes, clicks_s = struck(self._records, self._rig)
        if estimate:
            found = steady_estimate(notes, None if self._bpm is None else clicks_s, self._rig)
            known = [(one.string, one.relative_ms) for one in found.strings]
            self._halves_ms = {
                string: (ms.high - ms.low) / 2.0 for string, ms in known if ms is not None
            }
        counts: dict[int, int] = {}
        for note in notes:
            counts[note.string] = counts.get(note.string, 0) + 1
        return counts

    def _use_cell(self, fret: int) -> None:
        try:
            cell = cell_at(self._rig, fret)
            self._client.ask(
                {"command": "cells", "cells": [{**cell_to_dict(cell), "variant": None}]}
            )
        except (BadInput, NoDevice):
            return  # only the session's own account of the fret

    # ----------------------------------------------------------------------------------- the screen

    def _say(self, said: Sequence[Said]) -> None:
        signs = {ASK: "> ", HEARD: "  "}
        for one in said:
            self._line(signs.get(one.kind, "! ") + one.text)

    def _line(self, text: str) -> None:
        self._end_line(erase=True)
        lines = wrap(
            text.strip(),
            width_of(self._out) - 3,
            initial_indent=text[: len(text) - len(text.lstrip())],
        )
        print("\n  ".join(lines), file=self._out, flush=True)

    def _show(self, now_s: float) -> None:
        """How it goes: on a terminal always in the same line, else a line now and then."""
        text = self._guide.status()
        if self._out.isatty():
            line = clean(text).ljust(self._written)
            print("\r" + line, end="", file=raw(self._out), flush=True)
            self._written = len(text)
        elif now_s - self._told_s >= PLAIN_S:
            self._told_s = now_s
            print(text, file=self._out, flush=True)

    def _end_line(self, erase: bool = False) -> None:
        if self._written:
            print(
                "\r" + " " * self._written + "\r" if erase else "\n",
                end="",
                file=raw(self._out),
                flush=True,
            )
            self._written = 0
