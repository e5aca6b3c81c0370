"""Standard MIDI Files put together by hand, and their reading by another library, for tests."""

from __future__ import annotations

import io
import struct
from collections.abc import Sequence

import mido

M41 = bytes.fromhex(
    "4D546864 00000006 00000001 0060 4D54726B 0000003B"
    "00FF580404021808 00FF510307A120 00C005 00C12E 00C246"
    "00923060 003C60 60914340 60904C20"
    "8140823040 003C40 00814340 00804C40 00FF2F00"
)
"""The specification's format 0 example (sources.md M-41)."""

M42 = bytes.fromhex(
    "4D546864 00000006 00010004 0060"
    "4D54726B 00000014 00FF580404021808 00FF510307A120 8300FF2F00"
    "4D54726B 00000010 00C005 8140904C20 81404C00 00FF2F00"
    "4D54726B 0000000F 00C12E 60914340 82204300 00FF2F00"
    "4D54726B 00000015 00C246 00923060 003C60 83003000 003C00 00FF2F00"
)
"""The same music as format 1 (sources.md M-42)."""

END = "00FF2F00"


def smf(
    *tracks: str, division: int = 96, form: int | None = None, promised: int | None = None
) -> bytes:
    """A file of tracks given in hex."""
    chunks = [bytes.fromhex(track) for track in tracks]
    form = (len(chunks) > 1) if form is None else form
    header = struct.pack(
        ">4sLHHH", b"MThd", 6, form, len(chunks) if promised is None else promised, division
    )
    return header + b"".join(struct.pack(">4sL", b"MTrk", len(chunk)) + chunk for chunk in chunks)


def by_mido(data: bytes) -> list[tuple[float, bytes]]:
    """What mido reads: times by its own tempo map and merging, messages other than meta events.

    Raises ValueError for meta events of a type unknown to it: it loses their delta times (mido
    1.3.3).
    """
    found = []
    now_s = 0.0
    file = mido.MidiFile(file=io.BytesIO(data))
    if any(message.type == "unknown_meta" for track in file.tracks for message in track):
        raise ValueError("unknown meta event")
    for message in file:
        now_s += message.time
        if not message.is_meta:
            found.append((now_s, bytes(message.bytes())))
    return found


def grouped(timed: Sequence[tuple[float, bytes]]) -> list[tuple[float, list[bytes]]]:
    """Messages by time (to a microsecond), sorted within it: libraries differ in the order of one
    moment."""
    moments: dict[float, list[bytes]] = {}
    for t_s, message in timed:
        moments.setdefault(round(t_s, 6), []).append(message)
    return [(t_s, sorted(found)) for t_s, found in moments.items()]
