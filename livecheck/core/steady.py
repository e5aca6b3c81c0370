"""What is said to a player who measures the conversion delay, and when enough has been played.

Owns the pattern over the strings, the frets and when they change, reminders and the end. A pure
state machine: it is told what was heard and how sure the delays are so far, and the time that
passes; it gives back what is to be said.
"""

from __future__ import annotations

from collections.abc import Mapping

from .cell import Cell, make_cell
from .rig import Rig
from .setup import ASK, DEAD_S, HEARD, REMIND_S, TROUBLE, Said
from .tunings import usual_tuning

FRETS = (0, 12, 0, 12)
"""Far apart: a delay halves at fret 12 (sources.md C-05) and a player's habit of a string does not,
which alone tells them apart. Each twice, since habits change as a player goes on."""
FRET_S = 30.0  # so long on each
LONGEST_S = 120.0  # of play; pauses do not count
SHORTEST_S = 60.0  # both frets
GOAL_MS = 1.0  # half of the 95 % interval of the string known worst
NOTES_A_CLICK = 4
# eight notes a second: the quicker, the more notes, and the less each of them scatters (E-22)
TEMPO_BPM = 120.0

_PAUSE_S = 2.0
_GIVE_UP_S = 45.0  # of silence after something was played
_UNHEARD_S = 15.0


def pattern(strings: int) -> tuple[int, ...]:
    """From the lowest string to the highest and back, both ends twice: each string is reached from
    both sides.

    >>> pattern(3)
    (3, 2, 1, 1, 2, 3)
    """
    up = tuple(range(strings, 0, -1))
    return up + up[::-1]


def cell_at(rig: Rig, fret: int) -> Cell:
    """What is to be played at one fret, as a cell, so that the session says it."""
    strings = min(len(rig.channels), 8)
    slots = [(string, fret) for string in pattern(strings)]
    return make_cell(
        f"steady notes at fret {fret}",
        slots,
        grid=NOTES_A_CLICK,
        tuning=rig.tuning or usual_tuning(strings),
    )


class Steady:
    """The guidance. ``begin`` and ``tick`` return what is to be said; ``over`` says why it ended,
    once it has."""

    def __init__(self, strings: int, click_bpm: float | None, longest_s: float = LONGEST_S) -> None:
        self.fret = FRETS[0]
        self.over: str | None = None
        self.dead = False  # nothing at all came in
        self.played_s = 0.0
        self.counts = dict.fromkeys(range(strings, 0, -1), 0)
        # half interval of the string known worst, once all are known
        self.worst_ms: float | None = None
        self._click_bpm = click_bpm
        self._longest_s = longest_s
        self._tick_s = self._heard_s = 0.0
        self._total = 0
        self._reminded = False
        self._told_unheard: tuple[int, ...] = ()

    def begin(self, now_s: float) -> list[Said]:
        """What to play."""
        self._tick_s = self._heard_s = now_s
        order = " ".join(map(str, pattern(len(self.counts))))
        said = [
            "Stop at pain, tingling or numbness, and rest when it is over.",
            "Play over all strings, up and back, and so on without a stop:",
            f"{order}, all on one fret,",
            "one picked note a string. Let none ring into the next.",
        ]
        if self._click_bpm is not None:
            said.append(
                f"{NOTES_A_CLICK} notes to each click ({self._click_bpm:g} a minute), as evenly "
                "as you can;"
            )
            said.append("begin after four high clicks, with the first low one.")
        else:
            said.append(
                "As quick as you can evenly, some eight notes a second; no tempo is to be met."
            )
        said.append(
            f"{_span(self._longest_s)} of it at the most. Nothing has to be typed; Ctrl-C ends it."
        )
        return [*(Said(HEARD, line) for line in said), Said(ASK, f"Begin at {_place(self.fret)}.")]

    def tick(
        self, now_s: float, counts: Mapping[int, int], halves_ms: Mapping[int, float]
    ) -> list[Said]:
        """Time passed. counts: notes of each string so far; halves_ms: half of the interval of each
        that is known."""
        if self.over is not None:
            return []
        passed_s, self._tick_s = now_s - self._tick_s, now_s
        for string in self.counts:
            self.counts[string] = counts.get(string, 0)
        total = sum(self.counts.values())
        if total > self._total:
            self._total, self._heard_s, self._reminded = total, now_s, False
        if total and now_s - self._heard_s < _PAUSE_S:
            self.played_s += passed_s
        known = all(string in halves_ms for string in self.counts)
        self.worst_ms = max(halves_ms.values()) if known and halves_ms else None
        return self._end(now_s) or self._remind(now_s) or self._move()

    def status(self) -> str:
        """How it goes, in one line of at most 79 columns."""
        seconds = int(self.played_s)
        counts = " ".join(map(str, self.counts.values()))
        width = f"   ±{self.worst_ms:.1f} ms of {GOAL_MS:.1f}" if self.worst_ms is not None else ""
        return (
            f"  {seconds // 60}:{seconds % 60:02}   notes {counts} (string {max(self.counts)} "
            f"to 1){width}"
        )[:79]

    def _end(self, now_s: float) -> list[Said]:
        silent_s = now_s - self._heard_s
        if self.played_s >= self._longest_s:
            self.over = f"{_span(self._longest_s)} of play are over."
        elif self.worst_ms is not None and self.worst_ms <= GOAL_MS and self.played_s >= SHORTEST_S:
            self.over = f"Enough: each string is known to {GOAL_MS:g} ms."
        elif self._total and silent_s > _GIVE_UP_S:
            self.over = "No more was played."
        elif not self._total and silent_s > DEAD_S:
            self.over, self.dead = "Nothing came in at all.", True
        else:
            return []
        return [Said(TROUBLE if self.dead else HEARD, self.over)]

    def _remind(self, now_s: float) -> list[Said]:
        silent_s = now_s - self._heard_s
        if silent_s > REMIND_S and not self._reminded:
            self._reminded = True
            if not self._total:
                return [
                    Said(TROUBLE, "Nothing comes in: is the converter on, and is this its port?")
                ]
            return [Said(TROUBLE, "Nothing more comes in. Go on: what was played counts.")]
        unheard = tuple(string for string, count in self.counts.items() if count == 0)
        if unheard and self.played_s > _UNHEARD_S and unheard != self._told_unheard:
            self._told_unheard = unheard
            strings = ", ".join(map(str, unheard))
            return [
                Said(TROUBLE, f"Nothing yet from string {strings}: all strings have to be heard.")
            ]
        return []

    def _move(self) -> list[Said]:
        """On to the next fret when its time has come."""
        fret = FRETS[min(int(self.played_s / FRET_S), len(FRETS) - 1)]
        if fret == self.fret:
            return []
        self.fret = fret
        return [Said(ASK, f"Now at {_place(fret)}: go on there.")]


def _place(fret: int) -> str:
    return f"fret {fret}" if fret else "fret 0, the open strings"


def _span(seconds: float) -> str:
    return (
        f"{seconds / 60.0:g} minutes"
        if seconds % 60.0 == 0.0 and seconds > 60.0
        else f"{seconds:g} seconds"
    )
