"""The practice log: one repetition a line, newest at the bottom, the one under way beneath it,
tallies last."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from rich.segment import Segment
from rich.style import Style

from ..core.events import Repetition
from ..measures.columns import UNEVEN
from ..measures.sound import RepSound
from .layout import LABEL, STRING, Layout
from .lines import Line, cut, fitted, merged, padded, piece
from .model import Entry, LogItem, Model
from .palette import FAINT, GOOD, MISS, NOISY, NORMAL, SLIP, STRONG, VERDICT_STYLES, Signs
from .places import placed, reach, shifts, under
from .waymarks import Mark
from .words import Said, clean_text, fitting, happened, listed, numbers, sounded

OLDER_LABEL, OLDER_WORDS = 7, 12  # beside the table: columns of a number, least of an outcome
_ENTRY_STYLES = {"mark": STRONG, "gap": MISS}
_LINKS = ("port", "click")


def log_lines(
    model: Model, items: Sequence[LogItem], layout: Layout, signs: Signs, room: int
) -> tuple[list[Line], list[LogItem]]:
    """The end of the log, as much as ``room`` lines hold, oldest first; and what of it is older."""
    given: list[list[Line]] = []
    for item in reversed(items):
        own = (
            _kept_rep_lines(model, item, layout, signs)
            if isinstance(item, Repetition)
            else [entry_line(item, layout, signs)]
        )
        room -= len(own)
        if room < 0:
            break
        given.append(own)
    older = list(items[: len(items) - len(given)])
    return [line for own in reversed(given) for line in own], older


def _kept_rep_lines(model: Model, rep: Repetition, layout: Layout, signs: Signs) -> list[Line]:
    """The lines of a repetition, drawn once for each layout."""
    sound, in_place, way = model.sound_of(rep.rep), model.in_place, model.ways.of(rep.rep)
    return model.drawn.of(
        "row",
        rep.rep,
        (rep, sound, layout, signs, in_place, way),
        lambda: rep_lines(rep, layout, signs, sound, in_place, way),
    )


def older_lines(
    model: Model, items: Sequence[LogItem], width: int, room: int, signs: Signs
) -> list[Line]:
    """Repetitions that the log has no room for, the newest of them at the bottom: number, signs,
    outcome. Nothing where the outcome would have no room."""
    reps = [item for item in items if isinstance(item, Repetition)]
    if room < 2 or not reps:
        return []
    reps = reps[1 - room :]
    slots = max(len(rep.cell.slots) for rep in reps)
    words = width - OLDER_LABEL - slots - 2
    if words < OLDER_WORDS:
        return []
    lines = [fitted([piece(" earlier repetitions", FAINT)], width)]
    for rep in reps:
        lines.append(
            model.drawn.of(
                "older",
                rep.rep,
                (rep, model.sound_of(rep.rep), words, slots, signs),
                partial(_older_line, model, rep, slots, words, signs),
            )
        )
    return lines


def _older_line(model: Model, rep: Repetition, slots: int, words: int, signs: Signs) -> Line:
    said = said_of(rep, False, signs, model.sound_of(rep.rep))
    line = [
        padded(f"{rep.rep} ", OLDER_LABEL, FAINT, right=True),
        *(
            piece(signs.verdict(one.verdict), VERDICT_STYLES.get(one.verdict, FAINT))
            for one in rep.slots
        ),
        piece(" " * (slots - len(rep.slots) + 2)),
        piece(listed(said, words, signs.more), GOOD if rep.clean else NORMAL),
    ]
    return merged(fitted(line, OLDER_LABEL + slots + 2 + words))


def entry_line(entry: Entry, layout: Layout, signs: Signs) -> Line:
    """A mark, a take's beginning, a change of the link: set between the repetitions."""
    said = f"mark: {entry.text}" if entry.kind == "mark" else entry.text
    text = cut(said, layout.table - LABEL - 4, signs.more)
    style = SLIP if entry.kind in _LINKS and not entry.up else _ENTRY_STYLES.get(entry.kind, FAINT)
    return fitted([piece(" " * (LABEL - 1)), piece(f"{signs.rule} {text}", style)], layout.table)


def rep_lines(
    rep: Repetition,
    layout: Layout,
    signs: Signs,
    sound: RepSound | None = None,
    in_place: bool = True,
    way: Mark | None = None,
) -> list[Line]:
    """A finished repetition; a long cell takes several lines, the figures stand on the first."""
    number = padded(f"{rep.rep} ", LABEL, NORMAL, right=True)
    marks = [
        (signs.verdict(one.verdict), VERDICT_STYLES.get(one.verdict, FAINT)) for one in rep.slots
    ]
    by = shifts(rep, layout.slot_width) if in_place else []
    rings = [slot - 1 for slot in sound.rings] if in_place and sound is not None else []
    lines = _slot_lines(number, marks, layout, signs, by, rings)
    noise = sounded(rep)
    first = lines[0]
    if layout.noise:
        first.append(piece("  "))
        for string in range(1, layout.strings + 1):
            count = noise.get(string, 0)
            text = signs.dot if not count else str(count) if count < 10 else "+"
            first.append(padded(text, STRING, NOISY if count else FAINT))
    elif layout.gap:
        first.append(piece(" "))
    for column in layout.columns:
        audible = column is UNEVEN and rep.evenness.audible
        text = column.text(rep) or signs.dash
        text += signs.uneven if audible else " "
        first.append(padded(text, column.width, STRONG if audible else NORMAL, right=True))
    if layout.way:
        letter, name = way or (" ", " ")
        text = clean_text(name) if len(name) <= layout.way - 2 else letter
        first.append(padded(text + " ", layout.way, STRONG, right=True))
    words = listed(said_of(rep, layout.noise > 0, signs, sound), layout.words - 2, signs.more)
    first += [piece("  "), piece(words, GOOD if rep.clean else NORMAL)]
    return [merged(fitted(line, layout.table)) for line in lines]


def said_of(
    rep: Repetition, by_string: bool, signs: Signs, sound: RepSound | None = None
) -> list[Said]:
    """The outcome in words. by_string: the strings have columns that show which of them sounded."""
    return happened(rep, signs.times, not by_string, sound)


def longest(model: Model, items: Sequence[LogItem]) -> tuple[int, int]:
    """Columns of the longest outcome, in its shorter and in its full wording."""
    short = full = 0
    for item in items:
        if isinstance(item, Repetition):
            sound = model.sound_of(item.rep)
            own = model.drawn.of("said", item.rep, (item, sound), partial(_lengths, item, sound))
            short, full = max(short, own[0]), max(full, own[1])
    return short, full


def _lengths(rep: Repetition, sound: RepSound | None) -> tuple[int, int]:
    said = happened(rep, "x", True, sound)
    return (
        len(", ".join(one.short for one in said)),
        len(", ".join(one.long for one in said)),
    )


def current_lines(model: Model, layout: Layout, signs: Signs) -> list[Line]:
    """The repetition under way; what is not yet certain is pending."""
    if model.current is None:
        return [fitted([piece("")], layout.table)] * layout.lines
    rep, verdicts = model.current
    number = padded(f"{rep} ", LABEL, STRONG, right=True)
    struck = len(model.struck)
    marks = []
    for verdict in verdicts:
        if verdict is None and struck > 0:
            struck -= 1
            marks.append((signs.struck, STRONG))
        else:
            marks.append((signs.verdict(verdict), VERDICT_STYLES.get(verdict or "", FAINT)))
    lines = _slot_lines(number, marks, layout, signs)
    lines[0].append(piece("  now", FAINT))
    if struck > 0:  # they are of the next repetition
        lines[0].append(piece(f"  {signs.struck * min(struck, layout.words)}", STRONG))
    return [fitted(line, layout.table) for line in lines]


def _slot_lines(
    number: Segment,
    marks: Sequence[tuple[str, Style]],
    layout: Layout,
    signs: Signs,
    by: Sequence[int] = (),
    rings: Sequence[int] = (),
) -> list[Line]:
    """The signs of a repetition in their columns, on as many lines as the cell takes."""
    wide, each = layout.slot_width, layout.per_line
    lines: list[Line] = []
    for first in range(0, max(layout.slots, 1), each):
        own = marks[first : first + each]
        line = placed(
            own,
            wide,
            signs,
            by[first : first + each],
            [at - first for at in rings if first <= at < first + each],
        )
        blank = (each - len(own)) * wide
        lines.append([number if first == 0 else piece(" " * LABEL), *line, piece(" " * blank)])
    return lines


def tally_lines(model: Model, layout: Layout, signs: Signs) -> list[Line]:
    """Beneath the slots: in how many of the last repetitions each failed, and how early or late it
    lies on average."""
    wide = layout.slot_width
    failed, lean = [padded(" failed", LABEL, FAINT)], [padded(" ms", LABEL, FAINT)]
    count = len(model.recent)
    faults = model.faults_by_slot()
    means = {mean.slot: mean for mean in model.means}
    for slot in range(1, min(layout.slots, layout.per_line) + 1):
        n = faults.get(slot, 0)
        text = (str(n) if n < 10 or wide > 2 else "+") if n else signs.dot
        failed.append(piece(under(text, wide), STRONG if n else FAINT))
        mean = means.get(slot)
        if mean is None or mean.mean_ms is None:
            lean.append(piece(under(signs.dot, wide), FAINT))
        elif wide >= 3:
            figure = str(round(mean.mean_ms))
            if len(figure) > wide - reach(wide):
                figure = signs.early if mean.mean_ms < 0 else signs.late
            lean.append(piece(under(figure, wide), SLIP if mean.lean else NORMAL))
        else:
            sign = {"early": signs.early, "late": signs.late}.get(mean.lean or "", signs.dot)
            lean.append(piece(under(sign, wide), SLIP if mean.lean else FAINT))
    room = layout.table - LABEL - layout.per_line * wide - 3
    failed.append(piece("  " + fitting([f"in the last {count}"] if count else [], room), FAINT))
    lean.append(piece("  " + fitting(lean_words(model), room), FAINT))
    return [fitted(failed, layout.table), fitted(lean, layout.table)]


def lean_words(model: Model) -> list[str]:
    """Which slots come audibly early or late, at length and shorter."""
    if not any(mean.mean_ms is not None for mean in model.means):
        return ["early or late: too few yet", "too few yet"] if model.reps else []
    found = [
        (lean, slots)
        for lean in ("early", "late")
        if (slots := [mean.slot for mean in model.means if mean.lean == lean])
    ]
    if not found:
        return ["early is minus; none surely audible", "none surely audible", "none sure"]
    return [
        "; ".join(f"audibly {lean}: {numbers(slots)}" for lean, slots in found),
        "; ".join(f"{lean}: {numbers(slots)}" for lean, slots in found),
        "; ".join(f"{lean} {','.join(map(str, slots))}" for lean, slots in found),
        "; ".join(f"{len(slots)} {lean}" for lean, slots in found),
    ]
