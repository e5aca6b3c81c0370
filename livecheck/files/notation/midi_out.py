"""A cell as a Standard MIDI File: one track, a channel for each string, its end the cell's."""

from __future__ import annotations

import struct
from math import lcm

from ...core.cell import Cell
from ..midifile import quantity
from .stamp import KEY, stamp

TICKS = 480
PICKED, SLURRED = 90, 60  # velocities


def to_midi(cell: Cell) -> bytes:
    """The bytes of a file of format 0. Source of the layout: sources.md M-33 to M-38."""
    division = lcm(TICKS, cell.grid)
    step = division // cell.grid
    events: list[tuple[int, int, bytes]] = [
        (0, 0, _meta(0x03, cell.name.encode("utf-8"))),
        (0, 1, _meta(0x01, f"{KEY} {stamp(cell)}".encode("ascii"))),
    ]
    if cell.tempo_bpm is not None:
        events.append((0, 2, _meta(0x51, round(60e6 / cell.tempo_bpm).to_bytes(3, "big"))))
    if (time := time_signature(cell)) is not None:
        beats, power = time
        events.append((0, 2, _meta(0x58, bytes((beats, power, 24, 8)))))
    for slot in cell.slots:
        channel = slot.string - 1
        start, end = slot.start * step, (slot.start + slot.length) * step
        velocity = PICKED if slot.picked else SLURRED
        events.append((start, 4, bytes((0x90 | channel, slot.pitch, velocity))))
        events.append((end, 3, bytes((0x80 | channel, slot.pitch, 64))))
    events.append((cell.steps * step, 5, _meta(0x2F, b"")))
    body = bytearray()
    at = 0
    for tick, _, data in sorted(events, key=lambda event: event[:2]):
        body += quantity(tick - at) + data
        at = tick
    header = b"MThd" + struct.pack(">LHHH", 6, 0, 1, division)
    return header + b"MTrk" + struct.pack(">L", len(body)) + bytes(body)


def _meta(kind: int, content: bytes) -> bytes:
    return bytes((0xFF, kind)) + quantity(len(content)) + content


def time_signature(cell: Cell) -> tuple[int, int] | None:
    """A bar as long as the cell: its beats, and their kind as a power of two (2: quarters); None
    where no usual one is.

    >>> from livecheck.core.cell import make_cell
    >>> five, thirds = make_cell("five", [(1, 5)] * 5), make_cell("x", [(1, 5)] * 4, grid=3)
    >>> time_signature(five), time_signature(thirds)
    ((5, 4), None)
    """
    for power in range(2, 7):
        beats = cell.steps * 2**power
        if beats % (4 * cell.grid) == 0 and beats // (4 * cell.grid) < 256:
            return beats // (4 * cell.grid), power
    return None
