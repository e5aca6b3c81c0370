"""The review in the terminal: the sentence first, then pictures made of characters, one row a
tempo.

Pure text: a review and a width become lines. Shape carries the meaning, so that it reads without
colour and in a log.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..files.values import date_of
from ..measures.review.advice import advice
from ..measures.review.answers import Drawn, Review, Rung
from ..measures.review.compare import Comparison
from ..measures.review.even import noticeable_cv_pct
from ..measures.review.sentence import rests_on, sentence
from ..measures.review.wear import Slope


@dataclass(frozen=True, slots=True, kw_only=True)
class Signs:
    """The characters that pictures are made of."""

    share: str = "●"
    curve: str = "┃"
    band: str = "─"
    line: str = "┊"
    bar: str = "▄"
    none: str = "·"
    beyond: str = "▶"
    below: str = "◀"
    other: str = "◆"  # the second of two
    both: str = "◈"


PLAIN = Signs()
ASCII = Signs(
    share="O",
    curve="|",
    band="-",
    line=":",
    bar="=",
    none=".",
    beyond=">",
    below="<",
    other="X",
    both="*",
)

FEW = 10
"""A share of fewer repetitions is shown by its counts (measures.md)."""

VAGUE_POINTS, VAGUE_CV, VAGUE_BPM = 20.0, 2.0, 8.0
"""An interval wider than this, around nought, is no sign that nothing changes (common practice, no
source)."""


def answer_lines(review: Review, width: int = 80) -> list[str]:
    """The answer in words: the sentence, what it rests on, and what to play next to know more."""
    lines = wrapped(sentence(review), width) + wrapped(rests_on(review), width)
    more = advice(review)
    return lines + (wrapped(more, width) if more else [])


def review_lines(review: Review, width: int = 80, signs: Signs = PLAIN) -> list[str]:
    """Everything the terminal shows of a review, as lines no wider than ``width``."""
    lines = answer_lines(review, width)
    for title, picture in (
        ("Clean repetitions", outcome(review, width, signs)),
        (
            "Faults by note, unwanted by string (s), in 100 repetitions",
            heat(review, width, signs),
        ),
        ("Evenness", evenness(review, width, signs)),
        ("Secure tempo by day", days(review, width, signs)),
    ):
        if picture:
            lines += ["", title, *picture]
    notes = trends(review)
    return lines + (
        [""] + [line for note in notes for line in wrapped(note, width)] if notes else []
    )


def outcome(review: Review, width: int, signs: Signs) -> list[str]:
    """Clean share at each tempo, with the fitted curve and its 95 % band."""
    if not review.by_tempo:
        return []
    left = 18
    wide = max(width - left - 1, 20)
    lines = [f"{'bpm':>5}{'clean':>11}  " + _scale(wide)]
    for rung in reversed(review.by_tempo):
        row = [" "] * (wide + 1)
        if review.curve is not None:
            low, chance, high = (
                _at(review.curve, rung.bpm, column) for column in ("low", "chance", "high")
            )
            for place in range(round(low * wide), round(high * wide) + 1):
                row[place] = signs.band
            row[round(chance * wide)] = signs.curve
        row[round(rung.clean / rung.reps * wide)] = signs.share
        lines.append(
            f"{rung.bpm:5.0f}{f'{rung.clean} of {rung.reps}':>11}  " + "".join(row).rstrip()
        )
    if review.curve is not None:
        lines.append(
            f"{signs.share} played   {signs.curve} fitted curve   {signs.band * 3} its 95 % "
            "interval"[:width]
        )
    if review.awkward is not None:
        lines.append("the awkward range is left out of the fit")
    return lines


def _scale(wide: int) -> str:
    marks = [" "] * (wide + 1)
    for share, text in ((0.0, "0"), (0.5, "50"), (1.0, "100 %")):
        at = min(
            max(round(share * wide) - (len(text) // 2 if share < 1 else len(text) - 1), 0),
            wide + 1 - len(text),
        )
        marks[at : at + len(text)] = text
    return "".join(marks).rstrip()


def _at(curve: Drawn, bpm: float, column: str) -> float:
    """A column of the drawn curve at a tempo, between its two nearest points."""
    values = getattr(curve, column)
    if bpm <= curve.bpm[0]:
        return float(values[0])
    for i in range(1, len(curve.bpm)):
        if bpm <= curve.bpm[i]:
            part = (bpm - curve.bpm[i - 1]) / (curve.bpm[i] - curve.bpm[i - 1])
            return float(values[i - 1] + part * (values[i] - values[i - 1]))
    return float(values[-1])


def heat(review: Review, width: int, signs: Signs) -> list[str]:
    """Missed, wrong and broken off by slot, and noise by string, in per cent of the repetitions at
    each tempo."""
    if not review.by_tempo:
        return []
    loud = [
        s
        for s in range(len(review.by_tempo[0].noise))
        if any((rung.noise[s] or 0) > 0 for rung in review.by_tempo)
    ]
    slots = range(len(review.slot_strings))
    room = (width - 8) // 4
    cut = max(room - len(loud) - 1, 1)
    head = f"{'bpm':>5} |" + "".join(f"{slot + 1:>4}" for slot in slots[:cut])
    lines = [head + (" |" + "".join(f"{f's{string + 1}':>4}" for string in loud) if loud else "")]
    for rung in reversed(review.by_tempo):
        line = f"{rung.bpm:5.0f} |" + "".join(
            _cell(_fault(rung, slot), rung, signs) for slot in slots[:cut]
        )
        lines.append(
            line
            + (
                " |" + "".join(_cell(rung.noise[string], rung, signs) for string in loud)
                if loud
                else ""
            )
        )
    if cut < len(slots):
        lines.append(f"notes {cut + 1} to {len(slots)} do not fit this width; the page shows them")
    return lines


def _fault(rung: Rung, slot: int) -> float | None:
    """Share of repetitions that went wrong at a slot."""
    shares = [column[slot] for column in (rung.missed, rung.wrong, rung.broken)]
    told = [share for share in shares if share is not None]
    return min(sum(told), 1.0) if told else None


def _cell(share: float | None, rung: Rung, signs: Signs) -> str:
    text = share_text(share, rung.reps)
    return f"{signs.none if text == '0' else text:>4}"


def share_text(share: float | None, reps: int) -> str:
    """A share in 100 repetitions; of few ones how many of how many (measures.md).

    >>> share_text(0.25, 40), share_text(0.25, 8), share_text(0.0, 8), share_text(0.001, 2000)
    ('25', '2/8', '0', '1')
    """
    if share is None:
        return ""
    if share == 0.0:
        return "0"
    return f"{round(share * reps)}/{reps}" if reps < FEW else f"{max(round(100 * share), 1)}"


def evenness(review: Review, width: int, signs: Signs) -> list[str]:
    """Unevenness of the intervals at each tempo, with what is just noticeable."""
    rungs = [rung for rung in review.by_tempo if rung.cv_pct is not None]
    if not rungs:
        return []
    limits = [noticeable_cv_pct(rung.bpm, review.grid) for rung in rungs]
    wide = max(width - 18, 20)
    most = max(*(rung.cv_pct or 0 for rung in rungs), *limits, 1.0)
    lines = [f"{'bpm':>5}{'cv %':>9}"]
    for rung, limit in zip(reversed(rungs), reversed(limits)):
        value = rung.cv_pct or 0.0
        row = list((signs.bar * round(value / most * (wide - 1))).ljust(wide))
        row[round(limit / most * (wide - 1))] = signs.line
        lines.append(f"{rung.bpm:5.0f}{value:9.1f}  " + "".join(row).rstrip())
    return [*lines, f"{signs.line} just noticeable: a bar beyond it can be heard"]


def days(review: Review, width: int, signs: Signs) -> list[str]:
    """Each day's secure tempo; the last twenty days on which anything can be told."""
    if review.progress is None:
        return []
    shown = [(day, day.bpm) for day in review.progress.days if day.bpm is not None][-20:]
    if not shown:
        return []
    low, high = min(bpm for _, bpm in shown), max(bpm for _, bpm in shown)
    wide = max(width - 22, 20)
    lines, statuses = [f"{'day':>10}{'bpm':>6}"], {day.status for day, _ in shown}
    sign = {"found": signs.share, "above_range": signs.beyond, "below_range": signs.below}
    for day, bpm in shown:
        at = round((bpm - low) / max(high - low, 1e-9) * (wide - 1))
        lines.append(f"{date_of(day.number)}{bpm:6.0f}  " + " " * at + sign[day.status])
    if "above_range" in statuses:
        lines.append(f"{signs.beyond} secure at every tempo tried, up to there")
    if "below_range" in statuses:
        lines.append(f"{signs.below} not secure at any tempo tried, from there")
    return lines


def trends(review: Review) -> list[str]:
    """Wear, progress, and odd against even repetitions in words."""
    notes = []
    if review.wear is not None and review.wear.clean_points is not None:
        slope = review.wear.clean_points
        change = f"at equal tempo {_range(slope)} clean in a hundred in ten minutes"
        notes.append(_said(slope, VAGUE_POINTS, change, "wear", "Warming up", "Wear"))
    if review.wear is not None and review.wear.cv_points is not None:
        slope = review.wear.cv_points
        change = f"at equal tempo cv {_range(slope)} points in ten minutes"
        up, down = "Less even with time", "More even with time"
        notes.append(_said(slope, VAGUE_CV, change, "evenness wearing off", up, down))
    if review.progress is not None:
        slope = review.progress.bpm_a_week
        change = f"secure tempo {_range(slope)} bpm a week"
        notes.append(_said(slope, VAGUE_BPM, change, "progress", "Progress", "Falling back"))
    if review.odd_even is not None and review.by_start is None:  # else it is told as it was played
        notes.append(odd_even(review.odd_even))
    return notes


def _said(slope: Slope, vague: float, change: str, what: str, up: str, down: str) -> str:
    """A trend in words: what it is where it is sure, else that there is no sign of it, or too
    little to tell."""
    if slope.sure:
        return f"{up if slope.value > 0 else down}: {change}."
    return (
        f"{'Too little to tell' if slope.high - slope.low > vague else 'No sign of'} {what}: "
        f"{change}."
    )


def _range(slope: Slope) -> str:
    # no minus before 0.0
    value, low, high = (round(end, 1) + 0.0 for end in (slope.value, slope.low, slope.high))
    return f"{value:+.1f} ({low:.1f} to {high:.1f})"


def odd_even(comparison: Comparison) -> str:
    """Odd against even repetitions, whose strokes are swapped."""
    shown = comparison.clearest or comparison.overall
    start = "Strokes swap from one repetition to the next; odd ones against even:"
    end = "" if comparison.clearest is not None else "; no clear difference"
    return (
        f"{start} {round(shown.points):+d} points clean ({round(shown.low)} to "
        f"{round(shown.high)}) "
        f"at {shown.from_bpm:.0f} to {shown.to_bpm:.0f}{end}."
    )


def wrapped(text: str, width: int) -> list[str]:
    """Text broken at spaces.

    >>> wrapped("one two three", 8)
    ['one two', 'three']
    """
    lines: list[str] = []
    for word in text.split():
        if lines and len(lines[-1]) + 1 + len(word) <= width:
            lines[-1] += " " + word
        else:
            lines.append(word)
    return lines
