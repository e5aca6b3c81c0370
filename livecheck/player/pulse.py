"""When the hands mean to play each slot: tempo, restarts, stumbles, pauses and jumps.

Owns the order of repetitions and their planned times; which slots then fail is ``guitarist.py``'s.
A restart or a stumble is only played where the notes that follow tell it from going on: nobody
could label the others.
"""

from __future__ import annotations

from math import exp
from random import Random

from ..core.cell import Cell
from .cells import unlike
from .habits import Habits
from .sounds import Pass

SLOWEST, FASTEST = 3.0, 20.0  # notes a second


def plan(cell: Cell, habits: Habits, rng: Random, start_s: float = 1.0) -> list[Pass]:
    """Repetitions with a planned time for each slot played, in order.

    The intervals' timekeeper noise is in the times; motor noise and gallop come later, since they
    do not add up.
    """
    count = len(cell.slots)
    passes: list[Pass] = []
    step = target = 1.0 / habits.notes_per_s
    clock, entry = start_s, _entry(cell, habits, rng)
    follows, mended = False, True
    for rep in range(1, habits.reps + 1):
        jumps_at = None  # slot
        if rep > 1 and rng.random() < habits.jump:
            ratio = exp(rng.uniform(-1, 1) * abs(habits.jump_ratio - 1.0))
            target = min(max(target * ratio, 1.0 / FASTEST), 1.0 / SLOWEST)
            jumps_at = rng.choice((entry, entry, rng.randint(entry, count)))
            step = target if jumps_at == entry else step
        last_rep = rep == habits.reps
        stop_at = _break_slot(count, rng) if rng.random() < habits.break_off else None
        if last_rep:
            stop_at = _last_stop(habits, rng, entry, count, mended)
        restart = None
        if stop_at is not None and not last_rep:
            restart = _restart_slot(cell, habits, rng, entry, stop_at)
            stop_at = (
                stop_at
                if restart and (habits.anywhere or not mended or stop_at >= entry + 3)
                else None
            )
        pause_after = None
        if stop_at is None and rng.random() < habits.stumble:
            pause_after = _pause_slot(
                cell, rng, entry + 2 if mended else entry, count - 2 if last_rep else count - 1
            )
            if habits.anywhere and entry < count:
                pause_after = rng.randint(entry, count - 1)
        this = Pass(rep, entry, follows=follows, mended=mended)
        this.start_s = clock - cell.slots[entry - 1].start * step
        for slot in cell.slots[entry - 1 :]:
            step = target if slot.number == jumps_at else step
            this.times_s[slot.number], this.steps_s[slot.number] = clock, step
            if slot.number == stop_at:
                this.broken = True
                this.due_s = clock + (cell.steps - slot.start) * step
                break
            steps = (
                cell.slots[slot.number].start if slot.number < count else cell.steps
            ) - slot.start
            clock += _interval(steps, step, habits, rng)
            if slot.number == pause_after:
                this.pause_after, this.pause_s = slot.number, rng.uniform(0.3, 2.0)
                clock += this.pause_s
            step = _walk(step, target, habits, rng)
        else:
            this.due_s = clock
        passes.append(this)
        entry, follows, mended = 1, not this.broken, this.broken
        if this.broken and restart:
            entry, clock = _begin_again(cell, habits, rng, this, restart, step)
        elif (
            not last_rep
            and rng.random() < habits.wait
            and not (rep == habits.reps - 1 and habits.end != "complete")
        ):
            clock += max(rng.uniform(0.3, 3.0), 0.8 * step)
            follows, mended = False, True
    return passes


def _walk(step: float, target: float, habits: Habits, rng: Random) -> float:
    """Slow tempo walk, drawn gently back to the tempo meant."""
    step = step * exp(rng.gauss(0.0, habits.walk_pct / 100.0)) * (target / step) ** 0.02
    return min(max(step, 0.97 / FASTEST), 1.03 / SLOWEST)


def _interval(steps: int, step: float, habits: Habits, rng: Random) -> float:
    nominal = steps * step
    return nominal + max(
        -0.4 * nominal,
        min(0.4 * nominal, rng.gauss(0.0, habits.timekeeper * motor_sd(nominal, habits))),
    )


def motor_sd(interval_s: float, habits: Habits) -> float:
    """SD of one motor delay in seconds."""
    return max(habits.floor_ms / 1000.0, habits.scatter_pct / 100.0 * interval_s)


def _entry(cell: Cell, habits: Habits, rng: Random) -> int:
    """Slot that the take begins with: where mid-figure, one that its first notes tell from all
    others."""
    if not habits.mid_entry:
        return 1
    able = [
        slot.number
        for slot in cell.slots[1:]
        if unlike(cell, slot.number, 1) >= min(2, len(cell.slots))
        and all(
            unlike(cell, slot.number, other.number, 3) for other in cell.slots if other is not slot
        )
    ]
    return rng.choice(able) if able else 1


def _break_slot(count: int, rng: Random) -> int | None:
    return rng.randint(1, count - 1) if count > 1 else None


def _restart_slot(cell: Cell, habits: Habits, rng: Random, entry: int, stop_at: int) -> int | None:
    """Where play begins again after a break behind ``stop_at``; None where it could not be told
    from going on."""
    if stop_at < entry or stop_at == len(cell.slots):
        return None
    due = stop_at + 1
    earlier = (
        [1] if rng.random() >= habits.break_earlier or stop_at < 3 else list(range(2, stop_at))
    )
    if habits.anywhere:
        return rng.choice(earlier)
    able = [
        slot
        for slot in earlier
        if unlike(cell, slot, due) >= 2 and (slot == 1 or unlike(cell, slot, 1) >= 2)
    ]
    return rng.choice(able) if able else None


def _last_stop(habits: Habits, rng: Random, entry: int, count: int, mended: bool) -> int | None:
    """The slot behind which the last repetition ends, None for its own end; never after a lonely
    note or two."""
    if habits.end == "first" and not mended:
        return 1
    least = entry + 2 if mended else 1
    if habits.end == "middle" and least < count:
        return rng.randint(max(least, count // 3), count - 1)
    return None


def _pause_slot(cell: Cell, rng: Random, first: int, last: int) -> int | None:
    """A slot from first to last to stumble behind, whose next one cannot be taken for a new
    beginning."""
    count = len(cell.slots)
    able = [
        number
        for number in range(first, last + 1)
        if unlike(cell, number + 1, 1) >= 2
        and all(
            unlike(cell, number + 1, other, 2)
            for other in range(1, count + 1)
            if other != number + 1
        )
    ]
    return rng.choice(able) if able else None


def _begin_again(
    cell: Cell, habits: Habits, rng: Random, broken: Pass, restart: int, step: float
) -> tuple[int, float]:
    """(slot, time) at which play begins again, clear of the place where the slot would have come
    round anyway."""
    stopped = max(broken.times_s.values())
    paused = rng.random() < habits.break_pause or len(broken.times_s) < 2
    gap = max(rng.uniform(0.3, 3.0), 1.5 * step) if paused else rng.uniform(0.9, 1.6) * step
    due = broken.due_s + cell.slots[restart - 1].start * step
    clock = stopped + gap
    if abs(clock - due) < 0.8 * step:
        clock = due + 1.0 * step if clock >= due or due - stopped < 1.8 * step else due - 0.9 * step
    return restart, clock
