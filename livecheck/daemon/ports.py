"""Choose the converter's port among the names the system gives.

Pure: names come in, an index or one clear line comes out.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from ..errors import BadInput, NoDevice

SOUND = "sound card"  # asked for in the place of a MIDI output (``sound_out.py``)
OWN = "livecheck"  # how our own clients are called; they are never a source
# client and port number, which change from one plugging in to the next
_ALSA_NUMBERS = re.compile(r"\s+\d+:\d+$")
_THROUGH = re.compile(r"midi through", re.IGNORECASE)


def plain_name(name: str) -> str:
    """A port's name as it stays from one plugging in to the next.

    >>> plain_name("Hex Converter:Hex Converter MIDI 1 20:0")
    'Hex Converter:Hex Converter MIDI 1'
    """
    return _ALSA_NUMBERS.sub("", name)


def usable(names: Sequence[str]) -> list[int]:
    """Which of the ports may be a converter: not our own ones, nor the system's loop-through."""
    return [
        at
        for at, name in enumerate(names)
        if not name.startswith(OWN) and not _THROUGH.search(name)
    ]


def matcher(wanted: str) -> re.Pattern[str]:
    """What a rig's ``port`` means: part of a name in any case, or ``/a regular expression/``.

    Raises BadInput for an expression that is none.
    """
    if len(wanted) > 2 and wanted.startswith("/") and wanted.endswith("/"):
        try:
            return re.compile(wanted[1:-1], re.IGNORECASE)
        except re.error as error:
            raise BadInput(f"port {wanted}: no regular expression: {error}") from error
    return re.compile(re.escape(wanted), re.IGNORECASE)


def choose(names: Sequence[str], wanted: str | None, before: str | None = None) -> int:
    """The index of the port to listen to.

    names: as the driver lists them. wanted: part of a name or /expression/; None takes the only one
    there is.
    before: the port that was open last; where several fit, it is preferred.
    Raises NoDevice where none fits or several do.
    """
    fits = _fitting(names, wanted, before)
    if len(fits) == 1:
        return fits[0]
    raise NoDevice(_why_not(names, wanted, fits))


def choose_output(names: Sequence[str], wanted: str | None, before: str | None = None) -> int:
    """The index of the port to send the click to; otherwise as ``choose``."""
    fits = _fitting(names, wanted, before)
    if len(fits) == 1:
        return fits[0]
    if fits:
        which = f' match "{wanted}"' if wanted is not None else " could take the click"
        raise NoDevice(
            f"several MIDI outputs{which}: {_listed([names[at] for at in fits])}; give more of "
            "the name"
        )
    none = (
        f'no MIDI output matches "{wanted}"'
        if wanted is not None
        else "there is no MIDI output for the click"
    )
    there = (
        f"there are: {_listed([names[at] for at in usable(names)])}"
        if usable(names)
        else "there is none at all"
    )
    raise NoDevice(
        f"{none}; {there}. Start what is to sound the click (a drum sound on MIDI channel 10)"
    )


def _fitting(names: Sequence[str], wanted: str | None, before: str | None) -> list[int]:
    fits = usable(names)
    if wanted is not None:
        pattern = matcher(wanted)
        fits = [at for at in fits if pattern.search(plain_name(names[at]))]
        exact = [at for at in fits if plain_name(names[at]) == wanted]
        fits = exact or fits
    if len(fits) > 1 and before is not None:
        same = [at for at in fits if names[at] == before] or [
            at for at in fits if plain_name(names[at]) == plain_name(before)
        ]
        fits = same or fits
    return fits


def _why_not(names: Sequence[str], wanted: str | None, fits: Sequence[int]) -> str:
    remedy = "choose one by --port NAME or `port:` in the rig"
    if fits:
        hits = _listed([names[at] for at in fits])
        if wanted is None:
            return f"there are several MIDI ports: {hits}; {remedy}"
        return f'several MIDI ports match "{wanted}": {hits}; give more of the name'
    if wanted is None:
        there = f"; there are only: {_listed(names)}" if names else ""
        return f"there is no MIDI port to listen to{there}. Plug the converter in and switch it on"
    there = f"there are: {_listed(names)}" if names else "there is none at all"
    return (
        f'no MIDI port matches "{wanted}"; {there}. Plug the converter in or change `port:` in '
        "the rig"
    )


def _listed(names: Sequence[str]) -> str:
    return ", ".join(f'"{plain_name(name)}"' for name in names)
