"""What today and the week in words: short lines that can be read from a distance."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from math import expm1

from ..core.plain_text import counted, joined
from ..files.values import date_of
from ..measures.agenda.blocks import Block, known
from ..measures.agenda.day import Day, Item
from ..measures.agenda.questions import Standing
from ..measures.agenda.week import Moved, Week
from ..measures.review.limits import Limit

NOTHING_YET = (
    "Nothing was recorded yet that can be judged. `livecheck cell list` names the cells there are; "
    "begin with `livecheck listen CELL`, slowly."
)
NOTHING_PLAYED = "Nothing was played in these seven days."
CAUTION = (
    "Stop at pain, tingling or numbness; rest between blocks. Each begins with a warm-up below "
    "what is secure."
)
_DAY_OFF_7 = 1.9459  # the logarithm of seven days


def today_lines(day: Day, why: bool = False) -> Iterator[str]:
    """Where each cell stands, then what to play, in order."""
    items = day.items
    if not items:
        yield NOTHING_YET
        return
    wide = max(len(item.standing.name) for item in items)
    for item in sorted(items, key=lambda one: one.standing.name):
        yield f"{item.standing.name.ljust(wide)}  {where(item.standing)}"
        if item.question is not None:
            yield f"{' ' * wide}  {item.question}"
            if item.block is None:
                yield f"{' ' * wide}  Another day tells more of it than more of today."
        if why:
            for line in reasons(item):
                yield f"{' ' * wide}    {line}"
    yield ""
    yield from _blocks(day)


def _blocks(day: Day) -> Iterator[str]:
    if not day.turns:
        if any(item.block is not None for item in day.items):
            yield "No block fits into the time; `--minutes` says how long there is."
        elif any(item.open for item in day.items):
            yield "Today has told what it can: play what you like, and ask again tomorrow."
        else:
            yield "Nothing is open: play what you like."
        return
    yield CAUTION
    first = {item.standing.name: item.question for item in day.items}
    for number, turn in enumerate(day.turns, 1):
        yield f"{number}. {turn.standing.name}: {block_text(turn.block)}"
        if turn.question.text != first[turn.standing.name]:
            yield f"   {turn.question.text}"
        if turn.rest_after:
            yield f"   {rest_text(turn.rest_after)}"
    waits = [item.standing.name for item in day.items if item.waits]
    if waits:
        yield (
            f"Where {' and '.join(waits)} break{'s' if len(waits) == 1 else ''} waits for another "
            "day: one block tells it then, and what is known grows old while another cell needs "
            "several days."
        )
    left = [
        item.standing.name
        for item in day.items
        if item.block and not item.chosen and not item.waits
    ]
    if left:
        yield f"No time is left for {', '.join(left)}."
    yield f"{_minutes(day.minutes)} in all; `livecheck today --start` plays them."


def rest_text(minutes: float) -> str:
    """``rest 3 minutes``"""
    return f"rest {minutes:.0f} minutes"


def where(stands: Standing) -> str:
    """``secure up to 131, breaks at 148 (141 to 156); 3 days ago``"""
    ago = {None: "", 0: "; today", 1: "; yesterday"}.get(
        stands.days_since, f"; {stands.days_since} days ago"
    )
    return f"{_limits(stands.secure, stands.broken)}{ago}"


def _limits(secure: Limit, broken: Limit) -> str:
    told = {
        "found": f"secure up to {_interval(secure)}",
        "above_range": f"secure up to {secure.low_bpm or 0:.0f}, the fastest played",
        "below_range": f"not secure at {secure.high_bpm or 0:.0f}, the slowest played",
        "too_few": "too little to say what is secure",
    }[secure.status]
    breaks = {
        "found": f"breaks at {_interval(broken)}",
        "above_range": "the break is not reached",
        "below_range": f"breaks below {broken.high_bpm or 0:.0f}",
        "too_few": "where it breaks is not known",
    }[broken.status]
    return f"{told}, {breaks}"


def _interval(limit: Limit) -> str:
    bpm, low, high = limit.bpm or 0.0, limit.low_bpm or 0.0, limit.high_bpm or 0.0
    return f"{bpm:.0f} ({low:.0f} to {high:.0f})"


def block_text(block: Block) -> str:
    """``12 repetitions, 6 each at 140 and 156 bpm, by turns; 1 minute``"""
    took = _minutes(block.minutes)
    if block.kind == "rig":
        return f"measure the rig's delay with `livecheck rig latency`; {took}"
    if block.faster:
        took += "; only after a rest, and if nothing hurts"
    if block.kind == "search":
        return f"climb from {block.bpm:.0f} bpm, {block.reps} repetitions; {took}"
    tempos = sorted({round(bpm) for bpm in block.tempos})
    at = joined(tempos)
    turns = " by turns" if len(tempos) > 1 else ""
    only = f"notes {block.notes[0]} to {block.notes[-1]} alone, " if block.notes else ""
    if block.names:
        turns = f", by turns {block.names[0]} and {block.names[1]}"
    return f"{only}{block.reps} repetitions at {at} bpm{turns}; {took}"


def _minutes(minutes: float) -> str:
    return f"{minutes:.0f} minutes" if minutes >= 1.5 else "a minute"


def reasons(item: Item) -> Iterator[str]:
    """What a place in the day rests on."""
    stands, state = item.standing, item.standing.state
    if stands.review is not None:
        reps, takes = stands.review.reps, stands.review.takes
        yield f"rests on {counted(reps, 'repetition')} in {counted(takes, 'take')}"
    if state is not None:
        own = state.own
        yield (
            f"on a day like any other it breaks at {own.bpm:.0f} ({own.low_bpm:.0f} to "
            f"{own.high_bpm:.0f}), {'which is known' if known(state) else 'not yet known'} to 4 %"
        )
        yield (
            f"a day of practice brings {100 * state.learn:+.1f} %"
            if state.learn is not None
            else "what a day of practice brings: not known yet"
        )
        yield (
            f"a week off takes {100 * state.forget * _DAY_OFF_7:.1f} %"
            if state.forget is not None
            else "what days off take: not known yet"
        )
    for number, one in enumerate(item.open):
        lead = "asked" if number == 0 else f"also open: {one.text}"
        yield f"{lead} because: {one.why}" if number == 0 else f"{lead} ({one.why})"
        if number == 0 and one.block is not None:
            block, minute = (-100.0 * expm1(-nats) for nats in (one.gain, one.worth))
            yield f"its block should settle {block:.0f} % of what is open, {minute:.0f} % a minute"


def week_lines(week: Week) -> Iterator[str]:
    """The week as plain lines."""
    first, last = date_of(week.first), date_of(week.last)
    yield f"{first} to {last}: {week.minutes:.0f} minutes, rests included"
    for day in week.days:
        cells = ", ".join(f"{name} {minutes:.0f}" for name, minutes, _ in day.cells)
        yield f"  {day_name(day.number)}  {day.minutes:3.0f} min  {cells}".rstrip()
    if nothing_played(week):
        yield NOTHING_PLAYED
    for head, lines in week_parts(week):
        yield f"{head}:"
        yield from (f"  {line}" for line in lines)


def nothing_played(week: Week) -> bool:
    """Whether no day of the week holds a minute."""
    return not any(day.minutes for day in week.days)


def week_parts(week: Week) -> Iterator[tuple[str, list[str]]]:
    """The headed lists of the week, those that hold something."""
    parts = [
        ("Moved", [moved_text(one) for one in week.moved if one.sure]),
        ("Did not surely move", [moved_text(one) for one in week.moved if not one.sure]),
        ("Answered", [f"{one.name}: {one.question} {one.answer}" for one in week.answered]),
        ("Open", [f"{name}: {text}" for name, text in week.open]),
        ("Marks", [f"{_when(session)}: {text}" for session, _, text in week.marks]),
    ]
    yield from ((head, lines) for head, lines in parts if lines)


def moved_text(one: Moved) -> str:
    """``seven: breaks at 148 (141 to 156); +4 bpm (+1 to +7) since 22 November``"""
    told = f"{one.name}: {_limits(one.secure, one.broken)}"
    if one.by_bpm is None or one.since is None:
        return f"{told}; nothing before this week to compare with"
    value, low, high = one.by_bpm
    if round(low) == round(high) == 0:
        return f"{told}; as on {day_name(one.since)}"
    return f"{told}; {value:+.0f} bpm ({low:+.0f} to {high:+.0f}) since {day_name(one.since)}"


def day_name(number: int) -> str:
    """``Sun 29 Nov``"""
    return f"{date.fromordinal(number):%a %d %b}"


def _when(session: str) -> str:
    """A session's name as a day and a time, where it is one."""
    day, _, clock = session.partition("T")
    try:
        return f"{day_name(date.fromisoformat(day).toordinal())} {clock[:5].replace('-', ':')}"
    except ValueError:
        return session
