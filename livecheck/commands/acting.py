"""What a sitting of `listen` does when the player asks for something by key, pedal, gesture or from
another program: the click, marks, cells and variants; each is answered by its sound."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping, Sequence
from typing import Any

from ..console.words import cell_title
from ..control import Client
from ..core.actions import CELLS, VARIANTS
from ..core.cell import Cell
from ..core.click import whole_bpm
from ..core.climb import ASKED_STEP
from ..core.cues import CLEAN, CONFIRMS, FAILED, STRING
from ..core.events import MISSED, NOISE, WRONG, Repetition
from ..core.hands import Hands
from ..core.rig import Rig
from ..errors import BadInput, NoDevice
from ..files.config import rig_for
from .hands import HandsAre
from .record import as_told
from .ring import Ring

ASK_S = 0.5
"""Longest wait for the recorder's answer: the screen stands still meanwhile."""
KEYS = "  c cell  w variant"
CLICK_KEYS = "  u d a p click" + KEYS


class Acting:
    """Obeys in one sitting. cue_port: None where nothing is to be heard; cues: whether each stretch
    of play is told by a sound, too."""

    def __init__(
        self,
        are: HandsAre,
        cells: Sequence[Cell],
        rig: Rig | None,
        ring: Ring,
        click: Mapping[str, Any] | None,
        cue_port: str | None,
        cues: bool,
    ) -> None:
        """click: the command of our own one, None where there is none."""
        cell = cells[0] if cells else None
        self.hands = Hands(are.wanted, cell, rig_for(cell, rig) if cell else rig or Rig())
        self.keys = KEYS if click is None else CLICK_KEYS
        self._are, self._rig, self._ring = are, rig, ring
        self._click = None if click is None else dict(click)
        self._clicking = click is not None
        self._cue_port = cue_port
        self._cues = cues
        self._client: Client | None = None

    def begin(self, client: Client) -> None:
        """A recorder is there: tell it what is listened to."""
        self._client = client
        for command in self._are.commands():
            client.ask(command)
        if self._cue_port is not None and not self._clicks_there:
            client.ask({"command": "click", "port": self._cue_port, "schedule": None})
        if self._click is not None and self._clicking:
            client.ask(self._click)

    def act(self, action: str, cell: Cell | None) -> str | None:
        """Do what is asked for while a cell is played; returns what to say of it."""
        try:
            said = self._done(action, cell)
        except (BadInput, NoDevice) as error:
            return str(error)
        self._sound(CONFIRMS[action])
        return said

    def mark(self, text: str) -> None:
        """Set a mark, without a sound."""
        with contextlib.suppress(BadInput, NoDevice):  # what is wrong is on the screen by itself
            self._ask({"command": "mark", "text": text})

    def paused(self, reps: Sequence[Repetition]) -> None:
        """A stretch of play is over: sound what came of it, where that is asked for."""
        if not self._cues or not reps:
            return
        failed = sum(slot.verdict in (MISSED, WRONG) for rep in reps for slot in rep.slots)
        noise = sum(extra.kind == NOISE for rep in reps for extra in rep.extras)
        clean = all(rep.clean for rep in reps)
        self._sound(CLEAN if clean else STRING if noise > failed else FAILED)

    @property
    def _clicks_there(self) -> bool:
        return self._click is not None and self._click["port"] == self._cue_port

    def _done(self, action: str, cell: Cell | None) -> str | None:
        if action == "mark":
            self._ask({"command": "mark", "text": "by hand"})
        elif action in (*CELLS, *VARIANTS):
            other = self._ring.step(cell, action)
            self._ask({"command": "cells", "cells": as_told([other])})
            self.hands.use(other, rig_for(other, self._rig))
            return f"from now on: {cell_title(other)}"
        elif action in ("again", "up", "down", "pause"):
            return self._new_click(action)
        return None

    def _new_click(self, action: str) -> str:
        if self._click is None:
            raise BadInput("there is no click; `--click BPM` sounds one")
        schedule = dict(self._click["schedule"])
        if action == "pause" and self._clicking:
            self._clicking = False
            self._ask({**self._click, "schedule": None})
            return "the click pauses"
        factor = {"up": ASKED_STEP, "down": 1.0 / ASKED_STEP}.get(action, 1.0)
        schedule["bpm"] = whole_bpm(schedule["bpm"] * factor) if factor != 1.0 else schedule["bpm"]
        command = {**self._click, "schedule": schedule}
        self._ask(command)
        self._click, self._clicking = command, True
        return f"click at {schedule['bpm']:g} bpm, from a count-in on"

    def _sound(self, word: str) -> None:
        if self._cue_port is None:
            return
        with contextlib.suppress(BadInput, NoDevice):
            self._ask(self._are.cue(word, self._cue_port))

    def _ask(self, command: Mapping[str, Any]) -> None:
        if self._client is not None:
            self._client.ask(command, timeout_s=ASK_S)
