"""What a player can ask for without a word: by key, pedal, gesture or the control channel."""

from __future__ import annotations

CELLS, VARIANTS = ("next-cell", "previous-cell"), ("next-variant", "previous-variant")
"""Another cell, another variant of it: forth and back."""

ACTIONS = ("again", "up", "down", "pause", "mark", *CELLS, *VARIANTS, "far", "stop")
