"""What is told of a cell's parts, in words."""

from __future__ import annotations

from ..core.parts import told
from ..measures.climb.parts import JOINING, LOCAL, PartTold


def part_line(part: PartTold) -> str:
    """``Notes 4-5 alone hold to 180 bpm, inside to 141: it is the joining.``"""
    name = f"Notes {told(part.notes)}"
    inside = f"{part.inside.bpm:.0f} bpm"
    beyond = part.alone.bpm > part.fastest[0]
    alone = f"beyond {part.fastest[0]:.0f} bpm" if beyond else f"{part.alone.bpm:.0f} bpm"
    if part.why == JOINING:
        to = alone if beyond else f"to {alone}"
        return f"{name} alone hold {to}, inside to {inside}: it is the joining."
    if part.why == LOCAL:
        return f"{name} break alone at {alone}, inside at {inside}: it is the notes themselves."
    return (
        f"{name} alone: {part.reps[0]} repetitions, inside {part.reps[1]}: not sure yet whether it "
        "is the notes or the joining."
    )
