"""What a player can ask for without a word: by key, pedal, gesture or the control channel."""

from __future__ import annotations

ACTIONS = (
    "again",
    "up",
    "down",
    "pause",
    "mark",
    "next-cell",
    "previous-cell",
    "next-variant",
    "previous-variant",
    "far",
    "stop",
)
