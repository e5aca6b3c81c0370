"""The written shape of a player's settings: ``configs/settings.yaml`` in the practice folder.

Owns what may be set, and what holds where nothing is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..core.actions import ACTIONS
from ..core.cues import USUAL as USUAL_CUES
from ..core.cues import Tone, tones_from
from ..core.gestures import MOST_FRET, MOST_GESTURES, MOST_PICKS, Gesture
from ..core.gestures import USUAL as USUAL_GESTURES
from ..core.hands import Mapped
from ..core.pedal import switch_from
from ..errors import BadInput
from .written import MOST_STRINGS, Written

NEVER, LOWEST = "never", "lowest"
MINUTES = (0.1, 24 * 60)
KEYS = ("rest", "silence", "lateness", "pedals", "pedal_port", "gestures", "cues", "cue_port")
SHOWN, HIDDEN = "shown", "hidden"
MOST_PEDALS = 64


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
    pedals: tuple[Mapped, ...] = ()
    """Switches and what they ask for."""
    pedal_port: str | None = None
    """The pedal's own MIDI input; None: it comes with the guitar."""
    gestures: tuple[Gesture, ...] = USUAL_GESTURES
    """Where the guitar is listened to for them."""
    cues: Mapping[str, tuple[Tone, ...]] = field(default_factory=lambda: USUAL_CUES)
    """What each word sounds like."""
    cue_port: str | None = None
    """MIDI output on which a recorder that runs by itself calls for a rest; None: it is silent."""


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
        pedals=_pedals(keys["pedals"]) if "pedals" in keys else usual.pedals,
        pedal_port=_port(keys.get("pedal_port"), "pedal's port"),
        gestures=_gestures(keys["gestures"]) if "gestures" in keys else usual.gestures,
        cues={**usual.cues, **_cues(keys["cues"])} if "cues" in keys else usual.cues,
        cue_port=_port(keys.get("cue_port"), "port of the cues"),
    )


def _port(written: Written | None, noun: str) -> str | None:
    return None if written is None else written.words(noun)


def _pedals(written: Written) -> tuple[Mapped, ...]:
    mend = "write `control 64: up`, `program 3 channel 16: again` or `2x control 64: stop`"
    found = written.pairs("mapping of switches", mend)
    if len(found) > MOST_PEDALS:
        raise written.wrong(f"{len(found)} switches", f"write at most {MOST_PEDALS}")
    pedals = []
    for switch, action in found.items():
        try:
            pedals.append((*switch_from(switch), action.choice("action", ACTIONS)))
        except BadInput as error:
            if str(error).startswith(action.source):
                raise
            raise action.wrong("no switch", mend) from error
    return tuple(pedals)


def _gestures(written: Written) -> tuple[Gesture, ...]:
    mend = "write `- {string: lowest, fret: 0, picks: 3, action: up}`"
    listed = written.entries("list of gestures", mend)
    if len(listed) > MOST_GESTURES:
        raise written.wrong(f"{len(listed)} gestures", f"write at most {MOST_GESTURES}")
    gestures: dict[tuple[int | None, int, int], Gesture] = {}
    for entry in listed:
        keys = entry.fields("gesture", ("string", "fret", "picks", "action"), mend)
        missing = next(
            (key for key in ("string", "fret", "picks", "action") if key not in keys), None
        )
        if missing is not None:
            raise entry.wrong(f"{missing} is missing", mend)
        lowest = keys["string"].value == LOWEST
        one = Gesture(
            None
            if lowest
            else keys["string"].whole(
                "string", 1, MOST_STRINGS, f"write `{LOWEST}` or a number from 1 to {MOST_STRINGS}"
            ),
            keys["fret"].whole("fret", 0, MOST_FRET),
            keys["picks"].whole("number of picks", 2, MOST_PICKS),
            keys["action"].choice("action", ACTIONS),
        )
        place = one.string, one.fret, one.picks
        if place in gestures:
            raise entry.wrong("the same gesture stands here twice", "take one of them out")
        gestures[place] = one
    return tuple(gestures.values())


def _cues(written: Written) -> dict[str, tuple[Tone, ...]]:
    mend = "write `up: [[0, 68, 100], [110, 67, 100]]`: milliseconds, note, velocity"
    found = written.fields("mapping of cues", tuple(USUAL_CUES), mend)
    cues = {}
    for word, tones in found.items():
        listed = tones.entries("list of notes", mend)
        told = [[part.value for part in one.entries("note", mend)] for one in listed]
        try:
            cues[word] = tuple(tones_from(told))
        except BadInput as error:
            raise tones.wrong(str(error).removeprefix("cue: "), mend) from error
    return cues


def _seconds(minutes: Written, noun: str) -> float | None:
    if minutes.value == NEVER:
        return None
    if isinstance(minutes.value, str):
        raise minutes.no("number of minutes", f"write minutes, or {NEVER}")
    return 60.0 * minutes.number(f"{noun} in minutes", *MINUTES)
