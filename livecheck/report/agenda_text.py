"""What today and the week in words: short lines that can be read from a distance."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from ..measures.agenda.blocks import REST, REST_EVERY, Block, Item, Standing, minutes_of
from ..measures.agenda.week import Moved, Week
from ..measures.review.limits import Limit

NOTHING_YET = (
    "Nothing was recorded yet. `livecheck cell list` names the cells there are; begin with "
    "`livecheck listen CELL`, slowly."
)
CAUTION = "Stop at pain, tingling or numbness. Begin below what is secure; rest between blocks."


def today_lines(items: Sequence[Item], why: bool = False) -> Iterator[str]:
    """Where each cell stands, then what to play, in order."""
    if not items:
        yield NOTHING_YET
        return
    wide = max(len(item.standing.name) for item in items)
    for item in sorted(items, key=lambda one: one.standing.name):
        yield f"{item.standing.name.ljust(wide)}  {where(item.standing)}"
        if item.question is not None:
            yield f"{' ' * wide}  open: {item.question}"
        if why:
            for line in reasons(item):
                yield f"{' ' * wide}  {line}"
    chosen = [item for item in items if item.chosen]
    yield ""
    if not chosen:
        yield "Nothing is open: play what you like."
        return
    yield CAUTION
    played = 0.0
    for number, item in enumerate(chosen, 1):
        assert item.block is not None
        yield f"{number}. {item.standing.name}: {block_text(item.block)}"
        before, played = played, played + item.block.minutes
        if played // REST_EVERY > before // REST_EVERY and number < len(chosen):
            yield f"   rest {REST:.0f} minutes"
    yield f"{_minutes(minutes_of(chosen))}; `livecheck today --start` begins with the first."


def where(stands: Standing) -> str:
    """``secure up to 131, breaks at 148 (141 to 156); 3 days ago``"""
    ago = {None: "", 0: "; today", 1: "; yesterday"}.get(
        stands.days_since, f"; {stands.days_since} days ago"
    )
    return f"{_limits(stands.secure, stands.broken)}{ago}"


def _limits(secure: Limit, broken: Limit) -> str:
    told = {
        "found": f"secure up to {secure.bpm or 0:.0f}",
        "above_range": f"secure up to {secure.low_bpm or 0:.0f}, the fastest played",
        "below_range": f"not secure at {secure.high_bpm or 0:.0f}, the slowest played",
        "too_few": "too little to say what is secure",
    }[secure.status]
    breaks = {
        "found": f"breaks at {broken.bpm or 0:.0f} "
        f"({broken.low_bpm or 0:.0f} to {broken.high_bpm or 0:.0f})",
        "above_range": "the break is not reached",
        "below_range": f"breaks below {broken.high_bpm or 0:.0f}",
        "too_few": "where it breaks is not known",
    }[broken.status]
    return f"{told}, {breaks}"


def block_text(block: Block) -> str:
    """``16 repetitions at 148 bpm, 4 minutes``"""
    took = _minutes(block.minutes)
    if block.kind == "rig":
        return f"measure the rig's delay with `livecheck rig latency`, {took}"
    if block.faster:
        took += ", after a rest, if nothing hurts"
    if block.kind == "search":
        return f"climb from {block.bpm:.0f} bpm, {block.reps} repetitions, {took}"
    return f"{block.reps} repetitions at {block.bpm:.0f} bpm, {took}"


def _many(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _minutes(minutes: float) -> str:
    return f"{minutes:.0f} minutes" if minutes >= 1.5 else "a minute"


def reasons(item: Item) -> Iterator[str]:
    """What a place in the day rests on."""
    stands = item.standing
    if stands.review is not None:
        yield f"rests on {_many(stands.review.reps, 'repetition')} in {_many(stands.review.takes, 'take')}"
    if stands.days_since:
        learn, forget = stands.move.learn, stands.move.forget
        yield (
            f"a day of practice brings {100 * learn:+.1f} %"
            if learn is not None
            else "what a day of practice brings: not known yet"
        )
        yield (
            f"a week off takes {100 * forget * 1.95:.1f} %"
            if forget is not None
            else "what days off take: not known yet"
        )
    if item.block is not None:
        yield f"doubt taken away: {item.worth:.2f} nats a minute"


def week_lines(week: Week) -> Iterator[str]:
    """The week as plain lines."""
    yield f"{_date(week.first)} to {_date(week.last)}: {week.minutes:.0f} minutes, rests included"
    for day in week.days:
        cells = ", ".join(f"{name} {minutes:.0f}" for name, minutes, _ in day.cells)
        yield f"  {date.fromordinal(day.number):%a %d}  {day.minutes:3.0f} min  {cells}".rstrip()
    yield from _part("Moved", [moved_text(one) for one in week.moved if one.sure])
    yield from _part("Did not surely move", [moved_text(one) for one in week.moved if not one.sure])
    yield from _part("Answered", [f"{name}: {text}" for name, text in week.answered])
    yield from _part("Open", [f"{name}: {text}" for name, text in week.open])
    yield from _part("Marks", [f"{session}: {text}" for session, _, text in week.marks])


def _part(head: str, lines: Sequence[str]) -> Iterator[str]:
    if lines:
        yield f"{head}:"
        yield from (f"  {line}" for line in lines)


def moved_text(one: Moved) -> str:
    """``seven: breaks at 148 (141 to 156), +4 bpm (1 to 7) since the week before``"""
    told = f"{one.name}: {_limits(one.secure, one.broken)}"
    if one.by_bpm is None:
        return f"{told}; nothing before this week to compare with"
    value, low, high = one.by_bpm
    return f"{told}; {value:+.0f} bpm ({low:+.0f} to {high:+.0f}) since the day before"


def _date(number: int) -> str:
    return date.fromordinal(number).isoformat()
