"""The cable between converter and computer: order, bytes and what else travels on it.

On a DIN cable a byte takes 320 µs and messages wait for each other (sources.md M-01 to M-03); over
USB they come in packets of a millisecond. Clock, active sensing, controllers, program changes and
notes on channels that are no string travel along.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from random import Random

from .converter import Message
from .habits import Conversion

BYTE_S = 320e-6
"""Ten bits at 31 250 baud (sources.md M-01)."""


def send(messages: Sequence[Message], how: Conversion, strings: int, rng: Random) -> list[Message]:
    """The same messages and the company they travel in, stamped with their arrival times, in
    order."""
    end_s = max((message.ready_s for message in messages), default=0.0) + 0.5
    everything = [*messages, *_company(how, strings, end_s, rng)]
    everything.sort(key=lambda message: message.ready_s)
    free_s = 0.0
    for message in everything:
        if how.serial:
            free_s = max(message.ready_s, free_s) + len(message.data) * BYTE_S
        else:
            packet_s = ceil(message.ready_s * 1000.0) / 1000.0
            free_s = max(packet_s, free_s + rng.uniform(8e-6, 59e-6))
        message.ready_s = round(free_s, 6)
    return everything


def _company(how: Conversion, strings: int, end_s: float, rng: Random) -> list[Message]:
    out: list[Message] = []
    first = how.first_channel - 1
    if how.sends_rpn:
        null = rng.random() < 0.5
        for channel in range(first, first + strings):
            pairs = [(101, 0), (100, 0), (6, how.bend_range), (38, 0)]
            if null:  # a closed parameter: the data entry behind it changes nothing (M-18)
                pairs += [(101, 127), (100, 127), (6, 5)]
            out += [
                Message(0.01 + 0.002 * at, bytes((0xB0 | channel, *pair)))
                for at, pair in enumerate(pairs)
            ]
    if how.clock:
        beat_s = 60.0 / rng.uniform(60, 160)
        out += [Message(at * beat_s / 24, b"\xf8") for at in range(int(end_s / beat_s * 24))]
    if how.sensing:
        out += [Message(0.26 * at, b"\xfe") for at in range(int(end_s / 0.26))]
    others = [channel for channel in range(16) if not first <= channel < first + strings]
    for _ in range(int(how.controllers * end_s)):
        channel = first + rng.randrange(strings)
        kind = rng.randrange(5)
        data = (
            bytes((0xB0 | channel, rng.choice((1, 7, 11, 64)), rng.randrange(128))),
            bytes((0xC0 | channel, rng.randrange(128))),
            bytes((0xD0 | channel, rng.randrange(128))),
            bytes((0xA0 | channel, rng.randrange(128), rng.randrange(128))),
            b"\xf0\x7d\x01\x02\xf7",
        )[kind]
        out.append(Message(rng.uniform(0.05, end_s), data))
    for _ in range(int(how.foreign * end_s)):
        channel, key, at = rng.choice(others), rng.randint(30, 80), rng.uniform(0.1, end_s)
        out.append(Message(at, bytes((0x90 | channel, key, rng.randint(20, 110)))))
        out.append(Message(at + rng.uniform(0.02, 0.4), bytes((0x80 | channel, key, 0))))
    return out
