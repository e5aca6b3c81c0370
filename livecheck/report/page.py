"""The review as one self-contained page: opens from disk, prints, needs no network and no script.

Every picture has its meaning in words and the numbers behind it in a table. Blue and orange are
told apart by colour-blind eyes (M. Okabe and K. Ito's palette), and shape says the same again.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from ..files.values import date_of
from ..measures.review.advice import advice
from ..measures.review.answers import MOST_PARTS, Part, Review, Rung
from ..measures.review.even import noticeable_cv_pct
from ..measures.review.sentence import claim, evenness, rests_on, sentence
from . import chart
from .page_changes import note_changes
from .page_days import over_days
from .page_faults import NO_HEAD, Head, other_strings, which_note
from .page_parts import numbers, percent, section, table
from .review_text import trends
from .start_picture import starts

STYLE = """
:root{color-scheme:light dark;--paper:#fff;--ink:#1b1b1b;--soft:#5c5c5c;--rule:#dcdcdc;\
--blue:#0072b2;--orange:#b85c00;
--cell:#f3f3f3;--hot:#0072b2;--over:#fff}
@media(prefers-color-scheme:dark){:root{--paper:#141414;--ink:#ececec;--soft:#a8a8a8;\
--rule:#383838;--blue:#56b4e9;
--orange:#e69f00;--cell:#232323;--hot:#56b4e9;--over:#0b0b0b}}
@media print{:root{--paper:#fff;--ink:#000;--soft:#444;--rule:#bbb;--blue:#0072b2;--orange:#b85c00;\
--cell:#f3f3f3;
--hot:#0072b2;--over:#fff}section{break-inside:avoid}details{display:none}\
*{print-color-adjust:exact}}
body{background:var(--paper);color:var(--ink);font:16px/1.5 system-ui,sans-serif;max-width:46rem;\
margin:2rem auto;
padding:0 1rem}
h1{font-size:1.1rem;font-weight:600;color:var(--soft);margin:0}h2{font-size:1.05rem;\
margin:2.2rem 0 .3rem}
.answer{font-size:1.5rem;line-height:1.35;margin:.4rem 0 .8rem}.soft,figcaption{color:var(--soft);\
font-size:.9rem}
figure{margin:0}svg{width:100%;height:auto;display:block}svg text{font:12px system-ui,sans-serif;\
fill:var(--soft)}
.grid{stroke:var(--rule)}.axis{stroke:var(--soft)}.fit{fill:none;stroke:var(--blue);\
stroke-width:2.5}
.band{fill:var(--blue);opacity:.16}.played{fill:var(--ink)}.part{fill:none;stroke:var(--soft);\
stroke-width:1.2}
.mark{stroke:var(--orange);stroke-width:1.6;stroke-dasharray:6 4}svg text.mark{stroke:var(--paper);\
stroke-width:4;stroke-dasharray:none;paint-order:stroke;fill:var(--orange);
font-weight:600}.awkward{fill:var(--orange);opacity:.16}.perhaps{fill:var(--orange);
fill-opacity:.06;stroke:var(--orange);stroke-dasharray:3 3}.paper{fill:var(--paper)}
.limit{fill:none;stroke:var(--orange);stroke-width:2;
stroke-dasharray:6 4}.then{fill:none;stroke:var(--soft);stroke-width:2;
stroke-dasharray:2 4}.reach{fill:var(--orange);opacity:.55}
.line{fill:none;stroke:var(--blue);stroke-width:2}.cell{fill:var(--cell)}.hot{fill:var(--hot)}
.few{fill:none;stroke:var(--soft);stroke-dasharray:3 2}
svg text.under{fill:var(--ink)}svg text.over{fill:var(--over)}
table{border-collapse:collapse;font-size:.85rem;margin:.6rem 0}th,td{padding:.15rem .7rem .15rem 0;\
text-align:right}
td:first-child,th:first-child{text-align:left}
th{font-weight:600;color:var(--soft)}details{overflow-x:auto}summary{cursor:pointer;\
color:var(--soft);font-size:.9rem}
@media screen and (max-width:36rem){svg text{font-size:18px}svg text.upname{display:none}
svg text.mark{font-size:16px}.answer{font-size:1.25rem}}
@page{size:A4;margin:14mm}
@media print{body{font-size:11pt;margin:0}.answer{font-size:14pt}h2{margin-top:1rem}\
figure{max-width:31rem}}
"""


def page(review: Review, title: str, head: Head = NO_HEAD, ways: str = "") -> str:
    """The whole page as HTML text. title: what was reviewed, in words; head: the cell's notes;
    ways: the sections of several ways of playing (``page_ways``)."""
    parts = [
        f"<h1>{escape(title)}</h1>",
        f'<p class="answer">{escape(sentence(review))}</p>',
        f'<p class="soft">{escape(" ".join(filter(None, (rests_on(review), advice(review)))))}</p>',
        *(f"<p>{escape(note)}</p>" for note in trends(review)),
    ]
    if review.by_tempo:
        parts += [
            _outcome(review),
            starts(review.by_start),
            which_note(review, head),
            other_strings(review),
            note_changes(review),
            _evenness(review),
            ways,
            over_days(review),
        ]
    return (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" '
        f'content="width=device-width,initial-scale=1"><title>{escape(title)}</title>'
        f"<style>{STYLE}</style></head>"
        f"<body><main>{''.join(parts)}</main></body></html>\n"
    )


def _outcome(review: Review) -> str:
    tempos = [*(rung.bpm for rung in review.by_tempo), *(review.tempo_range_bpm or ())]
    if review.curve is None:  # a single tempo has no curve
        return ""
    tempos += [review.curve.bpm[0], review.curve.bpm[-1]]
    box = chart.frame(tempos, 0.0, 1.0, 340)
    parts = chart.axes(box, "tempo, beats per minute", "clean repetitions", percent)
    if review.awkward is not None:
        low, high = review.awkward.low_bpm, review.awkward.high_bpm
        parts.append(
            chart.span(
                box, 0.985 * low, 1.015 * high, "awkward", f"awkward, {low:.0f} to {high:.0f}"
            )
        )
    if review.suspected is not None:
        low, high = review.suspected.low_bpm, review.suspected.high_bpm
        told = f"perhaps awkward, {low:.0f} to {high:.0f}"
        parts.append(chart.span(box, 0.985 * low, 1.015 * high, "perhaps", told))
    if review.curve is not None:
        drawn = review.curve
        parts += [
            chart.band(box, drawn.bpm, drawn.low, drawn.high),
            chart.curve(box, drawn.bpm, drawn.chance, "fit"),
        ]
    moved = _moved(review)
    if moved and review.curve is not None:
        then = [bpm + moved for bpm in review.curve.bpm]
        inside = [at for at, bpm in enumerate(then) if box.x0 <= bpm <= box.x1]
        xs, ys = ([row[at] for at in inside] for row in (then, review.curve.chance))
        parts.append(chart.curve(box, xs, ys, "then"))
    for level, (name, limit) in enumerate((("secure", review.secure), ("break", review.broken))):
        if limit.bpm is not None:
            low, high = limit.low_bpm or limit.bpm, limit.high_bpm or limit.bpm
            told = f"{name}: {low:.0f} to {high:.0f} in 95 of 100"
            parts.append(chart.reach(box, low, high, level, told))
            parts.append(chart.upright(box, limit.bpm, "mark", f"{name} {limit.bpm:.0f}", level))
    for part in review.parts:
        told = (
            f"{_sitting(part)}, take {part.take + 1}, {part.bpm:.0f} bpm: {part.clean} of "
            f"{part.reps} clean"
        )
        size, aside = 2.0 + 0.7 * part.reps**0.5, 3.5 * (part.take * 2 % 5 - 2)
        parts.append(chart.dot(box, part.bpm, part.clean / part.reps, size, "part", told, aside))
    for rung in review.by_tempo:
        parts.append(
            chart.dot(box, rung.bpm, rung.clean / rung.reps, 4.5, "played", _rung_text(rung))
        )
    told = "Share of clean repetitions against tempo, with the fitted curve. " + sentence(review)
    caption = f"{claim(review)} Filled: all repetitions at a tempo. "
    if review.parts:
        caption += "Rings: single takes, larger with more repetitions. "
    caption += (
        "Line and shade: the chance as of the last day, and its 95 % interval; bars below the "
        "names: the intervals of both tempos."
    )
    if moved and review.earlier is not None:
        caption += f" Dotted: {date_of(review.earlier.day)}."
    if review.awkward is not None:
        caption += " Shaded upright: the awkward range, left out of the fit."
    if review.suspected is not None:
        caption += " Dashed upright: the range in question."
    return section("Where it breaks", chart.drawing(told, parts, 340), caption, _behind(review))


def _moved(review: Review) -> float:
    """How far the fall has moved since the first day, where that is sure; minus is slower then."""
    then = review.earlier
    if then is None:
        return 0.0
    if then.break_bpm is not None and review.broken.bpm is not None:
        return then.break_bpm - review.broken.bpm
    return (then.secure_bpm or 0.0) - (review.secure.bpm or 0.0)


def _behind(review: Review) -> str:
    """The repetitions behind each point, tempo by tempo."""
    blocks = []
    for number, rung in enumerate(review.by_tempo):
        rows = [
            (
                _sitting(part),
                f"{part.take + 1}",
                f"{part.minute:.1f}",
                f"{part.bpm:.1f}",
                f"{part.clean}",
                f"{part.reps}",
            )
            for part in review.parts
            if part.rung == number
        ]
        head = ("session", "take", "minute", "bpm", "clean", "repetitions")
        takes = table(head, rows) if rows else ""
        told = escape(_rung_text(rung))
        blocks.append(
            f"<details><summary>{told}</summary>{takes}</details>" if rows else f"<p>{told}</p>"
        )
    many = (
        ""
        if review.parts
        else f"<p>Takes are listed one by one only where there are fewer than {MOST_PARTS}.</p>"
    )
    return (
        "<details><summary>The repetitions behind each "
        f"point</summary>{many}{''.join(blocks)}</details>"
    )


def _sitting(part: Part) -> str:
    """Which sitting: its day where it is known, and its number, since there may be several a
    day."""
    number = f"session {part.sitting + 1}"
    return f"{date_of(part.day)}, {number}" if part.day else number


def _rung_text(rung: Rung) -> str:
    takes = f"{rung.takes} take{'s' if rung.takes != 1 else ''}"
    return (
        f"{rung.bpm:.0f} bpm: {rung.clean} of {rung.reps} clean, {rung.complete} played to the "
        f"end, in {takes}"
    )


def _evenness(review: Review) -> str:
    rungs = [rung for rung in review.by_tempo if rung.cv_pct is not None]
    if len(rungs) < 2:
        return ""
    bpm, values = [rung.bpm for rung in rungs], [rung.cv_pct or 0.0 for rung in rungs]
    limits = [noticeable_cv_pct(at, review.grid) for at in bpm]
    box = chart.frame(bpm, 0.0, 1.1 * max(*values, *limits), 260)
    parts = chart.axes(
        box, "tempo, beats per minute", "unevenness, cv", lambda value: f"{value:g} %"
    )
    parts += [chart.curve(box, bpm, limits, "limit"), chart.curve(box, bpm, values, "line")]
    parts += [
        chart.dot(box, x, y, 4.0, "played", f"{x:.0f} bpm: {y:.1f} %") for x, y in zip(bpm, values)
    ]
    told = _heard([(x, y > limit) for x, y, limit in zip(bpm, values, limits)])
    claims = evenness(review)
    caption = (
        f"{claims + ' ' if claims else ''}{told} Scatter of the intervals; dashed: what is "
        "just noticeable."
    )
    lines = [(f"{x:.0f}", f"{y:.1f}", f"{limit:.1f}") for x, y, limit in zip(bpm, values, limits)]
    more = numbers(("bpm", "cv %", "just noticeable"), lines)
    return section(
        "How even", chart.drawing("Evenness against tempo. " + caption, parts, 260), caption, more
    )


def _heard(over: Sequence[tuple[float, bool]]) -> str:
    """At which tempos unevenness can be heard, slow to fast."""
    heard = [bpm for bpm, audible in over if audible]
    if not heard:
        return "On average unevenness can be heard at no tempo."
    if len(heard) == len(over):
        return "Unevenness can be heard at every tempo."
    if [bpm for bpm, _ in over][-len(heard) :] == heard:
        return f"Unevenness can be heard from {heard[0]:.0f} bpm on."
    return f"Unevenness can be heard at {', '.join(f'{bpm:.0f}' for bpm in heard)}."
