"""How a cell sounds, in lines: attack bars a slot, what happened on the strings passed over,
strings left ringing."""

from __future__ import annotations

from collections.abc import Sequence

from ..core.cell import Cell
from ..measures.noise.passed_over import BRUSHED, CUT_OFF, SILENT, STRUCK, StringShare
from ..measures.noise.ring_over import RingOver
from ..measures.profile import SlotAttack
from .lines import Line, fitted, padded, piece
from .palette import FAINT, GOOD, NOISY, NORMAL, SLIP, Signs
from .words import TOUCHES

MOST_ATTACK = 1.6
"""Right end of the attack scale, as a multiple of the usual."""
FEW = 10
LABEL, NARROW_LABEL, MEAN, LEAST_SCALE = 12, 6, 5, 6


def attack_lines(attacks: Sequence[SlotAttack], width: int, signs: Signs) -> list[Line]:
    """A bar a slot: its mean attack against the usual (the upright), its plan, and how its strokes
    were told. Where there is little room the plan is left out and the counts are put shorter."""
    if not attacks:
        return []
    known = any(one.picked or one.hammered for one in attacks)
    label, told = LABEL, [told_words(one) if known else "" for one in attacks]
    if width - LABEL - MEAN - 2 - max(map(len, told)) < LEAST_SCALE:
        label, told = (
            NARROW_LABEL,
            [told_words(one, short=True) if known else "" for one in attacks],
        )
    scale = max(LEAST_SCALE, width - label - MEAN - 2 - max(map(len, told)))
    usual = round(scale / MOST_ATTACK)
    head = " note  plan".ljust(LABEL) if label == LABEL else " note "
    lines = [fitted([piece(head, FAINT), piece("attack, | usual", FAINT)], width)]
    for one, words in zip(attacks, told):
        style = SLIP if one.against_plan else GOOD
        plan = f" {'pick' if one.planned == 'picked' else 'none':>4}" if label == LABEL else ""
        line: Line = [padded(f"{one.slot:5}{plan} ", label)]
        if one.mean is None:
            line.append(padded(f"too few ({one.count})", scale + MEAN, FAINT))
        else:
            line += _bar(one.mean, scale, usual, signs)
            line.append(piece(f" {one.mean:.2f}"))
        line.append(piece(f"  {words}", style if one.against_plan else NORMAL))
        lines.append(fitted(line, width))
    return lines


def told_words(one: SlotAttack, short: bool = False) -> str:
    """``18 picked, 2 hammered``, shorter ``2 of 20 hammered``; that nothing could be told."""
    counts = [(one.picked, "picked"), (one.hammered, "hammered")]
    there = [(count, what) for count, what in counts if count]
    if short and len(there) == 2:
        count, what = there[1 if one.planned == "picked" else 0]
        return f"{count} of {one.picked + one.hammered} {what}"
    return ", ".join(f"{count} {what}" for count, what in there) or "cannot tell"


def _bar(mean: float, scale: int, usual: int, signs: Signs) -> Line:
    filled = min(scale, max(1, round(mean / MOST_ATTACK * scale)))
    text = "".join(
        signs.bar if at < filled else signs.upright if at == usual else " " for at in range(scale)
    )
    return [piece(text, GOOD)]


def string_lines(shares: Sequence[StringShare], width: int) -> list[Line]:
    """A line a string that was passed over or watched: counts of each kind, and the share that was
    touched.

    Where there is no room for the share beside the counts, it stands below them.
    """
    if not shares:
        return []
    kinds = (SILENT, BRUSHED, STRUCK, CUT_OFF)
    unsure = any(share.cannot_tell for share in shares)
    head = (
        f" string  {'of':>5}"
        + "".join(f"{TOUCHES.get(kind, kind).removeprefix('sounded '):>8}" for kind in kinds)
        + (f"{'unsure':>8}" if unsure else "")
    )
    touched = [_touched(share) for share in shares]
    below = width < len(head) + 2 + max(map(len, touched))
    lines = [fitted([piece(head if below else f"{head}  touched", FAINT)], width)]
    for share, text in zip(shares, touched):
        counts = "".join(f"{share.counts[kind]:8}" for kind in kinds) + (
            f"{share.cannot_tell:8}" if unsure else ""
        )
        first = piece(f"{share.string:7}  {share.of:5}{counts}")
        last = piece(text, NOISY if share.counts[SILENT] < share.of - share.cannot_tell else NORMAL)
        if below:
            lines += [fitted([first], width), fitted([piece(" " * 9 + "touched "), last], width)]
        else:
            lines.append(fitted([first, piece("  "), last], width))
    if unsure:
        lines.append(
            fitted([piece(" unsure: two of these fit what was heard about as well", FAINT)], width)
        )
    return lines


def _touched(share: StringShare) -> str:
    """``25 % (11 to 47)``, of few ``1 of 5``: how often a string was touched of the times that
    could be told."""
    told = share.of - share.cannot_tell
    touched = told - share.counts[SILENT]
    text = f"{touched} of {told}"
    if told >= FEW and share.touched_low is not None and share.touched_high is not None:
        text = (
            f"{100 * touched / told:.0f} % ({100 * share.touched_low:.0f} to "
            f"{100 * share.touched_high:.0f})"
        )
    return text + ("  quiet" if share.watched else "")


def ring_lines(rings: Sequence[RingOver], cell: Cell, width: int) -> list[Line]:
    """A line a crossing: how long the string left behind rang on beyond its usual note-off, median
    and worst."""
    from statistics import median

    by_crossing: dict[tuple[int, int], list[float]] = {}
    for one in rings:
        by_crossing.setdefault((one.before, one.after), []).append(one.ring_over_ms)
    if not by_crossing:
        return []
    lines = [fitted([piece(" notes   string left  rings over ms: median  longest", FAINT)], width)]
    for (before, after), values in sorted(by_crossing.items()):
        string = cell.slots[before - 1].string
        text = f"{before:3} to {after:<3} {string:10}  {median(values):22.0f}  {max(values):7.0f}"
        lines.append(fitted([piece(text)], width))
    return lines
