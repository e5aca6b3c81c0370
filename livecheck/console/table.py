"""The practice log: one repetition a line, newest at the bottom, the one under way beneath it,
tallies last."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rich.segment import Segment

from ..core.events import Repetition
from ..measures.columns import UNEVEN
from ..measures.sound import RepSound
from .header import centred
from .layout import LABEL, STRING, Layout
from .lines import Line, cut, fitted, padded, piece
from .model import Entry, LogItem, Model
from .palette import FAINT, GOOD, MISS, NOISY, NORMAL, SLIP, STRONG, VERDICT_STYLES, Signs
from .words import Said, happened, listed, numbers, sounded

_ENTRY_STYLES = {"mark": STRONG, "port": SLIP, "gap": MISS}


def log_lines(
    items: Sequence[LogItem],
    layout: Layout,
    signs: Signs,
    room: int,
    sounds: Mapping[int, RepSound],
) -> list[Line]:
    """The end of the log, as much as ``room`` lines hold, oldest first. ``sounds`` by number of the
    repetition."""
    lines: list[Line] = []
    for item in reversed(items):
        if isinstance(item, Repetition):
            given = rep_lines(item, layout, signs, sounds.get(item.rep))
        else:
            given = [entry_line(item, layout, signs)]
        if len(lines) + len(given) > room:
            break
        lines = given + lines
    return lines


def entry_line(entry: Entry, layout: Layout, signs: Signs) -> Line:
    """A mark, a take's beginning, a change of the link: set between the repetitions."""
    said = f"mark: {entry.text}" if entry.kind == "mark" else entry.text
    text = cut(said, layout.table - LABEL - 4, signs.more)
    style = _ENTRY_STYLES.get(entry.kind, FAINT)
    return fitted([piece(" " * (LABEL - 1)), piece(f"{signs.rule} {text}", style)], layout.table)


def rep_lines(
    rep: Repetition, layout: Layout, signs: Signs, sound: RepSound | None = None
) -> list[Line]:
    """A finished repetition; a long cell takes several lines, the figures stand on the first."""
    verdicts = [result.verdict for result in rep.slots]
    number = padded(f"{rep.rep} ", LABEL, NORMAL, right=True)
    lines = _slot_lines(number, verdicts, len(verdicts), layout, signs)
    noise = sounded(rep)
    first = lines[0]
    if layout.noise:
        first.append(piece("  "))
        for string in range(1, layout.strings + 1):
            count = noise.get(string, 0)
            text = signs.dot if not count else str(count) if count < 10 else "+"
            first.append(padded(text, STRING, NOISY if count else FAINT))
    for column in layout.columns:
        audible = column is UNEVEN and rep.evenness.audible
        text = column.text(rep) or signs.dash
        text += signs.uneven if audible else " "
        first.append(padded(text, column.width, STRONG if audible else NORMAL, right=True))
    words = listed(said_of(rep, layout.noise > 0, signs, sound), layout.words - 2, signs.more)
    first += [piece("  "), piece(words, GOOD if rep.clean else NORMAL)]
    return [fitted(line, layout.table) for line in lines]


def said_of(
    rep: Repetition, by_string: bool, signs: Signs, sound: RepSound | None = None
) -> list[Said]:
    """The outcome in words. by_string: the strings have columns that show which of them sounded."""
    return happened(rep, signs.times, not by_string, sound)


def longest(
    items: Sequence[LogItem], signs: Signs, sounds: Mapping[int, RepSound]
) -> tuple[int, int]:
    """Columns of the longest outcome, in its shorter and in its full wording."""
    short = full = 0
    for item in items:
        if isinstance(item, Repetition):
            said = said_of(item, False, signs, sounds.get(item.rep))
            short = max(short, len(", ".join(one.short for one in said)))
            full = max(full, len(", ".join(one.long for one in said)))
    return short, full


def current_lines(model: Model, layout: Layout, signs: Signs) -> list[Line]:
    """The repetition under way; what is not yet certain is pending."""
    if model.current is None:
        return [fitted([piece(" " * LABEL), piece("")], layout.table)] * layout.lines
    rep, verdicts = model.current
    number = padded(f"{rep} ", LABEL, STRONG, right=True)
    lines = _slot_lines(number, verdicts, layout.slots, layout, signs, len(model.struck))
    lines[0].append(piece("  now", FAINT))
    later = len(model.struck) - verdicts.count(None)  # they are of the next repetition
    if later > 0:
        lines[0].append(piece(f"  {signs.struck * min(later, layout.words)}", STRONG))
    return [fitted(line, layout.table) for line in lines]


def _slot_lines(
    number: Segment,
    verdicts: Sequence[str | None],
    slots: int,
    layout: Layout,
    signs: Signs,
    struck: int = 0,
) -> list[Line]:
    """struck: so many of the first pending slots were struck and are not certain yet."""
    wide, each = layout.slot_width, layout.per_line
    pending = [slot for slot, verdict in enumerate(verdicts) if verdict is None]
    open_slots = set(pending[:struck])
    lines: list[Line] = []
    for first in range(0, max(slots, layout.slots, 1), each):
        line: Line = [number if first == 0 else piece(" " * LABEL)]
        for slot in range(first, first + each):
            if slot < len(verdicts):
                verdict = verdicts[slot]
                open_one = slot in open_slots
                sign = signs.struck if open_one else signs.verdict(verdict)
                style = STRONG if open_one else VERDICT_STYLES.get(verdict or "", FAINT)
                line.append(piece(centred(sign, wide).ljust(wide), style))
            else:
                line.append(piece(" " * wide))
        lines.append(line)
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
        failed.append(padded(centred(text, wide), wide, STRONG if n else FAINT))
        mean = means.get(slot)
        if mean is None or mean.mean_ms is None:
            lean.append(padded(centred(signs.dot, wide), wide, FAINT))
        elif wide >= 3:
            figure = str(round(mean.mean_ms))
            text = (
                figure if len(figure) < wide else (signs.early if mean.mean_ms < 0 else signs.late)
            )
            lean.append(padded(centred(text, wide), wide, SLIP if mean.lean else NORMAL))
        else:
            sign = {"early": signs.early, "late": signs.late}.get(mean.lean or "", signs.dot)
            lean.append(padded(centred(sign, wide), wide, SLIP if mean.lean else FAINT))
    failed.append(piece(f"  in the last {count}" if count else "", FAINT))
    lean.append(piece(f"  {lean_words(model)}", FAINT))
    return [fitted(failed, layout.table), fitted(lean, layout.table)]


def lean_words(model: Model) -> str:
    """Which slots come audibly early or late."""
    if not any(mean.mean_ms is not None for mean in model.means):
        return "early or late: too few yet" if model.reps else ""
    told = []
    for lean in ("early", "late"):
        if slots := [mean.slot for mean in model.means if mean.lean == lean]:
            told.append(f"audibly {lean}: {numbers(slots)}")
    return "; ".join(told) or "early is minus; none surely audible"
