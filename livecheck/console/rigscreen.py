"""Pictures of a rig at work: what each string sends, and notes against ghosts for the gate. Pure
text."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from ..core.pitch import name_of
from ..core.rig import Gate, Rig
from ..core.wire import Wire
from ..measures.noise.gates import Heard
from .palette import Signs

FADE_S = 1.5
"""A level falls to nothing in so long, so that the eye finds what sounded last."""

_VELOCITIES = (0, 4, 8, 12, 16, 20, 26, 34, 44, 56, 70, 86, 104, 128)
_LENGTHS_MS = (0, 5, 10, 15, 20, 25, 30, 40, 60, 90, 140, 250, 500, 10_000)


class Activity:
    """What came from each string so far. ``lines`` is the picture of the moment, ``summary`` that
    of the whole."""

    def __init__(self, rig: Rig) -> None:
        self.rig = rig
        self.foreign: dict[int, int] = {}  # notes by channel that is no string
        self._wire = Wire()
        self._velocities: dict[int, list[int]] = {
            string: [] for string in range(1, len(rig.channels) + 1)
        }
        self._last: dict[int, tuple[float, int, int]] = {}  # time, key, velocity

    def feed(self, t_s: float, data: bytes) -> list[str]:
        """Take one message; returns a line for each note that it began."""
        told = []
        for message in self._wire.feed(data):
            if message[0] & 0xF0 != 0x90 or not message[2]:
                continue
            channel, key, velocity = (message[0] & 0x0F) + 1, message[1], message[2]
            string = self.rig.string_of(channel)
            if string is None:
                self.foreign[channel] = self.foreign.get(channel, 0) + 1
                told.append(
                    f"channel {channel} is no string of the rig: {name_of(key)}, velocity "
                    f"{velocity}"
                )
                continue
            self._velocities[string].append(velocity)
            self._last[string] = (t_s, key, velocity)
            told.append(f"string {string}: {name_of(key)}, velocity {velocity}")
        return told

    def lines(self, now_s: float, width: int, signs: Signs) -> list[str]:
        """A line a string: its last note, its level as a bar that fades, and how many notes
        came."""
        room = max(10, width - 40)
        lines = ["string  channel  note  velocity  notes  level, a full line is 127"[:width]]
        for string, channel in enumerate(self.rig.channels, 1):
            count = len(self._velocities[string])
            last = self._last.get(string)
            if last is None:
                lines.append(f"{string:6}  {channel:7}  {'-':4}  {'-':>8}  nothing yet")
                continue
            t_s, key, velocity = last
            left = max(0.0, 1.0 - (now_s - t_s) / FADE_S)
            bar = signs.bar * round(left * velocity / 127 * room)
            lines.append(
                f"{string:6}  {channel:7}  {name_of(key):4}  {velocity:8}  {count:5}  {bar}"[
                    :width
                ].rstrip()
            )
        return [*lines, *self._foreign_lines()]

    def summary(self) -> list[list[str]]:
        """A table: string, channel, notes, softest, median and hardest velocity."""
        table = [["string", "channel", "notes", "softest", "median", "hardest"]]
        for string, velocities in self._velocities.items():
            own = sorted(velocities)
            figures = [str(own[0]), f"{median(own):g}", str(own[-1])] if own else ["-", "-", "-"]
            table.append([str(string), str(self.rig.channels[string - 1]), str(len(own)), *figures])
        return table

    def troubles(self) -> list[str]:
        """What does not look right: silent strings, foreign channels, one velocity for all."""
        silent = [str(string) for string, velocities in self._velocities.items() if not velocities]
        found = []
        if len(silent) == len(self._velocities) and not self.foreign:
            found.append("nothing came in: is the converter on, and is this its port?")
        elif silent:
            found.append(
                f"nothing came from string{'s' if len(silent) > 1 else ''} {', '.join(silent)}"
            )
        every = [velocity for velocities in self._velocities.values() for velocity in velocities]
        if len(every) >= 20 and len(set(every)) == 1:
            found.append(
                f"every note has velocity {every[0]}: attack cannot be told; set the converter's "
                "curve"
            )
        return [*found, *self._foreign_lines()]

    def _foreign_lines(self) -> list[str]:
        return [
            f"channel {channel} is no string of the rig, but {count} "
            f"note{'' if count == 1 else 's'} came on it"
            for channel, count in sorted(self.foreign.items())
        ]


# ----------------------------------------------------------------------------------------- the gate


def gate_picture(
    notes: Sequence[Heard], ghosts: Sequence[Heard], gate: Gate | None, width: int, signs: Signs
) -> list[str]:
    """Two histograms side by side, ghosts and notes, by velocity and by length, with where the gate
    lies."""
    by_velocity = [float(one.velocity) for one in notes], [float(one.velocity) for one in ghosts]
    by_length = [1000.0 * one.length_s for one in notes], [1000.0 * one.length_s for one in ghosts]
    lines = _histogram(
        "velocity", _VELOCITIES, *by_velocity, gate.velocity if gate else None, width, signs
    )
    return [
        *lines,
        "",
        *_histogram(
            "length", _LENGTHS_MS, *by_length, gate.length_ms if gate else None, width, signs
        ),
    ]


def _histogram(
    what: str,
    edges: Sequence[int],
    notes: Sequence[float],
    ghosts: Sequence[float],
    limit: float | None,
    width: int,
    signs: Signs,
) -> list[str]:
    bar = max(8, (width - 36) // 2)
    unit = " ms" if what == "length" else ""
    lines = [f"{what:>12}  {'converter faults'.ljust(bar + 6)}  notes"]
    for low, high in zip(edges, edges[1:]):
        counts = [sum(low <= value < high for value in values) for values in (ghosts, notes)]
        mosts = [
            max(
                (sum(a <= value < b for value in values) for a, b in zip(edges, edges[1:])),
                default=0,
            )
            for values in (ghosts, notes)
        ]
        bars = [_bar(count, most, bar, signs) for count, most in zip(counts, mosts)]
        label = f"{low} to {high - 1}{unit}" if high < 10_000 else f"{low}{unit} on"
        mark = "  < gate" if limit is not None and low <= limit < high else ""
        ghost, note = bars
        lines.append(f"{label:>12}  {ghost} {counts[0]:5}  {note} {counts[1]:5}{mark}".rstrip())
    return lines


def _bar(count: int, most: int, width: int, signs: Signs) -> str:
    filled = max(1, round(count / most * width)) if count else 0
    return (signs.bar * filled).ljust(width)
