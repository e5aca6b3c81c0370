"""A repetition's tempo and evenness from true labels: what perfect judgment would report
(measures.md)."""

from __future__ import annotations

import statistics

from livecheck.core.events import HIT
from livecheck.player.takes import Take
from livecheck.player.truth import TrueRep


def comes_round(take: Take, rep: TrueRep, following: TrueRep) -> bool:
    """False where the next repetition's first slot came so far from where it was due that it may
    not follow on."""
    if 1 not in following.notes:
        return True
    early_s = take.truth.notes[following.notes[1]].onset_s - rep.end_s
    return abs(early_s) < 0.35 * rep.step_s


def figures(
    take: Take, rep: TrueRep, following: TrueRep | None
) -> tuple[float | None, float | None]:
    """(tempo_bpm, cv_pct) by the definitions of measures.md, from true labels and the rig's
    delays."""
    if rep.pause_s:
        return None, None
    points: list[tuple[int, float]] = []

    def point(owner: TrueRep, slot: int, step: int) -> None:
        note = take.truth.notes[owner.notes[slot]]
        if note.label.verdict == HIT:
            points.append((step, note.onset_s - take.rig.delay.seconds(note.string, note.pitch)))

    for slot in take.cell.slots[: len(rep.verdicts)]:
        if slot.number in rep.notes:
            point(rep, slot.number, slot.start)
    if following is not None and following.follows and 1 in following.notes:
        point(following, 1, take.cell.steps)
    if len(points) < 3:
        return None, None
    steps, times = [step for step, _ in points], [time for _, time in points]
    slope = statistics.linear_regression(steps, times).slope
    intervals = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in zip(points, points[1:])]
    cv = (
        100.0 * statistics.stdev(intervals) / statistics.fmean(intervals)
        if len(intervals) >= 3
        else None
    )
    return 60.0 / (slope * take.cell.grid), cv
