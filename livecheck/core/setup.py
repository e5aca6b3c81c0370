"""Find out how a converter is set up, from open strings played one after another.

Owns the talk between program and player while the rig is found: which string is asked for, what to
say of a wrong string, of two at once or of none, and when to go on. A pure state machine: it is fed
with messages and with the time that passes, and gives back what is to be said. ``rigfind.py`` draws
the conclusions at the end.

Nothing is asked twice for nothing: whatever does not fit is said and tried once more, and then
taken as it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from .decode import OCTAVE_ERRORS
from .pitch import name_of
from .plain_text import joined
from .rig import Rig
from .rigfind import Found, Slur, conclude
from .wire import CENTRE, Wire

ASK, HEARD, TROUBLE = "ask", "heard", "trouble"

GATHER_S = 0.4
"""After a note so much is waited for others that belong to the same stroke."""
REMIND_S = 8.0
GIVE_UP_S = 20.0
DEAD_S = 60.0  # so long without a single message: there is no converter
REST_S = 0.6  # after a string was taken, what it sounds again by itself is no answer
SLUR_HOLD_S = 1.0
SOFT = 0.4  # of the loudest: softer is sympathy, not a stroke
_LEAST_VELOCITY = 8
_BENT = 1500  # steps of the wheel: a slur over an octave bends further at any usual range


class Said(NamedTuple):
    """Something to tell the player. ``kind`` is ASK, HEARD or TROUBLE."""

    kind: str
    text: str


@dataclass(slots=True)
class _Stroke:
    t_s: float
    channel: int  # from 1
    key: int
    velocity: int


class Setup:
    """The guided setup. ``begin``, ``feed`` and ``tick`` return what is to be said; ``done`` ends
    it.

    ``result`` may be asked for at any time. Strings are asked for from the lowest to string 1.
    """

    def __init__(self, base: Rig | None = None, strings: int = 6) -> None:
        self.strings = strings
        self.done = False
        self.dead = False  # nothing at all came in
        self._base = base if base is not None else Rig()
        self._wire = Wire()
        self._taken: dict[int, tuple[int, int]] = {}  # string: channel, pitch
        self._doubled: dict[int, int] = {}  # string: the channel that another one has
        self._missing: list[int] = []
        self._string = strings  # asked for
        self._slurring = False
        self._slur: Slur | None = None
        self._strokes: list[_Stroke] = []
        self._doubt: tuple[int, int] | None = None  # channel and pitch that did not fit, heard once
        self._asked_s = self._taken_s = 0.0
        self._reminded = False
        self._heard_anything = False
        self._rpn: dict[int, list[int]] = {}
        self._ranges: dict[int, float] = {}  # by channel, as RPN 0 said
        self._wheel: dict[int, int] = {}
        self._slurred: _Stroke | None = None
        self._wheel_moved_s = 0.0

    # ---------------------------------------------------------------------------------- the outside

    def begin(self, now_s: float) -> list[Said]:
        """The first question."""
        self._taken_s = now_s - REST_S
        return self._ask(now_s)

    def feed(self, t_s: float, data: bytes) -> list[Said]:
        """Take one message as it came from the driver."""
        said = self.tick(t_s)
        if self.done:
            return said
        for message in self._wire.feed(data):
            self._heard_anything = True
            kind, channel = message[0] & 0xF0, (message[0] & 0x0F) + 1
            if kind == 0x90 and message[2]:
                said += self._note(_Stroke(t_s, channel, message[1], message[2]))
            elif kind == 0xE0:
                self._wheel[channel] = (message[2] << 7) + message[1]
                self._wheel_moved_s = t_s
            elif kind == 0xB0:
                self._control(channel, message[1], message[2])
        return said

    def tick(self, now_s: float) -> list[Said]:
        """Time passed."""
        if self.done:
            return []
        if self._slurring:
            return self._tick_slur(now_s)
        if self._strokes and now_s - self._strokes[0].t_s > GATHER_S:
            strokes, self._strokes = self._strokes, []
            return self._judge(strokes, now_s)
        waited_s = now_s - self._asked_s
        if not self._heard_anything:
            return self._nothing_at_all(waited_s)
        if not self._strokes and waited_s > GIVE_UP_S:
            self._missing.append(self._string)
            return [
                Said(TROUBLE, f"String {self._string}: no signal. Going on without it."),
                *self._next(now_s),
            ]
        if not self._strokes and waited_s > REMIND_S and not self._reminded:
            self._reminded = True
            return [
                Said(
                    TROUBLE,
                    f"Nothing from string {self._string} yet: play it once more, a little harder.",
                )
            ]
        return []

    def finish(self, now_s: float) -> list[Said]:
        """Nothing more will come (a file has ended): what waits is judged, what was not played is
        missing."""
        said = self.tick(now_s + GATHER_S + 0.01)
        said += self.tick(now_s + GATHER_S + SLUR_HOLD_S)
        if not self.done and not self._slurring:
            self._missing += range(self._string, 0, -1)
        self.done = True
        self.dead = not self._heard_anything
        return said

    def result(self) -> Found:
        """What was found so far, with the rig that follows from it."""
        return conclude(
            self._base, self.strings, self._taken, self._doubled, self._ranges, self._slur
        )

    # --------------------------------------------------------------------------------------- asking

    def _ask(self, now_s: float) -> list[Said]:
        self._asked_s = now_s
        self._reminded = False
        self._doubt = None
        where = (
            " (the lowest)"
            if self._string == self.strings
            else " (the highest)"
            if self._string == 1
            else ""
        )
        return [Said(ASK, f"Play string {self._string}{where} open, by itself.")]

    def _next(self, now_s: float) -> list[Said]:
        self._taken_s = now_s
        while (
            self._string in self._taken
            or self._string in self._doubled
            or self._string in self._missing
        ):
            self._string -= 1
        if self._string > 0:
            return self._ask(now_s)
        if not self._taken or any(channel in self._ranges for channel, _ in self._taken.values()):
            self.done = True
            return []
        self._slurring = True
        self._asked_s = now_s
        string = min(self._taken)
        return [
            Said(ASK, f"Play string {string} open, hammer on at the twelfth fret, and hold it.")
        ]

    def _nothing_at_all(self, waited_s: float) -> list[Said]:
        if waited_s > DEAD_S:
            self.done = self.dead = True
            return [Said(TROUBLE, "Nothing came in at all.")]
        if waited_s > REMIND_S and not self._reminded:
            self._reminded = True
            return [Said(TROUBLE, "Nothing comes in: is the converter on, and is this its port?")]
        return []

    # -------------------------------------------------------------------------------------- strokes

    def _note(self, stroke: _Stroke) -> list[Said]:
        if self._slurring:
            return self._slur_note(stroke)
        if stroke.velocity < _LEAST_VELOCITY:
            return []
        if stroke.t_s - self._taken_s < REST_S and stroke.channel in {
            channel for channel, _ in self._taken.values()
        }:
            return []  # the string before still sounds
        self._strokes.append(stroke)
        return []

    def _judge(self, strokes: list[_Stroke], now_s: float) -> list[Said]:
        loudest = max(stroke.velocity for stroke in strokes)
        channels = sorted(
            {stroke.channel for stroke in strokes if stroke.velocity >= SOFT * loudest}
        )
        if len(channels) > 1:
            return self._again(now_s, f"Two strings at once (channels {joined(channels)})")
        channel = channels[0]
        pitch = _settled([stroke.key for stroke in strokes if stroke.channel == channel])
        doubt, self._doubt = self._doubt, (channel, pitch)
        twice = doubt == (channel, pitch)
        owner = next((string for string, (own, _) in self._taken.items() if own == channel), None)
        if owner is not None:
            return self._on_a_taken_channel(owner, channel, pitch, twice, now_s)
        if not twice and not self._fits(channel, pitch):
            return self._again(
                now_s, f"That seems to be another string (channel {channel}, {name_of(pitch)})"
            )
        self._taken[self._string] = (channel, pitch)
        return [
            Said(HEARD, f"String {self._string}: channel {channel}, {name_of(pitch)}."),
            *self._next(now_s),
        ]

    def _on_a_taken_channel(
        self, owner: int, channel: int, pitch: int, twice: bool, now_s: float
    ) -> list[Said]:
        if abs(pitch - self._taken[owner][1]) <= 1:
            if twice and abs(owner - self._string) == 1:
                return self._exchange(owner, now_s)
            return self._again(now_s, f"That was string {owner} again")
        if not twice:
            return self._again(
                now_s, f"{name_of(pitch)} came on channel {channel}, which is string {owner}'s"
            )
        self._doubled[self._string] = channel
        text = f"Strings {owner} and {self._string} send on one channel ({channel}). Going on."
        return [Said(TROUBLE, text), *self._next(now_s)]

    def _exchange(self, owner: int, now_s: float) -> list[Said]:
        """What was taken for one string came twice more as its neighbour: it is the neighbour, as
        the player says."""
        string = self._string
        self._taken[string] = self._taken.pop(owner)
        channel, pitch = self._taken[string]
        self._taken_s = now_s
        self._string = owner
        told = f"Then that is string {string} (channel {channel}, {name_of(pitch)})"
        return [Said(HEARD, f"{told}, and string {owner} is still to come."), *self._ask(now_s)]

    def _again(self, now_s: float, what: str) -> list[Said]:
        self._asked_s = now_s
        self._reminded = False
        return [Said(TROUBLE, f"{what}: play string {self._string} by itself once more.")]

    def _fits(self, channel: int, pitch: int) -> bool:
        """Channels mostly follow each other, and neighbours mostly lie a second to a fifth or so
        apart."""
        above = self._string + 1
        if above not in self._taken:
            return True
        last, last_pitch = self._taken[above]
        before = self._taken.get(above + 1)
        steps = {last - before[0]} if before is not None and abs(last - before[0]) == 1 else {1, -1}
        follows = channel - last in steps
        near = 1 <= abs(pitch - last_pitch) <= 7
        return near if not follows else abs(pitch - last_pitch) <= 15

    # ----------------------------------------------------------------------------- the bend's range

    def _control(self, channel: int, number: int, value: int) -> None:
        rpn = self._rpn.setdefault(channel, [127, 127])
        if number in (100, 101):
            rpn[101 - number] = value
        elif number in (98, 99):  # a parameter of the maker's own takes over data entry
            rpn[:] = [127, 127]
        elif number == 6 and rpn == [0, 0] and value:
            self._ranges[channel] = float(min(value, 96))
        elif number == 38 and rpn == [0, 0] and channel in self._ranges:
            self._ranges[channel] = float(int(self._ranges[channel])) + min(value, 99) / 100.0

    def _slur_note(self, stroke: _Stroke) -> list[Said]:
        opens = set(self._taken.values())
        if (stroke.channel, stroke.key) in opens:
            self._slurred = stroke
            self._wheel[stroke.channel] = CENTRE
        elif self._slurred is not None and stroke.channel == self._slurred.channel:
            if stroke.key - self._slurred.key == 12:
                self._slur = Slur(wheel=None)
                self.done = True
                return [Said(HEARD, "The slur came as a new note, not as a bend.")]
            self._slurred = None
        return []

    def _tick_slur(self, now_s: float) -> list[Said]:
        stroke = self._slurred
        if stroke is not None:
            wheel = self._wheel.get(stroke.channel, CENTRE)
            if (
                wheel - CENTRE > _BENT
                and now_s - max(self._wheel_moved_s, stroke.t_s) > SLUR_HOLD_S / 2
            ):
                self._slur = Slur(wheel)
                self.done = True
                return [Said(HEARD, "The slur came as a bend.")]
        waited_s = now_s - self._asked_s
        if waited_s > GIVE_UP_S:
            self.done = True
            return [Said(TROUBLE, "No slur was heard. Going on without it.")]
        if waited_s > REMIND_S and not self._reminded:
            self._reminded = True
            return [
                Said(
                    TROUBLE,
                    "No slur yet: the open string, then a hammer-on at its twelfth fret, held.",
                )
            ]
        return []


def _settled(keys: list[int]) -> int:
    """The pitch that a stroke's notes on one channel came to: an octave error corrects itself
    (sources.md C-15)."""
    pitch = keys[0]
    for key in keys[1:]:
        if pitch - key in OCTAVE_ERRORS:
            pitch = key
    return pitch
