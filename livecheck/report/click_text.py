"""Play against a click in words."""

from __future__ import annotations

from ..measures.against_click import AgainstClick

AUDIBLE_MS = 6.0
"""Smaller distances of a note from its place are not told (measures.md, what can be heard)."""
DRIFTS = 2.0
"""Standard errors from which a drift is told."""


def click_lines(found: AgainstClick | None) -> list[str]:
    """A few sentences; one that says so where there is too little."""
    if found is None:
        return ["Against the click: too few notes followed it to tell."]
    side = "behind" if found.common >= 0.0 else "ahead of"
    lines = [
        f"Against the click ({found.notes} notes): {abs(found.common):.0f} ms {side} it on the "
        "whole, which is no fault (the converter's delay is in it as far as the rig does not know "
        f"it); spread {found.spread:.1f} ms."
    ]
    off = [
        f"note {slot} {abs(ms):.0f} ms {'late' if ms > 0 else 'early'}"
        for slot, ms in enumerate(found.places, 1)
        if ms is not None and abs(ms) >= AUDIBLE_MS
    ]
    if off:
        lines.append(f"Beside that: {', '.join(off)}.")
    if (
        found.drift is not None
        and found.drift_error
        and abs(found.drift) > DRIFTS * found.drift_error
        and abs(found.drift) >= 1.0
    ):
        way = "falling behind" if found.drift > 0 else "running ahead"
        lines.append(f"Drift: {way} by {abs(found.drift):.0f} ms a minute.")
    if found.apart:
        were = "repetition was" if found.apart == 1 else "repetitions were"
        lines.append(f"{found.apart} {were} not played to the click.")
    return lines
