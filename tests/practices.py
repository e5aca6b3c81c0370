"""Whole practices with a known truth: days, climbs, repeats, luck of takes, progress, bad days, and
several things planted at once.

A practice is a table of tries as the review sees it. Every repetition is drawn on its own: it fails
where speed breaks it (on one note more than on others, or evenly), in an awkward range, and where a
string comes to be touched; which of them it was is known.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from ladders import STRINGS, highest_at, logit, marginal, sigmoid, table

from livecheck.measures.review.table import Tries

SLOTS = len(STRINGS)
FIRST_DAY = 739_000


@dataclass(frozen=True, slots=True)
class Plan:
    """What is planted. Tempos are those of the first day; progress moves the fall (not the dip)."""

    tempos: np.ndarray
    days: tuple[int, ...]  # day numbers
    way: str  # "climb", "around", "repeats", "through"
    reps: tuple[int, int]  # of a take
    middle: float
    width: float
    lapse: float
    luck: float
    gain_bpm: float = 0.0  # a week
    bad_day: int | None = None  # index
    bad_by: float = 0.0  # bpm
    day_sd: float = 0.0  # bpm
    slot_shares: tuple[float, ...] = (1.0 / SLOTS,) * SLOTS
    step: tuple[int, float, float] | None = None  # string, tempo, share
    dip: tuple[float, float, float] | None = None  # from, to, part of the share that is lost
    hammer: tuple[int, float, float] | None = None  # slot, tempo, attack lost
    late: tuple[int, float, float | None] | None = None  # slot, ms, from which tempo (None: all)
    takes_a_day: tuple[int, int] = (8, 16)


@dataclass(slots=True)
class Practice:
    """The table, what was planted, and the truth of the last and the first day (without a dip)."""

    plan: Plan
    tries: Tries
    secure: float | None
    broken: float | None
    first_secure: float | None
    first_broken: float | None
    shift: np.ndarray = field(default_factory=lambda: np.zeros(1))  # (days,) bpm


def random_plan(rng: np.random.Generator, *planted: str) -> Plan:
    """A practice of any size. planted: "one note", "step", "dip", "hammer", "late", "progress",
    "bad day", "one day", "ladder" (a take at each tempo), "through" (takes that go through all
    tempos), "eight weeks"; what is not named is not there."""
    low = rng.uniform(75, 110)
    tempos = low * np.geomspace(1.0, rng.uniform(1.6, 2.1), int(rng.integers(9, 19)))
    tempos = np.round(tempos, 1)
    count = 1 if "one day" in planted else int(rng.integers(2, 12))
    if planted and {"progress", "bad day"} & set(planted):
        count = int(rng.integers(5, 14))
    days = FIRST_DAY + np.cumsum(rng.choice([1, 1, 2, 3, 4, 7], count))
    middle = float(tempos[0] + np.ptp(tempos) * rng.uniform(0.5, 0.8))
    plan = Plan(
        tempos=tempos,
        days=tuple(int(day) for day in days),
        way=str(rng.choice(["climb", "around", "repeats"])),
        reps=(int(rng.integers(6, 12)), int(rng.integers(14, 30))),
        middle=middle,
        width=middle * rng.uniform(0.015, 0.05),
        lapse=float(rng.uniform(0.0, 0.05)),
        luck=float(rng.uniform(0.2, 0.6)),
        day_sd=float(rng.uniform(0.0, 0.015)) * middle if count > 1 else 0.0,
    )
    weeks = (days[-1] - days[0]) / 7.0
    if "ladder" in planted:
        plan = replace(plan, way="ladder", reps=(14, 26))
    if "through" in planted:
        plan = replace(plan, way="through", reps=(2, 6))
    if "eight weeks" in planted:
        days = FIRST_DAY + np.sort(rng.choice(np.arange(1, 57), int(rng.integers(6, 16)), False))
        plan = replace(plan, days=tuple(int(day) for day in days), gain_bpm=rng.uniform(3.0, 7.5))
        plan = replace(plan, middle=middle - plan.gain_bpm * (days[-1] - days[0]) / 14.0)
    if "progress" in planted:
        gain = float(rng.choice([-1, 1, 1, 1]) * rng.uniform(2.0, 8.0))
        plan = replace(plan, gain_bpm=gain, middle=middle - gain * weeks / 2.0)
    if "bad day" in planted:
        at = int(rng.integers(1, count))
        plan = replace(plan, bad_day=at, bad_by=middle * rng.uniform(0.05, 0.12))
    if "one note" in planted:
        shares = np.full(SLOTS, 0.2 / (SLOTS - 1))
        shares[rng.integers(SLOTS)] = 0.8
        plan = replace(plan, slot_shares=tuple(float(share) for share in shares))
    if "step" in planted:
        at = float(rng.uniform(tempos[3], max(min(plan.middle * 0.97, tempos[-3]), tempos[4])))
        plan = replace(plan, step=(int(rng.choice([1, 4, 6])), at, float(rng.uniform(0.3, 0.75))))
    if "dip" in planted:
        wide = rng.uniform(1.10, 1.18)
        top = plan.middle - 3.0 * plan.width
        begin = float(rng.uniform(tempos[1], max(top / wide / 1.06, tempos[1] * 1.01)))
        plan = replace(plan, dip=(begin, begin * wide, float(rng.uniform(0.6, 0.85))))
    if "hammer" in planted:
        at = float(rng.uniform(tempos[2], tempos[-3]))
        plan = replace(plan, hammer=(int(rng.integers(1, SLOTS + 1)), at, rng.uniform(0.25, 0.5)))
    if "late" in planted:
        at = None if rng.random() < 0.5 else float(rng.uniform(tempos[2], tempos[-4]))
        ms = float(rng.choice([-1, 1]) * rng.uniform(12, 25))
        plan = replace(plan, late=(int(rng.integers(1, SLOTS + 1)), ms, at))
    return plan


def practised(rng: np.random.Generator, plan: Plan) -> Practice:
    """Play a plan."""
    shift = plan.gain_bpm * (np.array(plan.days) - plan.days[0]) / 7.0
    shift = shift + rng.normal(0.0, plan.day_sd, len(plan.days))
    if plan.bad_day is not None:
        shift[plan.bad_day] -= plan.bad_by
    rows = [
        (len_so_far, day, bpm, n)
        for len_so_far, (day, bpm, n) in enumerate(_takes(rng, plan, shift))
    ]
    take = np.array([row[0] for row in rows])
    day_at = np.array([row[1] for row in rows])
    bpm = np.array([row[2] for row in rows]) * rng.normal(1.0, 0.003, len(rows))
    n = np.array([row[3] for row in rows])
    if plan.way == "through":  # a take goes through a whole ladder
        take = np.cumsum(np.r_[0, np.diff(bpm) < 0]).astype(int)
    columns = _drawn(rng, plan, take, bpm, n, shift[day_at])
    day = np.array(plan.days)[day_at]
    minute = np.concatenate([np.arange(np.sum(day_at == i)) * 1.5 for i in np.unique(day_at)])
    tries = table(take, bpm, n, day=day, sitting=day_at, minute=minute, **columns)
    fine = np.linspace(0.4 * plan.middle, 2.0 * plan.middle, 8000)
    truth = []
    for moved in (shift[-1], shift[0]):
        chance = marginal(lambda at, m=moved: clean_chance(plan, at, m, dip=False), plan.luck, fine)
        for level in (0.9, 0.5):
            truth.append(highest_at(chance, fine, level) if chance.max() >= level else None)
    return Practice(plan, tries, *truth, shift=shift)


def clean_chance(plan: Plan, bpm: np.ndarray, shift: float | np.ndarray, dip: bool = True):
    """The chance of a clean repetition of a take of average luck."""
    chance = _smooth(plan, bpm, shift)
    if plan.step is not None:
        chance = chance * np.where(bpm >= plan.step[1], 1.0 - plan.step[2], 0.995)
    if dip and plan.dip is not None:
        inside = (bpm >= plan.dip[0]) & (bpm <= plan.dip[1])
        chance = chance * np.where(inside, 1.0 - plan.dip[2], 1.0)
    return chance


def _smooth(plan: Plan, bpm: np.ndarray, shift: float | np.ndarray) -> np.ndarray:
    return (1.0 - plan.lapse) * sigmoid((plan.middle + shift - bpm) / plan.width)


def _takes(rng: np.random.Generator, plan: Plan, shift: np.ndarray):
    """Day index, tempo and repetitions of each take, in order."""
    for at in range(len(plan.days)):
        count = int(rng.integers(plan.takes_a_day[0], plan.takes_a_day[1] + 1))
        here = plan.middle + shift[at]
        if plan.way in ("climb", "through"):
            top = np.searchsorted(plan.tempos, here * rng.uniform(1.03, 1.15))
            ladder = plan.tempos[: max(top + 1, 5)]
            if plan.way == "climb" and len(ladder) > count:
                ladder = ladder[np.linspace(0, len(ladder) - 1, count).round().astype(int)]
            tempos = np.resize(ladder, count if plan.way == "climb" else len(ladder) * 4)
        elif plan.way == "ladder":
            tempos = plan.tempos
        elif plan.way == "around":
            near = plan.tempos[(plan.tempos > 0.7 * here) & (plan.tempos < 1.2 * here)]
            tempos = rng.choice(near if len(near) > 3 else plan.tempos, count)
        else:  # a few tempos, again and again
            few = rng.choice(plan.tempos, min(5, count), replace=False)
            tempos = np.concatenate([few, rng.choice(few, count - len(few))])
        if (
            plan.dip is not None and at == 0 and plan.way != "ladder"
        ):  # it was played through at least once
            tempos = np.concatenate([plan.tempos, tempos])
        for bpm in tempos:
            yield at, float(bpm), int(rng.integers(plan.reps[0], plan.reps[1] + 1))


def _drawn(rng, plan: Plan, take, bpm, n, shift) -> dict[str, np.ndarray]:
    count = len(bpm)
    luck = rng.normal(0.0, plan.luck, int(take.max()) + 1)[take]
    columns = {name: np.zeros((count, SLOTS)) for name in ("missed", "wrong", "broken")}
    noise, clean = np.zeros((count, 6)), np.zeros(count)
    noise_at = np.zeros((6, SLOTS))

    def chance(p):
        return sigmoid(logit(np.clip(p, 1e-6, 1.0 - 1e-6)) + luck)

    smooth = chance(_smooth(plan, bpm, shift))
    touch = None
    if plan.step is not None:
        touch = 1.0 - chance(1.0 - np.where(bpm >= plan.step[1], plan.step[2], 0.005))
    for row in range(count):
        bad = rng.random(n[row]) >= smooth[row]
        for slot in rng.choice(SLOTS, int(bad.sum()), p=plan.slot_shares):
            kind = "missed" if rng.random() < 0.6 else "wrong" if rng.random() < 0.75 else "broken"
            columns[kind][row, slot] += 1
        if plan.dip is not None and plan.dip[0] <= bpm[row] <= plan.dip[1]:
            more = rng.random(n[row]) < plan.dip[2]
            for slot in rng.choice(SLOTS, int((more & ~bad).sum())):
                columns["missed"][row, slot] += 1
            bad |= more
        if touch is not None and plan.step is not None:
            sounded = rng.random(n[row]) < touch[row]
            noise[row, plan.step[0] - 1] += sounded.sum()
            noise_at[plan.step[0] - 1, 3] += sounded.sum()
            bad |= sounded
        clean[row] = n[row] - bad.sum()
    levels = _levels(rng, plan, take, bpm, n)
    if plan.hammer is not None:
        at = plan.hammer[0] - 1
        levels["stroked"] = np.repeat(0.8 * n[:, None], SLOTS, axis=1)
        levels["unpicked"] = 0.01 * levels["stroked"]
        levels["unpicked"][:, at] = levels["stroked"][:, at] * np.where(
            bpm >= plan.hammer[1], 0.9, 0.02
        )
    return {
        "clean": clean,
        "complete": n - columns["broken"].sum(axis=1),
        "noise": noise,
        "noise_at": noise_at,
        "brushed": noise.copy(),
        "cv_sum": n * levels.pop("cv"),
        "cv_n": n.astype(float),
        **columns,
        **levels,
    }


def _levels(rng, plan: Plan, take, bpm, n) -> dict[str, np.ndarray]:
    """Attack and timing, each against the rest of the repetition as the table holds them."""
    count, out = len(bpm), {}
    accents = rng.normal(0.0, 0.06, SLOTS)
    for what, unit in (("attack", 0.1), ("timing", 5.0)):
        own = rng.normal(0.0, rng.uniform(0.2, 0.5) * unit, (int(take.max()) + 1, SLOTS))[take]
        mean = own + rng.normal(size=(count, SLOTS)) * 0.7 * unit / np.sqrt(n)[:, None]
        if what == "attack":
            mean += 1.0 + accents
            if plan.hammer is not None:
                mean[:, plan.hammer[0] - 1] -= np.where(bpm >= plan.hammer[1], plan.hammer[2], 0.0)
            mean = mean / np.median(mean, axis=1, keepdims=True)
        else:
            if plan.late is not None:
                slot, ms, at = plan.late
                mean[:, slot - 1] += np.where((bpm >= at) if at else True, ms, 0.0)
            mean = _off_line(mean)
            spread = np.sqrt(np.sum(mean**2, axis=1) / SLOTS + 9.0)
            out["cv"] = 100.0 * 2**0.5 * spread / (1000.0 * 60.0 / (bpm * 4))
        out[f"{what}_n"] = np.repeat(n[:, None], SLOTS, axis=1).astype(float)
        out[f"{what}_sum"] = mean * out[f"{what}_n"]
    return out


def _off_line(ms: np.ndarray) -> np.ndarray:
    """Deviations from each row's own least-squares line through its notes and the next first."""
    at = np.arange(SLOTS + 1.0)
    every = np.concatenate([ms, ms[:, :1]], axis=1)
    design = np.stack([np.ones(SLOTS + 1), at], axis=1)
    fitted = every @ design @ np.linalg.inv(design.T @ design) @ design.T
    return (every - fitted)[:, :SLOTS]


def truth_late_ms(plan: Plan) -> float:
    """What a planted lateness is against the repetition's own line."""
    assert plan.late is not None
    ms = np.zeros((1, SLOTS))
    ms[0, plan.late[0] - 1] = plan.late[1]
    return float(_off_line(ms)[0, plan.late[0] - 1])
