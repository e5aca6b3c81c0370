"""What is open about a cell, and for each question the block that would answer most of it.

Each source of the review says what it leaves open: where the cell breaks, a range that looks
awkward, whether a part or joining it fails, which of two ways of playing is cleaner, with which
stroke it is better begun, what the rig's delay hides, a variant that was never played. A question
is worth the nats that its block is expected to take away: for a tempo what its interval would
shrink by, for a question with two answers what is left of their doubt.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, exp, log

from ..climb.parts import PartTold
from ..review.answers import Review
from ..review.limits import Limit
from ..stats import Z95, normal_cdf
from . import blocks
from .blocks import STRETCH, Block, minutes_for
from .now import State

WHERE, AWKWARD, PART, NOTE, RIG, UNTRIED = "where", "awkward", "part", "note", "rig", "untried"

UNKNOWN_BPM = 70.0  # where somebody begins of whom nothing is known
SEARCH = 24
"""Repetitions of a climb that looks for the break."""
SLOWER = 0.85
SEARCHED = 1.5
"""Nats about the break that a search takes away of one that is not known at all: from a fifth to
less than a twentieth (common practice, no source)."""

SETTLES = 0.6
"""Share of the doubt that a block made for a question with two answers takes away (no source)."""
NEVER_PLAYED = 0.3
"""That of a first block in a way that was never tried (no source)."""
PART_FASTER = 1.1
"""A part is tried alone so much faster than where its cell breaks: what holds there fails by being
joined (``climb.parts``)."""
MATTERS = 8.0
"""Clean repetitions in a hundred: a difference surely smaller than this is not asked about."""
RIG_MINUTES = 4.0
LITTLE = 0.05
"""Nats under which a block is not worth getting ready for."""


@dataclass(frozen=True, slots=True)
class Two:
    """Two ways of playing that can be told apart: names, clean repetitions in a hundred of the
    first minus the second with its interval, repetitions of both. variants: how each is asked for;
    empty where the player alone can choose (found ways, starting strokes)."""

    kind: str  # "variants", "ways" or "starts"
    names: tuple[str, str]
    points: float
    low: float
    high: float
    reps: int
    variants: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Standing:
    """A cell today, with all that is known of it.

    beats: of a repetition. review, state: None where it was never played, or on no known day.
    secure, broken: as of today. untried: variants of its file that were never played.
    """

    name: str
    beats: float
    days_since: int | None
    review: Review | None
    secure: Limit
    broken: Limit
    state: State | None
    start_bpm: float | None = None  # where the cell file says to begin
    parts: tuple[PartTold, ...] = ()
    twos: tuple[Two, ...] = ()
    untried: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Question:
    """What is open. about: what kind of question, and of what, the same on another day. block: None
    where today's play tells no more; gain: nats that it takes away; why: what it rests on."""

    about: str
    text: str
    block: Block | None
    gain: float
    why: str

    @property
    def worth(self) -> float:
        """Nats a minute."""
        return 0.0 if self.block is None else self.gain / self.block.minutes


def questions(cell: Standing) -> list[Question]:
    """All that is open about a cell, what is worth most first."""
    return sorted(_questions(cell), key=lambda one: (one.block is None, -one.worth))


def _questions(cell: Standing) -> Iterator[Question]:
    review = cell.review
    if review is None or review.tempo_range_bpm is None or cell.state is None:
        yield _unknown(cell, review)
        return
    yield from _where(cell, review, cell.state)
    dip = review.suspected
    if dip is not None:
        slow, fast = f"{dip.low_bpm:.0f}", f"{dip.high_bpm:.0f}"
        where = f"from {slow} to {fast}" if slow != fast else f"around {slow}"
        tempos = tuple(round(bpm) for bpm in dip.ask_bpm for _ in range(2))
        yield Question(
            AWKWARD,
            f"is it awkward {where} bpm?",
            _at(cell, tempos),
            SETTLES * _two_answers(dip.p),
            f"{dip.clean} of {dip.reps} clean there, and more of them faster",
        )
    yield from _parts(cell, review)
    yield from _twos(cell)
    yield from _rest(cell, review)


def _unknown(cell: Standing, review: Review | None) -> Question:
    bpm = cell.start_bpm or UNKNOWN_BPM
    reps = 0
    if review is not None and review.tempo_range_bpm is not None:
        bpm, reps = review.tempo_range_bpm[0], review.reps
    return Question(
        WHERE,
        "where does it break? not known yet",
        Block("search", bpm, SEARCH, minutes_for(cell.beats, bpm, SEARCH)),
        SEARCHED,
        f"{reps} repetitions say too little",
    )


def _where(cell: Standing, review: Review, state: State) -> Iterator[Question]:
    assert review.tempo_range_bpm is not None
    slow, fast = review.tempo_range_bpm
    beyond = {
        "above_range": (SLOWER * fast, f"not reached at {fast:.0f} bpm, the fastest played"),
        "below_range": (SLOWER * slow, f"below {slow:.0f} bpm, the slowest played"),
        "too_few": (slow, "not known yet"),
    }
    status = cell.broken.status
    if status in beyond and (status != "too_few" or not blocks.known(state)):
        bpm, text = beyond[status]
        yield Question(
            WHERE,
            f"where does it break? {text}",
            Block(
                "search",
                bpm,
                SEARCH,
                minutes_for(cell.beats, bpm, SEARCH),
                faster=status == "above_range",
            ),
            SEARCHED,
            f"{review.reps} repetitions, none of them where it breaks",
        )
        return
    sounding = review.sounding
    if sounding is not None and sounding.decides[1]:
        yield from _sounds(cell, sounding.string)
        return
    if blocks.known(state):
        return
    own = state.own
    text = (
        f"where does it break on a day like any other? {own.low_bpm:.0f} to {own.high_bpm:.0f} bpm"
    )
    reps = blocks.reps_for(state)
    gain = blocks.gain(state, reps)
    if gain < LITTLE:
        why = "today's luck hides more than further repetitions of today can tell"
        yield Question(WHERE, text, None, gain, why)
        return
    yield Question(
        WHERE,
        text,
        _at(cell, blocks.tempos_for(state, reps)),
        gain,
        f"known to {_per_cent(own.half)} now, to about "
        f"{_per_cent(Z95 * blocks.doubt_after(state, reps))} after the block",
    )


def _sounds(cell: Standing, string: int) -> Iterator[Question]:
    """From where on a string sounds, where that decides the break: only tempos about it tell."""
    low, at, high = cell.broken.low_bpm, cell.broken.bpm, cell.broken.high_bpm
    if not (low and at and high) or high / low <= (1.0 + blocks.KNOWN) ** 2:
        return
    tempos = tuple(float(round(bpm)) for bpm in (low, at, at, high))
    yield Question(
        f"{WHERE} {string}",
        f"from where on does string {string} sound? {low:.0f} to {high:.0f} bpm",
        _at(cell, tempos),
        SETTLES * log(2.0),
        f"it breaks where string {string} begins to sound, {low:.0f} to {high:.0f} bpm",
    )


def _parts(cell: Standing, review: Review) -> Iterator[Question]:
    """Whether notes fail by themselves, or joining them to the rest."""
    at = cell.broken.bpm
    if at is None:
        return
    bpm = float(round(PART_FASTER * at))
    for part in cell.parts:
        if part.why is None:
            yield Question(
                f"{PART} {part.notes[0]}-{part.notes[-1]}",
                f"do {_notes(part.notes)} fail by themselves, or joining them to the rest?",
                _part(review, part.notes, bpm),
                SETTLES * _two_answers(part.chance),
                f"{part.reps[0]} repetitions alone, {part.reps[1]} inside the cell; by these it is "
                f"{100.0 * part.chance:.0f} to {100.0 - 100.0 * part.chance:.0f}",
            )
    first, count = review.first_to_go, len(review.slot_strings)
    if first is None or first.fault not in ("missed", "wrong") or count < 5:
        return
    begin = min(max(first.slot - 1, 1), count - 2)
    notes = (begin, begin + 1, begin + 2)
    if any(first.slot in part.notes for part in cell.parts):
        return
    yield Question(
        f"{NOTE} {first.slot}",
        f"does note {first.slot} fail by itself, or joining it to the rest?",
        _part(review, notes, bpm),
        SETTLES * log(2.0),
        f"note {first.slot} goes first, from {first.from_bpm:.0f} bpm on; it was never played "
        "without the rest",
    )


def _part(review: Review, notes: tuple[int, ...], bpm: float) -> Block:
    reps = 2 * STRETCH
    minutes = minutes_for(len(notes) / review.grid, bpm, reps)
    return Block("part", bpm, reps, minutes, (bpm, bpm), faster=True, notes=notes)


def _twos(cell: Standing) -> Iterator[Question]:
    """Which of two ways of playing is cleaner: while the interval holds nought and what matters."""
    at = cell.broken.bpm
    for two in cell.twos:
        if at is None or two.low > 0.0 or two.high < 0.0 or two.high - two.low < 2.0 * MATTERS:
            continue
        reps = 4 * STRETCH
        sure = normal_cdf(abs(two.points) * 2.0 * Z95 / (two.high - two.low))
        gain = _two_answers(sure) * reps / (reps + two.reps)
        if gain < LITTLE:
            continue
        bpm = float(round(at))
        kind = "tempo" if two.kind == "starts" else "both"
        block = Block(
            kind, bpm, reps, minutes_for(cell.beats, bpm, reps), (bpm,) * 4,
            names=two.names if kind == "both" else (), variants=two.variants,
        )  # fmt: skip
        text = {
            "starts": "is it cleaner begun with a down or with an up stroke?",
            "ways": f"which way is cleaner, {two.names[0]} or {two.names[1]}?",
            "variants": f"which is cleaner, {two.names[0]} or {two.names[1]}?",
        }[two.kind]
        yield Question(
            f"{two.kind}: {two.names[0]}, {two.names[1]}",
            text,
            block,
            gain,
            f"{two.points:+.0f} clean in a hundred ({two.low:+.0f} to {two.high:+.0f}), "
            f"{two.reps} repetitions of both",
        )


def _rest(cell: Standing, review: Review) -> Iterator[Question]:
    """What the rig hides, and variants that were never played."""
    if review.even is not None and review.even.why and "delay" in review.even.why:
        yield Question(
            RIG,
            "does it gallop? that cannot be said before the rig's delay is measured",
            Block("rig", None, None, RIG_MINUTES),
            SETTLES * log(2.0),
            review.even.why,
        )
    bpm = cell.secure.bpm or cell.broken.bpm
    if bpm is None:
        return
    bpm = float(round(bpm))
    for name in cell.untried:
        reps = 4 * STRETCH
        yield Question(
            f"{UNTRIED} {name}",
            f"is it cleaner as {name}? it was never played so",
            Block(
                "both", bpm, reps, minutes_for(cell.beats, bpm, reps), (bpm,) * 4,
                names=("as written", name), variants=("", name),
            ),
            NEVER_PLAYED * log(2.0),
            f"the cell's file has {name}, and no repetition of it is recorded",
        )  # fmt: skip


def _at(cell: Standing, tempos: tuple[float, ...]) -> Block:
    bpm = sum(tempos) / len(tempos)
    reps = STRETCH * len(tempos)
    return Block("tempo", bpm, reps, minutes_for(cell.beats, bpm, reps), tempos)


def _per_cent(half: float) -> str:
    """How far an interval reaches, never told narrower than it is."""
    return f"{ceil(1000.0 * (exp(half) - 1.0)) / 10.0:.1f} %"


def _notes(notes: tuple[int, ...]) -> str:
    return f"notes {notes[0]} to {notes[-1]}"


def _two_answers(chance: float) -> float:
    """Doubt between two answers, in nats."""
    return -sum(p * log(p) for p in (chance, 1.0 - chance) if p > 0.0)
