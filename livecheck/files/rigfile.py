"""The written shape of a rig: from checked values to a Rig and back.

Owns every rule about what a rig may hold. The journal keeps rigs in the same shape.
"""

from __future__ import annotations

import re
import warnings
from typing import Any

from ..core.pitch import name_of
from ..core.rig import Delay, Gate, Rig
from .written import MOST_STRINGS, Written, shown, tuning_of

KEYS = ("name", "port", "channels", "tuning", "bend_range", "delay", "delay_ms", "gate")

BEND_RANGE = (1, 96)  # semitones
DELAY_MS = (0, 200)
PERIODS = (0, 10)
GATE_MS = (0, 500)


def read_rig(top: Written, default_name: str) -> Rig:
    """The rig that was written. Raises BadInput at the first mistake."""
    keys = top.fields("rig", KEYS, "write `name:`, `port:` and `channels:`")
    usual = Rig()
    channels = _channels(keys["channels"]) if "channels" in keys else usual.channels
    tuning = tuning_of(keys["tuning"]) if "tuning" in keys else None
    if tuning is not None and len(tuning) != len(channels):
        problem = f"the tuning has {len(tuning)} strings and there are {len(channels)} channels"
        raise keys["tuning"].wrong(problem, "give each string its channel")
    return Rig(
        name=keys["name"].words("name") if "name" in keys else default_name,
        port=_port(keys["port"]) if "port" in keys else None,
        channels=channels,
        tuning=tuning,
        bend_range=keys["bend_range"].number("bend range", *BEND_RANGE)
        if "bend_range" in keys
        else usual.bend_range,
        delay=_delay(keys, len(channels)),
        gate=_gate(keys["gate"]) if "gate" in keys else usual.gate,
    )


def write_rig(rig: Rig) -> dict[str, Any]:
    """The public shape of a rig."""
    data: dict[str, Any] = {"name": rig.name}
    if rig.port is not None:
        data["port"] = rig.port
    data["channels"] = list(rig.channels)
    if rig.tuning is not None:
        data["tuning"] = [name_of(pitch) for pitch in rig.tuning]
    data["bend_range"] = _plain(rig.bend_range)
    if rig.delay.per_string_ms is not None:
        data["delay_ms"] = [_plain(delay_ms) for delay_ms in rig.delay.per_string_ms]
    else:
        data["delay"] = {
            "fixed_ms": _plain(rig.delay.fixed_ms),
            "periods": _plain(rig.delay.periods),
        }
    data["gate"] = {"velocity": rig.gate.velocity, "length_ms": _plain(rig.gate.length_ms)}
    return data


def _plain(number: float) -> float:
    """A whole number without its point, as a person would write it."""
    return int(number) if number == int(number) else number


def _channels(channels: Written) -> tuple[int, ...]:
    entries = channels.entries(
        "list of channels", "write string 1's channel first: [1, 2, 3, 4, 5, 6]"
    )
    if not 1 <= len(entries) <= MOST_STRINGS:
        raise channels.wrong(
            f"{len(entries)} channels", f"give 1 to {MOST_STRINGS}, one for each string"
        )
    numbers: list[int] = []
    for entry in entries:
        number = entry.whole("channel", 1, 16, "channels are written 1 to 16")
        if number in numbers:
            raise entry.wrong(
                f"channel {number} stands here twice", "each string has a channel of its own"
            )
        numbers.append(number)
    return tuple(numbers)


def _port(port: Written) -> str:
    """Part of a port's name, or a /regular expression/ that compiles."""
    text = port.words("port's name", 200)
    if not text.startswith("/"):
        return text
    if len(text) < 3 or not text.endswith("/"):
        raise port.wrong(
            "the regular expression is empty or not closed", "write it between slashes: /Hex.*1/"
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            re.compile(text[1:-1])
    except (re.error, OverflowError, RecursionError) as error:
        reason = " ".join(str(error).split())
        mend = "mend it, or write a part of the port's name without slashes"
        raise port.wrong(f"{shown(text)} is no regular expression ({reason})", mend) from None
    return text


def _delay(keys: dict[str, Written], strings: int) -> Delay:
    """The conversion delay: a model or a constant for each string, never both."""
    if "delay" in keys and "delay_ms" in keys:
        raise keys["delay_ms"].wrong(
            "delay and delay_ms stand beside each other", "keep one of the two"
        )
    if "delay_ms" in keys:
        return Delay(per_string_ms=_delay_ms(keys["delay_ms"], strings))
    if "delay" not in keys:
        return Delay()
    mend = "write {fixed_ms: 4.0, periods: 1.6}, or `delay_ms:` with a list"
    parts = keys["delay"].fields("delay", ("fixed_ms", "periods"), mend)
    if not parts:
        raise keys["delay"].wrong("the delay is empty", mend)
    return Delay(
        fixed_ms=parts["fixed_ms"].number("fixed_ms", *DELAY_MS) if "fixed_ms" in parts else 0.0,
        periods=parts["periods"].number("periods", *PERIODS) if "periods" in parts else 0.0,
    )


def _delay_ms(delay_ms: Written, strings: int) -> tuple[float, ...]:
    entries = delay_ms.entries(
        "list of delays", "write one for each string, as in [6, 7, 9, 12, 15, 20]"
    )
    if len(entries) != strings:
        raise delay_ms.wrong(
            f"{len(entries)} delays for {strings} channels", "give one for each string"
        )
    return tuple(entry.number("delay", *DELAY_MS) for entry in entries)


def _gate(gate: Written) -> Gate:
    parts = gate.fields("gate", ("velocity", "length_ms"), "write {velocity: 12, length_ms: 25}")
    usual = Gate()
    return Gate(
        velocity=parts["velocity"].whole("velocity", 0, 127)
        if "velocity" in parts
        else usual.velocity,
        length_ms=parts["length_ms"].number("length_ms", *GATE_MS)
        if "length_ms" in parts
        else usual.length_ms,
    )
