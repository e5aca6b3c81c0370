"""Named mixes: what kinds of trouble a take holds, with every rate drawn anew over a wide range.

``wide`` draws from larger ranges still; takes that are opened only to report use it, so that
nothing tuned on the usual ranges can hide there.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from random import Random

from .habits import Conversion, Habits

Drawn = tuple[Habits, Conversion, dict[str, float]]


def rate(rng: Random, low: float, high: float) -> float:
    """A rate drawn over orders of magnitude, the upper ones rather more often."""
    return float(low * (high / low) ** rng.random() ** 0.6)


class _Draw:
    def __init__(self, rng: Random, wide: bool) -> None:
        self.rng, self.wide = rng, wide
        self.habits, self.how, self.cell = self._hands(), self._converter(), dict[str, float]()

    def r(self, low: float, high: float) -> float:
        return rate(self.rng, low, high * 1.6 if self.wide else high)

    def _hands(self) -> Habits:
        rng = self.rng
        return Habits(
            notes_per_s=rng.uniform(3.0, 20.0) if rng.random() < 0.3 else rng.uniform(5.0, 13.0),
            reps=rng.randint(8, 20),
            scatter_pct=rng.uniform(1.5, 4.0),
            timekeeper=rng.uniform(0.2, 1.2),
            walk_pct=rng.uniform(0.05, 0.5 if self.wide else 0.35),
            gallop_pct=rng.uniform(0.0, 4.0 if self.wide else 3.0),
            end=rng.choice(("complete", "complete", "first", "middle")),
        )

    def _converter(self) -> Conversion:
        rng = self.rng
        return Conversion(
            fixed_ms=rng.uniform(1.0, 8.0),
            periods=rng.uniform(1.0, 2.5),
            jitter_ms=rng.uniform(0.2, 1.5),
            jitter_periods=rng.uniform(0.03, 0.3)
            if rng.random() < 0.8
            else rng.uniform(0.3, 0.8 if self.wide else 0.6),
            bend_range=rng.choice((12, 12, 12, 24, 24, 7)),
            sends_rpn=rng.random() < 0.6,
            bend_first=rng.random() < 0.3,
            zero_velocity_off=rng.choice((0.0, 1.0, 0.5)),
            overlapped=rng.choice((0.0, 0.3, 1.0)),
            late_off=rng.uniform(0.0, 0.1),
            serial=rng.random() < 0.6,
            first_channel=rng.choice((1, 1, 1, 1, 10, 4)),
        )

    def hands(self, **changes: object) -> None:
        self.habits = replace(self.habits, **changes)  # type: ignore[arg-type]

    def converter(self, **changes: object) -> None:
        self.how = replace(self.how, **changes)  # type: ignore[arg-type]

    # ---------------------------------------------------------------------------------- ingredients

    def some_legato(self) -> None:
        if self.rng.random() < 0.5:
            self.converter(bend_legato=self.rng.choice((0.0, 0.5, 1.0)))

    def dropped(self, high: float = 0.08) -> None:
        self.hands(dropped=self.r(0.004, high), soft=self.r(0.005, 0.1), muffed=self.r(0.003, 0.03))

    def wrong(self, high: float = 0.06) -> None:
        self.hands(
            wrong_fret=self.r(0.005, high),
            wrong_string=self.r(0.003, high / 2),
            misplaced=self.r(0.002, high / 2),
        )

    def noise(self) -> None:
        self.hands(
            clipped=self.r(0.01, 0.25), brushed=self.r(0.005, 0.1), ringing=self.r(0.003, 0.06)
        )

    def ghosts(self, high: float = 0.08) -> None:
        self.converter(ghost=self.r(0.005, high), double=self.r(0.003, high / 2))

    def octaves(self, high: float = 0.04) -> None:
        self.converter(octave_held=self.r(0.002, high), octave_corrected=self.r(0.003, high))

    def restarts(self) -> None:
        rng = self.rng
        self.hands(
            break_off=self.r(0.05, 0.3),
            break_pause=rng.random(),
            break_earlier=rng.uniform(0.0, 0.6),
            stumble=self.r(0.03, 0.2),
            wait=self.r(0.02, 0.15),
        )

    def jumps(self) -> None:
        self.hands(jump=self.r(0.05, 0.4), jump_ratio=self.rng.uniform(1.05, 1.5))

    def around(self, chance: float = 1.0) -> None:
        rng = self.rng
        self.hands(
            mid_entry=rng.random() < 0.6 * chance,
            noodle_before=rng.randint(3, 20) if rng.random() < 0.7 * chance else 0,
            noodle_after=rng.randint(3, 20) if rng.random() < 0.7 * chance else 0,
            noodle_own=rng.uniform(0.0, 0.4),
            noodle_between=rng.random() * chance,
        )

    def dirt(self) -> None:
        rng = self.rng
        self.converter(
            late_off=rng.uniform(0.0, 0.4),
            missing_off=rng.choice((0.0, 0.02, 0.1, 0.3)),
            late_reset=rng.choice((0.0, 0.0, 0.3, 1.0)),
            vibrato=rng.uniform(0.0, 0.6),
            vibrato_semitones=rng.uniform(0.1, 0.7 if self.wide else 0.48),
            chatter=rng.choice((0.0, 0.0, 0.2, 0.8)),
            chromatic_slide=rng.choice((0.0, 0.0, 0.5)),
            clock=rng.random() < 0.3,
            sensing=rng.random() < 0.4,
            controllers=rng.choice((0.0, 0.5, 3.0)),
            foreign=rng.choice((0.0, 0.0, 0.5)),
        )


def _clean(draw: _Draw) -> None:
    draw.some_legato()


def _dropped(draw: _Draw) -> None:
    draw.dropped(0.1)


def _wrong(draw: _Draw) -> None:
    draw.wrong(0.08)


def _noise(draw: _Draw) -> None:
    draw.noise()
    draw.ghosts(0.03)


def _legato(draw: _Draw) -> None:
    draw.cell["legato"] = draw.rng.uniform(0.4, 0.9)
    draw.converter(
        bend_legato=draw.rng.choice((0.0, 0.2)), chromatic_slide=draw.rng.choice((0.0, 0.0, 1.0))
    )
    draw.hands(dropped=draw.r(0.002, 0.03))


def _bend_alone(draw: _Draw) -> None:
    draw.cell["legato"] = draw.rng.uniform(0.4, 0.9)
    draw.converter(
        bend_legato=draw.rng.uniform(0.7, 1.0),
        glide=draw.rng.uniform(0.0, 0.7),
        late_reset=draw.rng.choice((0.0, 0.5)),
        chatter=draw.rng.choice((0.0, 0.3)),
        vibrato=draw.rng.choice((0.0, 0.5)),
    )
    draw.hands(dropped=draw.r(0.002, 0.03), wrong_fret=draw.r(0.002, 0.02))


def _converter(draw: _Draw) -> None:
    draw.some_legato()
    draw.ghosts(0.12)
    draw.octaves(0.05)
    draw.dirt()


def _stumbles(draw: _Draw) -> None:
    draw.restarts()
    draw.dropped(0.03)
    draw.hands(reps=draw.rng.randint(12, 24))


def _tempo(draw: _Draw) -> None:
    draw.jumps()
    draw.hands(walk_pct=draw.rng.uniform(0.2, 0.7), dropped=draw.r(0.002, 0.03))


def _around(draw: _Draw) -> None:
    draw.around()
    draw.hands(wait=draw.r(0.03, 0.2), dropped=draw.r(0.002, 0.02))


def _mild(draw: _Draw) -> None:
    """A little of everything, for mixes that are about the tempo."""
    draw.some_legato()
    draw.dropped(0.03)
    draw.wrong(0.02)
    draw.noise()
    draw.ghosts(0.03)
    draw.octaves(0.01)


def _slow(draw: _Draw) -> None:
    _mild(draw)
    draw.hands(notes_per_s=draw.rng.uniform(3.0, 6.0), reps=draw.rng.randint(5, 12))


def _fast(draw: _Draw) -> None:
    _mild(draw)
    draw.hands(notes_per_s=draw.rng.uniform(12.0, 20.0), reps=draw.rng.randint(12, 30))


def _everything(draw: _Draw) -> None:
    draw.cell["legato"] = draw.rng.uniform(0.0, 0.6)
    draw.converter(bend_legato=draw.rng.choice((0.0, 0.3, 1.0)))
    draw.dropped(0.05)
    draw.wrong(0.04)
    draw.noise()
    draw.ghosts(0.06)
    draw.octaves(0.025)
    draw.restarts()
    draw.hands(break_off=draw.habits.break_off / 2, stumble=draw.habits.stumble / 2)
    draw.jumps()
    draw.around(0.6)
    draw.dirt()
    draw.hands(reps=draw.rng.randint(12, 24))


def _wild(draw: _Draw) -> None:
    _everything(draw)
    draw.hands(anywhere=True)


MIXES: dict[str, Callable[[_Draw], None]] = {
    "clean": _clean,
    "dropped": _dropped,
    "wrong": _wrong,
    "noise": _noise,
    "legato": _legato,
    "bend-alone": _bend_alone,
    "converter": _converter,
    "stumbles": _stumbles,
    "tempo": _tempo,
    "around": _around,
    "slow": _slow,
    "fast": _fast,
    "everything": _everything,
    "wild": _wild,
}
"""``wild`` breaks off, stumbles and fails anywhere, also where nobody could tell what was meant;
all others spare the listener that."""


def draw(mix: str, rng: Random, wide: bool = False) -> Drawn:
    """(guitarist, converter, wishes for the cell) of one take. Raises KeyError for a mix that does
    not exist."""
    drawn = _Draw(rng, wide)
    MIXES[mix](drawn)
    return drawn.habits, drawn.how, drawn.cell
