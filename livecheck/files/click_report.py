"""Play against a click as JSON (formats.md), rounded once."""

from __future__ import annotations

from typing import Any

from ..measures.against_click import AgainstClick
from ..measures.stats import Z95
from .values import rounded


def click_to_dict(found: AgainstClick | None) -> dict[str, Any] | None:
    """None where there was too little to tell."""
    if found is None:
        return None
    drift = None
    if found.drift is not None and found.drift_error is not None:
        low, high = (found.drift + side * Z95 * found.drift_error for side in (-1.0, 1.0))
        drift = {"value": round(found.drift, 2), "low": round(low, 2), "high": round(high, 2)}
    return {
        "common_ms": round(found.common, 2),
        "spread_ms": round(found.spread, 2),
        "drift_ms_per_min": drift,
        "places_ms": [rounded(ms, 2) for ms in found.places],
        "notes": found.notes,
        "reps": found.reps,
        "apart": found.apart,
    }
