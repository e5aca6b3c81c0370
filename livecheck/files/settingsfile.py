"""The written shape of a player's settings: ``configs/settings.yaml`` in the practice folder.

Owns what may be set, and what holds where nothing is.
"""

from __future__ import annotations

from dataclasses import dataclass

from .written import Written

NEVER = "never"
MINUTES = (0.1, 24 * 60)
KEYS = ("rest", "silence", "lateness")
SHOWN, HIDDEN = "shown", "hidden"


@dataclass(frozen=True, slots=True)
class Settings:
    """What holds in a practice folder. Times in seconds; None: never."""

    rest_s: float | None = 25 * 60.0
    """Time played since the last rest after which one is called for: about five minutes after 25
    (sources.md H-03)."""
    silence_s: float | None = 15 * 60.0
    """A longer silence ends the session: a pause for coffee does not, the next practice does.
    Common practice."""
    lateness: str = SHOWN
    """Whether the screen's signs show early and late by their place, and how notes ring on; a key
    changes it for once."""


def read_settings(top: Written) -> Settings:
    """The settings that were written. Raises BadInput at the first mistake."""
    keys = top.fields("mapping of settings", KEYS, "write `rest: 25` or `silence: 15`")
    usual = Settings()
    return Settings(
        rest_s=_seconds(keys["rest"], "rest") if "rest" in keys else usual.rest_s,
        silence_s=_seconds(keys["silence"], "silence") if "silence" in keys else usual.silence_s,
        lateness=keys["lateness"].choice("word for lateness", (SHOWN, HIDDEN))
        if "lateness" in keys
        else usual.lateness,
    )


def _seconds(minutes: Written, noun: str) -> float | None:
    if minutes.value == NEVER:
        return None
    if isinstance(minutes.value, str):
        raise minutes.no("number of minutes", f"write minutes, or {NEVER}")
    return 60.0 * minutes.number(f"{noun} in minutes", *MINUTES)
