"""The ways of playing in plain words, for the terminal and for the review's sentence."""

from __future__ import annotations

from collections.abc import Sequence

from ..measures.ways.describe import Differs
from ..measures.ways.find import WayFound, Ways
from .review_text import wrapped

_MOST_THINGS = 3
_FEW = 10


def ways_lines(
    ways: Ways, names: Sequence[str], examples: Sequence[Sequence[str]], width: int
) -> list[str]:
    """All lines. names: by way; examples: by way, the commands that show them again."""
    if len(ways.ways) == 1:
        return wrapped(f"One way of playing: {ways.why}.", width)
    lines = wrapped(headline(ways, names), width)
    lines.append("")
    for k in range(len(ways.ways)):
        lines += wrapped(_of_way(ways, names, k), width)
        lines += [f"  {command}" for command in examples[k]]
    lines.append("")
    lines += _table(ways, names)
    told = int((ways.way >= 0).sum())
    if told < len(ways.way):
        unsure = len(ways.way) - told
        count = "repetition" if unsure == 1 else "repetitions"
        lines += ["", f"Of {unsure} {count} it cannot be told which way they were."]
    return lines


def headline(ways: Ways, names: Sequence[str]) -> str:
    """The finding in a sentence or two: what differs most, and which way is the cleaner."""
    count = {2: "Two ways", 3: "Three ways"}[len(ways.ways)]
    said = [f"{count} of playing"]
    second = ways.ways[1]
    if second.differs:
        said[0] += f": in {names[1]}, {_and([thing(one) for one in second.differs[:2]])}"
    said[0] += "."
    if ways.from_bpm is not None and ways.from_bpm > ways.ways[0].by_tempo[0][0] * 1.01:
        said.append(f"{names[1]} takes over from {ways.from_bpm:.0f} bpm on.")
    said.append(_cleaner(second, names[1], names[0]))
    return " ".join(filter(None, said))


def thing(one: Differs) -> str:
    """One difference in plain words, with its interval.

    >>> thing(Differs("timing", 1, None, -6.0, 3.0, -11.0, -7.0))
    'note 1 comes 9 ms earlier (7 to 11)'
    >>> thing(Differs("attack", 5, None, 0.04, 0.98, -0.97, -0.9))
    'note 5 is not picked'
    """
    by = one.this - one.other
    low, high = sorted((abs(one.low), abs(one.high)))
    if one.what == "attack":
        return f"note {one.slot} is {'picked' if by > 0 else 'not picked'}"
    if one.what == "direction":
        return f"note {one.slot} is picked the other way round"
    if one.what == "loudness":
        word, of = ("louder" if by > 0 else "softer"), max(one.other, 1e-9)
        share, least, most = (_whole(100 * value / of) for value in (abs(by), low, high))
        return f"note {one.slot} is {share} % {word} ({least} to {most})"
    if one.what == "timing":
        word = "later" if by > 0 else "earlier"
        return (
            f"note {one.slot} comes {_whole(abs(by))} ms {word} ({_whole(low)} to {_whole(high)})"
        )
    if one.what == "ring":
        word = "longer" if by > 0 else "shorter"
        return (
            f"note {one.slot} rings on {_whole(abs(by))} ms {word} ({_whole(low)} to "
            f"{_whole(high)})"
        )
    if one.what == "seam":
        word = "later" if by > 0 else "earlier"
        return (
            f"the next repetition begins {_whole(abs(by))} ms {word} ({_whole(low)} to "
            f"{_whole(high)})"
        )
    word = "sounds" if one.what == "noise" else "is cut off"
    this, other = round(100 * one.this), round(100 * one.other)
    return f"string {one.string} {word} in {this} of 100 repetitions, against {other or 'none'}"


def _of_way(ways: Ways, names: Sequence[str], k: int) -> str:
    way = ways.ways[k]
    said = f"{names[k]}: {_reps(way.reps)}."
    if k:
        if way.differs:
            said += (
                f" Against {names[0]}: "
                f"{'; '.join(thing(one) for one in way.differs[:_MOST_THINGS])}."
            )
        said += f" {_cleaner(way, names[k], names[0])}"
    return said.rstrip()


def _cleaner(way: WayFound, name: str, first: str) -> str:
    clean = way.clean
    if clean is None:
        return f"{name} and {first} share too few tempos to say which is cleaner."
    span = f"{clean.low:+.0f} to {clean.high:+.0f}"
    points = f"{clean.points:+.0f} clean in a hundred at equal tempo, {span}"
    if clean.low > 0.0:
        return f"{name} is cleaner than {first}: {points}."
    if clean.high < 0.0:
        return f"{name} is less clean than {first}: {points}."
    return f"Neither is surely cleaner ({name}: {points})."


def _table(ways: Ways, names: Sequence[str]) -> list[str]:
    """Share and clean repetitions by tempo."""
    clean = [{bpm: (a, n) for bpm, a, n in way.clean_by_tempo} for way in ways.ways]
    heads = ["bpm", *(f"{name} %" for name in names), *(f"{name} clean" for name in names)]
    rows = [heads]
    for at, (bpm, _) in enumerate(ways.ways[0].by_tempo):
        row = [f"{bpm:.0f}"]
        row += [f"{100 * way.by_tempo[at][1]:.0f}" for way in ways.ways]
        for found in clean:
            a, n = found.get(bpm, (0, 0))
            row.append(f"{a} of {n}" if n else "-")
        rows.append(row)
    widths = [max(len(row[i]) for row in rows) for i in range(len(heads))]
    return ["  ".join(text.rjust(width) for text, width in zip(row, widths)) for row in rows]


def _reps(count: int) -> str:
    return f"{count} repetition{'s' if count != 1 else ''}" + (" only" if count < _FEW else "")


def _whole(value: float) -> str:
    return f"{value:.0f}" if value >= 1.0 else f"{value:.1f}"


def _and(some: Sequence[str]) -> str:
    return some[0] if len(some) == 1 else f"{', '.join(some[:-1])} and {some[-1]}"
