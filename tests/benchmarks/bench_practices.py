"""How right the review is over whole practices whose truth is known. Run by hand:

    python tests/benchmarks/bench_practices.py [practices of a kind] [first seed] [kind ...]

Each finding is scored three ways: right, silent, false. Seeds below 5000 are for development;
figures are reported from seeds above. Practices: tests/practices.py. ``--write FILE`` puts the
tables into the section 'Review over weeks' of a document.
"""

# ruff: noqa: E402
from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import sys
import time
from collections import defaultdict
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

import numpy as np
import scipy.optimize
from practices import Practice, clean_chance, practised, random_plan, truth_late_ms

from livecheck.measures.review.answers import Review, make_review
from livecheck.measures.stats import sigmoid, wilson

REPORT_SEED = 10_000
KINDS: dict[str, tuple[str, ...]] = {
    "nothing, one day": ("one day",),
    "nothing, days": (),
    "one note, one day": ("one note", "one day"),
    "one note, days": ("one note",),
    "step, one day": ("step", "one day"),
    "step, days": ("step",),
    "dip, one day": ("dip", "one day"),
    "dip, days": ("dip",),
    "step and dip": ("step", "dip", "one day"),
    "hammer": ("hammer", "one day"),
    "late": ("late",),
    "progress": ("progress",),
    "bad day": ("bad day",),
    "progress, bad day": ("progress", "bad day"),
    "hammer, progress, one note": ("hammer", "progress", "one note"),
    "late and step": ("late", "step"),
    "a ladder, nothing": ("ladder", "one day"),
    "a ladder, step": ("ladder", "one day", "step"),
    "a ladder, dip": ("ladder", "one day", "dip"),
    "through, one note": ("through", "one day", "one note"),
    "eight weeks": ("eight weeks",),
    "eight weeks, step": ("eight weeks", "step"),
    "eight weeks, dip": ("eight weeks", "dip"),
}


def practice(kind: str, seed: int) -> Practice:
    rng = np.random.default_rng([seed, *map(ord, kind)])
    return practised(rng, random_plan(rng, *KINDS[kind]))


class Score:
    """right, silent, false by finding; errors and covers by tempo."""

    def __init__(self) -> None:
        self.count: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
        self.error: dict[str, list[float]] = defaultdict(list)
        self.cover: dict[str, list[bool]] = defaultdict(list)
        self.width: dict[str, list[float]] = defaultdict(list)
        self.seconds: list[float] = []

    def add(self, what: str, how: str) -> None:
        self.count[what][how] += 1
        self.count[what]["of"] += 1


def score(one: Practice, review: Review, into: Score, best: bool) -> None:
    tries = one.tries
    low, high = float(tries.bpm.min()), float(tries.bpm.max())
    for name, limit, truth in (
        ("secure", review.secure, one.secure),
        ("break", review.broken, one.broken),
    ):
        if truth is None or not low < truth < high:
            continue
        if limit.status != "found" or limit.bpm is None:
            into.add(name, f"silent ({limit.status})")
            continue
        into.add(name, "right" if abs(limit.bpm / truth - 1.0) < 0.04 else "false")
        into.error[name].append(abs(limit.bpm / truth - 1.0))
        into.cover[name].append(
            (limit.low_bpm <= truth or limit.open_low)
            and (limit.high_bpm >= truth or limit.open_high)
        )
        into.width[name].append((limit.high_bpm - limit.low_bpm) / truth)
        if best:
            found = best_possible(one, 0.9 if name == "secure" else 0.5)
            if found is not None:
                into.error[f"{name}, best possible"].append(abs(found / truth - 1.0))
    _first(one, review, into)
    _awkward(one, review, into)
    _changes(one, review, into)
    _even(one, review, into)
    _contradiction(one, review, into)
    _earlier(one, review, into)


def _first(one, review, into) -> None:
    plan, first = one.plan, review.first_to_go
    if max(plan.slot_shares) > 0.5 and plan.step is None and plan.dip is None:
        slot = int(np.argmax(plan.slot_shares)) + 1
        how = "silent" if first is None else "right" if first.slot == slot else "false"
        into.add("first to go", how)
    elif plan.step is None:
        into.add("first to go", "right" if first is None else "false")
    if first is not None and review.broken.bpm is not None:
        into.add(
            "first to go no later than the break",
            "right" if first.from_bpm <= review.broken.bpm * 1.005 else "false",
        )


def _awkward(one, review, into) -> None:
    dip, told = one.plan.dip, review.awkward
    suspected = getattr(review, "suspected", None)
    if dip is None:
        into.add("awkward, told", "right" if told is None else "false")
        into.add("awkward, suspected", "right" if suspected is None else "false")
        return
    chance = clean_chance(one.plan, np.array([(dip[0] + dip[1]) / 2]), 0.0)[0]
    without = clean_chance(one.plan, np.array([(dip[0] + dip[1]) / 2]), 0.0, dip=False)[0]
    if without - chance < 0.4:
        return

    def overlaps(found) -> bool:
        return found.low_bpm <= dip[1] * 1.02 and found.high_bpm >= dip[0] * 0.98

    into.add("awkward, told", "silent" if told is None else "right" if overlaps(told) else "false")
    either = told or suspected
    into.add(
        "awkward, told or suspected",
        "silent" if either is None else "right" if overlaps(either) else "false",
    )


def _changes(one, review, into) -> None:
    plan, tries = one.plan, one.tries
    wanted: dict[tuple[str, int], float] = {}
    if plan.step is not None:
        wanted["noise", plan.step[0]] = plan.step[1]
    if plan.hammer is not None:
        wanted["attack", plan.hammer[0]] = plan.hammer[1]
    if plan.late is not None and plan.late[2]:
        wanted["timing", plan.late[0]] = plan.late[2]
    for (what, place), at in wanted.items():
        found = [
            change
            for change in review.changes
            if change.what == what and (change.string if what == "noise" else change.slot) == place
        ]
        tried = np.unique(np.round(tries.bpm, 0))
        if not (np.sum(tried < at) >= 2 and np.sum(tried >= at) >= 2):
            continue
        if not found:
            into.add(f"change, {what}", "silent")
        elif found[0].between is not None:  # no tempo between was played: told as a span
            low, high = found[0].between
            into.add(
                f"change, {what}, between two tempos",
                "right" if low * 0.99 <= at <= high * 1.01 else "false",
            )
        else:
            into.add(
                f"change, {what}",
                "right" if abs(found[0].from_bpm / at - 1.0) <= 0.05 else "false",
            )
    others = [
        change
        for change in review.changes
        if (change.what, change.string if change.what == "noise" else change.slot) not in wanted
    ]
    into.add("change where none is", "false" if others else "right")


def _even(one, review, into) -> None:
    even = getattr(review, "even", None)
    if even is None:
        return
    if one.plan.late is None:
        into.add("even", "false" if even.slots else "right")
        return
    slot, ms = one.plan.late[0], truth_late_ms(one.plan)
    found = [off for off in even.slots if off.slot == slot]
    if not found:
        into.add("uneven note", "silent")
    else:
        into.add("uneven note", "right" if abs(found[0].ms - ms) <= 4.0 else "false")


def _contradiction(one, review, into) -> None:
    if review.secure.status != "below_range" and review.broken.status != "below_range":
        return
    rungs = review.by_tempo
    for at, rung in enumerate(rungs):
        if rung.reps >= 20 and (wilson(rung.clean, rung.reps) or (0, 0))[0] > 0.9:
            share = rung.clean / rung.reps
            if all(slow.clean / slow.reps >= share - 1e-9 for slow in rungs[:at]):
                into.add("'not secure' denied by the counts", "false")
                return


def _earlier(one, review, into) -> None:
    earlier = getattr(review, "earlier", None)
    if one.broken is None or one.first_broken is None:
        return
    moved = one.broken / one.first_broken - 1.0
    if len(one.plan.days) < 2:
        return
    most = abs(moved)  # of the two: a string that always begins there may hold one of them
    if one.secure is not None and one.first_secure is not None:
        most = max(most, abs(one.secure / one.first_secure - 1.0))
    if most <= 0.02:
        into.add("earlier, nothing moved", "right" if earlier is None else "false")
    elif abs(moved) < 0.08:
        return
    elif earlier is None or earlier.break_bpm is None:
        into.add("earlier, moved", "silent")
    else:
        near = abs(earlier.break_bpm / one.first_broken - 1.0) < 0.05
        into.add("earlier, moved", "right" if near else "false")


def best_possible(one: Practice, level: float) -> float | None:
    """The tempo from the true form fitted to the true counts: the form, its step and its dip are
    known, each day's own place too; middle, width, lapse and the share of the step are fitted."""
    plan, tries = one.plan, one.tries
    n, k, bpm = tries.n, tries.clean, tries.bpm
    days = np.array(plan.days)
    moved = plan.gain_bpm * (tries.day - days[-1]) / 7.0
    if plan.bad_day is not None:
        moved = moved - plan.bad_by * (tries.day == days[plan.bad_day])
        moved = moved + plan.bad_by * (plan.bad_day == len(days) - 1)
    inside = np.zeros(len(bpm), bool)
    if plan.dip is not None:
        inside = (bpm >= plan.dip[0]) & (bpm <= plan.dip[1])
    n, k, x, bpm = n[~inside], k[~inside], (bpm - moved)[~inside], bpm[~inside]

    def chance(t, at, real):
        p = (1.0 - t[2]) * sigmoid((t[0] - at) / np.exp(t[1]))
        if plan.step is not None:
            p = p * np.where(real >= plan.step[1], 1.0 - t[3], 0.995)
        return np.clip(p, 1e-9, 1.0 - 1e-9)

    def cost(t):
        p = chance(t, x, bpm)
        return -float(k @ np.log(p) + (n - k) @ np.log1p(-p))

    bounds = [(40, 300), (-1, 4), (0, 0.3), (0.01, 0.95)]
    starts = [(m, w, 0.03, 0.5) for m in np.linspace(x.min(), x.max(), 5) for w in (0.7, 2.0)]
    found = min(
        (scipy.optimize.minimize(cost, start, bounds=bounds) for start in starts),
        key=lambda one: one.fun,
    )
    fine = np.linspace(0.4 * plan.middle, 2.0 * plan.middle, 6000)
    above = np.flatnonzero(chance(found.x, fine, fine) >= level)
    return float(fine[above[-1]]) if len(above) else None


def run(kind: str, seeds: range, best: bool = False) -> Score:
    into = Score()
    for seed in seeds:
        one = practice(kind, seed)
        began = time.process_time()
        review = make_review(one.tries, "six")
        into.seconds.append(time.process_time() - began)
        score(one, review, into, best)
    return into


def lines(kind: str, found: Score) -> list[str]:
    out = []
    for name, count in found.count.items():
        of = count["of"]
        told = ", ".join(
            f"{how} {100 * number / of:.0f} %" for how, number in count.items() if how != "of"
        )
        out.append(f"| {kind} | {name} | {told} | {of} |")
    for name, errors in found.error.items():
        middle, most = 100 * np.median(errors), 100 * np.quantile(errors, 0.9)
        text = f"median error {middle:.1f} %, nine in ten within {most:.1f} %"
        if name in found.cover:
            held, wide = 100 * np.mean(found.cover[name]), 100 * np.median(found.width[name])
            text += f"; interval holds it in {held:.0f} %, median width {wide:.1f} %"
        out.append(f"| {kind} | {name}: tempo | {text} | {len(errors)} |")
    took = f"median {np.median(found.seconds):.2f}, most {max(found.seconds):.2f}"
    out.append(f"| {kind} | seconds a review | {took} | {len(found.seconds)} |")
    return out


def main() -> None:
    words = [word for word in sys.argv[1:] if not word.startswith("--")]
    count = int(words[0]) if words else 60
    start = int(words[1]) if len(words) > 1 else REPORT_SEED
    kinds = words[2:] or list(KINDS)
    print(f"{count} practices of each kind from seed {start}")
    for kind in kinds:
        for line in lines(kind, run(kind, range(start, start + count), "--best" in sys.argv)):
            print(line, flush=True)


if __name__ == "__main__":
    main()
