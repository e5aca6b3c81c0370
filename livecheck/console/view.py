"""The screen as a pure view: a model and a size in, lines out.

The near view reads like a practice log, the far view shows little and large. Anything that does not
fit is left out in the order of its use; no size makes it fail.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.segment import Segment

from ..core.events import Repetition
from .far import far_lines
from .footer import legend_line, message_line, status_line
from .header import column_heads, headline
from .layout import plan
from .lines import Fitted, Line, fitted, padded, piece, wrapped
from .model import LogItem, Model
from .palette import FAINT, GOOD, NORMAL, Signs
from .ruler import noise_lines, ruler_lines
from .soundlines import attack_lines
from .table import current_lines, log_lines, longest, older_lines, tally_lines
from .words import CAUTION, STOP_AT_PAIN, clock_text

LEAST_WIDTH, LEAST_HEIGHT = 40, 12
GAP = padded("", 2)  # between the table and what stands beside it
FRAME = 15  # rows of a window that are not of the log
TOO_SMALL = f"Too small: {LEAST_WIDTH} columns by {LEAST_HEIGHT} rows are needed."


def screen_lines(
    model: Model, width: int, height: int, signs: Signs, far: bool = False
) -> list[Line]:
    """Exactly ``height`` lines of exactly ``width`` columns."""
    if width < LEAST_WIDTH or height < LEAST_HEIGHT:
        beginning = model.practising and not model.reps
        told = [TOO_SMALL, CAUTION] if beginning else [TOO_SMALL]
        lines = [[piece(line)] for text in told for line in wrapped(text, width)]
        if beginning:
            lines.insert(0, [piece(STOP_AT_PAIN)])
        lines += [[]] * (height - 1 - len(lines))
        lines = [*lines[: max(1, height - 1)], status_line(model, width, signs)]
    elif far:
        lines = far_lines(model, width, height, signs)
        if not model.reps and model.current is None:
            lines[1:-2] = filled(opening_lines(model, width, height - 3), width, height - 3)
    else:
        lines = near_lines(model, width, height, signs)
    return filled(lines, width, height)


def catching_up_lines(
    told_s: float, now_s: float, width: int, height: int, signs: Signs
) -> list[Line]:
    """What stands on the screen until the session so far has been gone through."""
    done = min(told_s / now_s, 1.0) if now_s > 0 else 0.0
    full = round(done * (width - 4))
    text = f"  Catching up with the session: {clock_text(told_s)} of {clock_text(now_s)}"
    bar: Line = [
        piece("  "),
        piece(signs.bar * full, GOOD),
        piece(signs.rule * (width - 4 - full), FAINT),
    ]
    return filled([[], [piece(text)], [], bar, [], [piece("  q stop", FAINT)]], width, height)


def filled(lines: list[Line], width: int, height: int) -> list[Line]:
    """Cut or filled up to exactly that size."""
    lines = [fitted(line, width) for line in lines[:height]]
    return lines + [[Segment(" " * width)]] * (height - len(lines))


def near_lines(model: Model, width: int, height: int, signs: Signs) -> list[Line]:
    """The practice log with its heads above and its tallies below."""
    cell = model.cell
    log = list(model.log)
    shown = log[-max(1, height - FRAME + 2) :]
    slots, strings = (len(cell.slots), len(cell.tuning)) if cell else (0, 6)
    more = len(log) > height - FRAME
    layout = plan(width, slots, strings, *longest(model, shown), more, model.ways.widest)
    top = headline(model, width, signs)
    if height >= 22:
        top.append([])
    heads = model.drawn.of(
        "heads",
        0,
        (cell, layout, signs, model.since_start, model.begins),
        lambda: column_heads(model, layout, signs),
    )
    rule: Line = [piece(" " + signs.rule * (layout.table - 2) + " ", FAINT)]
    foot: list[Line] = [message_line(model, width, signs), status_line(model, width, signs)]
    if height >= 24:
        foot.insert(1, legend_line(width, signs, in_place=model.in_place and layout.slot_width > 2))
    under = [rule]
    if cell and (model.reps or model.current):
        under += [*current_lines(model, layout, signs)]
    if cell and model.reps:
        under += model.drawn.of(
            "tallies",
            0,
            (model.last, model.means, cell, layout, signs),
            lambda: tally_lines(model, layout, signs),
        )
    room = height - len(top) - len(heads) - 1 - len(under) - len(foot)
    if room < 2 and len(heads) > 3:
        heads, room = heads[:3], room + len(heads) - 3
    if room < 1:
        under, room = under[: max(1, len(under) - 2)], room + 2
    opening = [] if model.reps else opening_lines(model, layout.table, max(0, room))
    body, older = log_lines(model, log, layout, signs, max(0, room - len(opening)))
    body = opening + body
    body = (
        [[] for _ in range(room - len(body))] + body
        if model.reps
        else body + [[] for _ in range(room - len(body))]
    )
    table = [*heads, rule, *body, *under]
    if layout.older:
        own = older_lines(model, older, layout.older - 2, len(table), signs)
        table = _beside(table, own, layout.table, layout.older)
        older = older[: -max(1, len(own) - 1)]
    if layout.side:
        panels = _panels(model, layout.side - 2, len(table), signs, older)
        table = _beside(table, panels, width - layout.side, layout.side)
    return [*top, *table, *foot]


def opening_lines(model: Model, width: int, room: int) -> list[Line]:
    """What stands in the log before the first repetition."""
    if model.choice > 1:
        text = (
            f"Play one of the {model.choice} cells round and round: which one it is, is found out "
            "by itself, mostly within two repetitions. Each becomes a line here."
        )
    elif model.cell is None:
        text = "Everything played is being recorded. Choose a cell to have it judged."
    else:
        text = (
            "Play the cell round and round. Each repetition becomes a line here, the newest at "
            "the bottom."
        )
    paragraphs = [wrapped(text, width - 4)]
    if model.opening:
        paragraphs.append(wrapped(model.opening, width - 4))
    if model.practising:
        paragraphs.append(wrapped(CAUTION, width - 4))
    if sum(map(len, paragraphs)) + 2 > room:  # what a small window cuts is not the caution
        paragraphs.reverse()
    lines: list[Line] = []
    for paragraph in paragraphs:
        gap: list[Line] = [[]] if room > 6 else []
        lines += [*gap, *([piece("  " + line, NORMAL)] for line in paragraph)]
    return lines[:room]


def _panels(
    model: Model, width: int, room: int, signs: Signs, older: Sequence[LogItem]
) -> list[Line]:
    """What looks back over the last repetitions: places, unwanted sounds, attacks. One that has
    nothing to tell gives its room to older repetitions, where any wait for it."""
    told = [mean for mean in model.means if mean.mean_ms is not None]
    means, noise = model.means, model.noise_by_string()
    attacks = model.attacks if model.reps else ()
    kept = model.drawn.of
    panels = [
        (
            bool(told),
            kept("ruler", 0, (means, width, signs), lambda: ruler_lines(means, width, signs)),
        ),
        (
            bool(noise),
            kept("strings", 0, (noise, width, signs), lambda: noise_lines(model, width, signs)),
        ),
        (
            any(one.picked or one.hammered for one in attacks),
            kept("bars", 0, (attacks, width, signs), lambda: attack_lines(attacks, width, signs)),
        ),
    ]
    waiting = sum(isinstance(item, Repetition) for item in older)
    lines: list[Line] = []
    for used, own in sorted(panels, key=lambda panel: not panel[0]):
        if own and (used or len(lines) + len(own) + waiting + 2 <= room):
            lines += [*([[]] if lines else []), *own]
    left = room - len(lines) - (1 if lines else 0)
    more = older_lines(model, older, width, left, signs)
    return [*lines, *([[]] if lines and more else []), *more]


def _beside(table: list[Line], panel: list[Line], before: int, width: int) -> list[Line]:
    """A panel of a width to the right of what takes ``before`` columns, as far down as that
    goes."""
    lines: list[Line] = []
    for row, line in enumerate(table):
        right = panel[row] if row < len(panel) else []
        both = [*fitted(line, before), GAP, *fitted(right, width - 2)]
        lines.append(Fitted(both, before + width))
    return lines
