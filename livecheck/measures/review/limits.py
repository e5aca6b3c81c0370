"""Secure and break tempo: how fast it holds now, and where it breaks.

The *secure* tempo is the highest at which the chance of a clean repetition still is nine in ten,
the *break* tempo that of one half, both as plain probabilities over all takes (measures.md). They
are read off many forms of fall (``forms``), each drawn by how likely it makes the counts; the
interval is the middle 95 % of what the forms say. Where a string sounds that should be silent, its
own series says where it begins to, so the forms are of the rest, and both are put together. All is
told in the frame of the last day (``course``). A tempo that the tries do not reach is never
extrapolated.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..stats import sigmoid, wilson
from .chains import Carried, Rows, carried, gathered
from .course import Course, course
from .curve import separation
from .draws import seeded
from .forms import Counts, Drawn, Weighed, counts, weigh
from .moves import Moves, fallen_at, read_off, with_fall
from .rungs import Rungs
from .sounding import Beside, as_often, beginning, framed, sounding_string
from .table import Tries

SECURE, BREAK = 0.9, 0.5

FEWEST_TRIES = 6
"""Fewer repetitions than this say nothing about a curve (common practice, no source)."""

FEWEST_SURE = 20
"""Repetitions at a tempo that may deny that nothing is secure."""

MOVES = 0.03
"""A fall that moves by more than this part of the tempo may leave an awkward range behind."""

DRAWS = 1500
_AT = 481
_ABOUT = 0.03
"""How far on either side of a tempo it is asked what falls there (log tempo)."""

_FEW = 240
"""Draws that each day's tempos are read off."""

_DIP_BEFOREHAND = -1.5  # log odds that there is a dip, for averaging


@dataclass(frozen=True, slots=True)
class Limit:
    """A tempo at which the chance falls through a level, with its 95 % interval.

    ``bpm`` is None unless ``found``. ``above_range``: low_bpm is the fastest tempo tried;
    ``below_range``: high_bpm is the slowest. An interval stops at the tempos tried; ``open_low``
    and ``open_high`` tell that it would go on.
    ``gap``: everything below it was clean and everything above was not; no tempo inside is likelier
    than another.
    """

    status: str  # "found", "above_range", "below_range" or "too_few"
    bpm: float | None = None
    low_bpm: float | None = None
    high_bpm: float | None = None
    open_low: bool = False
    open_high: bool = False
    gap: tuple[float, float] | None = None


TOO_FEW = Limit("too_few")


@dataclass(frozen=True, slots=True)
class Band:
    """The averaged fall for drawing: chance at tempos with the middle 95 % of the forms; and the
    fall from the best chance that nine in ten forms have at least."""

    bpm: np.ndarray
    chance: np.ndarray
    low: np.ndarray
    high: np.ndarray
    fallen: np.ndarray


@dataclass(frozen=True, slots=True)
class Standing:
    """What tempos and shares say of a table of tries, in the frame of its last day.

    ``bpm``: each row's tempo as it would count on the last day; ``rungs``: these, sorted.
    ``weighed`` are the forms of what is left when a sounding string is told by itself. None where
    there is a single tempo, or too few tries.
    """

    bpm: np.ndarray
    rungs: Rungs
    course: Course | None
    weighed: Weighed | None
    rows: Rows | None  # of what the forms are of
    beside: Beside | None
    string: int | None


@dataclass(frozen=True, slots=True)
class Sounding:
    """A string whose own series was asked: which of secure and break it decides, as it begins to
    sound there, and the break of the fall without it (None where that lies beyond what was
    tried)."""

    string: int
    decides: tuple[bool, bool]
    fall_bpm: float | None


@dataclass(frozen=True, slots=True)
class Limits:
    """Both tempos and the band that they were read from, which is None where nothing could be
    weighed."""

    secure: Limit
    broken: Limit
    band: Band | None = None
    course: Course | None = None  # over days, as the drawn forms have it
    moves: Moves | None = None  # of both tempos; None of a single day
    sounding: Sounding | None = None


def standing(tries: Tries) -> Standing:
    """The course over days, and all forms weighed by the counts."""
    string, always = sounding_string(tries) or (None, False)
    noise = np.zeros(len(tries.n)) if string is None else tries.noise[:, string - 1]
    hits, of = tries.clean, tries.n - noise
    over_days = course(tries, hits, of)
    bpm = tries.bpm if over_days is None else over_days.in_frame(tries)
    steps = framed(bpm, tries.n)
    if len(steps.bpm) < 2 or tries.reps < FEWEST_TRIES:
        return Standing(bpm, steps, over_days, None, None, None, None)
    rng = seeded(tries.n, tries.clean)
    weighed = weigh(_counts(tries, steps, hits, of), rng, DRAWS)
    day = np.zeros(len(bpm), int) if over_days is None else over_days.of_row
    rows = gathered(tries.take, tries.bpm, day, steps.of_row, hits, of)
    beside = None
    if string is not None and always:
        beside = as_often(tries, tries.n - noise, rng, DRAWS)
    elif string is not None:
        beside = beginning(tries, tries.n - noise, steps, bpm, over_days, rng, DRAWS)
    return Standing(bpm, steps, over_days, weighed, rows, beside, string)


def standing_still(tries: Tries, stands: Standing) -> tuple[Tries, Standing] | None:
    """The tempos as they were played, of what lies surely below the moving fall: what stays where
    it is while the player gets faster, shows there. None where nothing moved, or too little is
    left."""
    moving, weighed = stands.course, stands.weighed
    if moving is None or weighed is None or np.ptp(moving.move) < MOVES * moving.usual_bpm:
        return None
    wide = min(float(np.median(weighed.plain.width)), 0.04)
    edge = float(np.exp(np.median(weighed.plain.middle) - 3.0 * wide))
    below = tries.where(stands.bpm < edge)
    if below.reps < FEWEST_TRIES:
        return None
    steps = framed(below.bpm, below.n)
    if len(steps.bpm) < 4:
        return None
    rng = seeded(below.n, below.clean)
    still = weigh(_counts(below, steps, below.clean, below.n), rng, DRAWS)
    return below, Standing(below.bpm, steps, None, still, None, None, None)


def _counts(tries: Tries, steps: Rungs, hits: np.ndarray, of: np.ndarray) -> Counts:
    return counts(np.log(steps.bpm), tries.take, steps.of_row, hits, of)


def tempo_limits(
    tries: Tries,
    stands: Standing | None = None,
    dip: bool | None = None,
) -> Limits:
    """Secure and break tempo of a table of tries, as of its last day.

    dip: whether there surely is (or is not) an awkward range, which is no part of the fall; None
    weighs both.
    """
    if tries.reps < FEWEST_TRIES:
        return Limits(TOO_FEW, TOO_FEW)
    stands = standing(tries) if stands is None else stands
    weighed, bpm = stands.weighed, stands.rungs.bpm
    hits, of = stands.rungs.sums(tries.clean), stands.rungs.sums(tries.n)
    if weighed is None:
        secure, broken = (
            _one_tempo(float(bpm[0]), hits[0], of[0], level) for level in (SECURE, BREAK)
        )
        return Limits(secure, broken)
    rng = seeded(tries.clean, tries.n)
    slowest, fastest = float(bpm[0]), float(bpm[-1])
    still = None if stands.beside is None else stands.beside.still
    if still is not None:
        bpm, hits, of = still.bpm, still.sums(tries.clean), still.sums(tries.n)
        slowest = min(slowest, float(bpm[0]))
    x = np.linspace(np.log(slowest) - 0.16, np.log(fastest) + 0.21, _AT)
    drawn = _mixed(weighed, dip, rng)
    now = None if stands.rows is None else carried(stands.rows, drawn, stands.course, rng)
    chance = drawn.chance(x) if now is None else now.chance(x)
    moved = moves = None
    if now is not None and stands.course is not None:
        moved = now.course(stands.course)
        moves = with_fall(moved)
    fall, beside = chance, None
    if stands.beside is not None:
        beside = _as_many(stands.beside.forms, len(chance), rng).chance(x)
        chance = chance * beside
        if now is not None and moved is not None and still is not None:
            moves = _beside_still(now, moved, beside, x)
    of_luck = _shared_luck(tries, stands, weighed.plain)
    gap = separation(bpm, hits, of)
    if gap is not None and hits[0] == 0:  # the wrong way round: all broken slow, all clean fast
        gap = None
    luck = np.exp(rng.normal(0.0, of_luck, len(chance)))
    found = []
    for level in (SECURE, BREAK):
        found.append(_limit(fallen_at(chance, x, level) * luck, (slowest, fastest), gap))
    secure = _not_denied(found[0], bpm, hits, of)
    sounding = None
    if beside is not None and stands.string is not None:
        decides = (_drops(beside, fall, x, one.bpm) for one in (secure, found[1]))
        alone = _limit(fallen_at(fall, x, BREAK), (slowest, fastest), None)
        sounding = Sounding(stands.string, (next(decides), next(decides)), alone.bpm)
    band = _band(x, chance, slowest, fastest)
    return Limits(secure, found[1], band, moved, moves, sounding)


def _drops(beside: np.ndarray, fall: np.ndarray, x: np.ndarray, bpm: float | None) -> bool:
    """Whether the one rather than the other falls about a tempo."""
    if bpm is None:
        return False
    ends = np.log(bpm) + np.array([-_ABOUT, _ABOUT])
    at = np.clip(np.searchsorted(x, ends), 0, len(x) - 1)
    kept = [np.maximum(one[:, at].mean(axis=0), 1e-6) for one in (beside, fall)]
    return bool(kept[0][1] / kept[0][0] < kept[1][1] / kept[1][0])


def _beside_still(now: Carried, moved: Course, beside: np.ndarray, x: np.ndarray) -> Moves:
    """Each day's tempos, of a fall that moves and a string that begins to sound where it did."""
    some = np.arange(0, len(beside), max(1, len(beside) // _FEW))
    fewer, silent = now.some(some), beside[some]
    return read_off(moved, lambda day: fewer.chance(x, day) * silent, x, (SECURE, BREAK))


def _as_many(drawn: Drawn, count: int, rng: np.random.Generator) -> Drawn:
    return drawn.some(rng.choice(len(drawn.middle), count))


def _shared_luck(tries: Tries, stands: Standing, drawn: Drawn) -> float:
    """What takes that go through several tempos add to the scatter of the whole fall, in log tempo:
    their luck is one, where the forms give each tempo of a take a luck of its own."""
    x = np.log(stands.bpm)
    f = sigmoid((np.median(drawn.middle) - x) / np.median(drawn.width))
    telling = tries.n * f * (1.0 - f)
    spread = float(np.mean(drawn.spread))
    weight = telling / (1.0 + telling * spread**2)
    weight = weight / max(float(weight.sum()), 1e-12)
    take = np.unique(tries.take, return_inverse=True)[1]
    cells = np.unique(np.stack([take, stands.rungs.of_row]), axis=1, return_inverse=True)[1].ravel()
    more = np.sum(np.bincount(take, weight) ** 2) - np.sum(np.bincount(cells, weight) ** 2)
    return float(np.median(drawn.width) * spread * np.sqrt(max(float(more), 0.0)))


def _mixed(weighed: Weighed, dip: bool | None, rng: np.random.Generator) -> Drawn:
    """Forms with and without a dip, as likely as they are."""
    if weighed.dipped is None or dip is False:
        return weighed.plain
    if dip:
        return weighed.dipped
    share = sigmoid(weighed.dip_odds + _DIP_BEFOREHAND)
    having = rng.random(len(weighed.plain.middle)) < share
    return Drawn(
        *(
            np.where(having, getattr(weighed.dipped, name), getattr(weighed.plain, name))
            for name in Drawn.__slots__
        )
    )


def _one_tempo(bpm: float, hits: float, of: float, level: float) -> Limit:
    """All tries at one tempo: above or below it only where the interval of the share is clear of
    the level."""
    low, high = wilson(hits, of) or (0.0, 1.0)
    if low >= level or hits == of:
        return Limit("above_range", low_bpm=bpm)
    return Limit("below_range", high_bpm=bpm) if high < level else TOO_FEW


def _limit(drawn: np.ndarray, tried: tuple[float, float], gap: tuple[float, float] | None) -> Limit:
    """One level's tempo from where the drawn forms fall through it."""
    slowest, fastest = tried
    low, at, high = np.quantile(drawn, [0.025, 0.5, 0.975])
    if gap is not None:
        at = (gap[0] + gap[1]) / 2.0
        low, high = min(low, gap[0]), max(high, gap[1])
    if at >= fastest:
        return Limit("above_range", low_bpm=fastest)
    if at <= slowest:
        return Limit("below_range", high_bpm=slowest)
    return Limit(
        "found",
        float(at),
        float(np.clip(low, slowest, fastest)),
        float(np.clip(high, slowest, fastest)),
        open_low=bool(low < slowest),
        open_high=bool(high > fastest),
        gap=gap,
    )


def _not_denied(secure: Limit, bpm: np.ndarray, hits: np.ndarray, of: np.ndarray) -> Limit:
    """What is secure, no lower than a tempo at which the counts say so and nothing slower is
    worse."""
    share = hits / np.maximum(of, 1.0)
    sure = 0.0
    for at, tempo in enumerate(bpm):
        low, _ = wilson(hits[at], of[at]) or (0.0, 1.0)
        slower = hits[: at + 1].sum() / of[: at + 1].sum()
        if of[at] >= FEWEST_SURE and low > SECURE and min(slower, share[: at + 1].min()) > SECURE:
            sure = float(tempo)
    if not sure or secure.status in ("above_range", "too_few") or (secure.bpm or 0.0) >= sure:
        return secure
    if secure.status == "below_range":
        return Limit("found", sure, sure, float(bpm[-1]), open_low=bool(sure == bpm[0]))
    high = max(secure.high_bpm or sure, sure)
    return replace(secure, bpm=sure, high_bpm=high, low_bpm=min(secure.low_bpm or sure, sure))


def _band(x: np.ndarray, chance: np.ndarray, slowest: float, fastest: float) -> Band:
    at = np.linspace(slowest, fastest, 61)
    low, middle, high = (
        np.interp(np.log(at), x, row) for row in np.quantile(chance, [0.025, 0.5, 0.975], axis=0)
    )
    inside = (x >= np.log(slowest)) & (x <= np.log(fastest))
    best = chance[:, inside].max(axis=1, keepdims=True) if inside.any() else 1.0
    fallen = np.interp(np.log(at), x, np.quantile(best - chance, 0.1, axis=0))
    return Band(at, middle, low, high, fallen)
