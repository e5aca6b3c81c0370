"""A reader that invents its messages: numbers in a row, each as one system exclusive message, notes
between them.

    python fake_reader.py FOLDER [--notes N] [--pause SECONDS] [--hang-after N] [--nonsense]

After each message it notes the number in FOLDER/life-<pid>, so that a test knows what was sent by a
process that was killed. A message is ``F0 pid (3 × 7 bits) number (3 × 7 bits) F7``, every fourth
one a note-on with the same stamp.
"""

from __future__ import annotations

import argparse
import os
import select
import struct
import time

from livecheck.daemon.frames import End, Sender, Up


def message(pid: int, number: int) -> bytes:
    digits = [value >> shift & 127 for value in (pid, number) for shift in (14, 7, 0)]
    return bytes([0xF0, *digits, 0xF7])


def number_of(data: bytes) -> tuple[int, int] | None:
    """The process and the number that a message holds; None for the notes between."""
    if data[0] != 0xF0:
        return None
    high, middle, low, a, b, c = data[1:7]
    return high << 14 | middle << 7 | low, a << 14 | b << 7 | c


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("folder")
    parser.add_argument("--notes", type=int, default=10**6)
    parser.add_argument("--pause", type=float, default=0.001)
    parser.add_argument("--hang-after", type=int, default=10**9)
    parser.add_argument("--nonsense", action="store_true")
    asked = parser.parse_args()
    sender = Sender(1)
    life = os.open(os.path.join(asked.folder, f"life-{os.getpid()}"), os.O_RDWR | os.O_CREAT)
    sender.tell(Up(time.perf_counter_ns(), f"fake {os.getpid()}"))
    for number in range(asked.notes):
        t_ns = time.perf_counter_ns()
        if number % 4 == 0:
            sender.message(t_ns, bytes([0x90, 60, 1 + number % 127]))
        sender.message(t_ns, message(os.getpid(), number))
        os.pwrite(life, struct.pack("<QQ", number + 1, sender.dropped), 0)
        if number == asked.hang_after:
            time.sleep(3600)
        if asked.nonsense:
            os.write(1, b"what is this? " * 9)
        if number % 500 == 0:
            sender.beat(time.perf_counter_ns())
        ready, _, _ = select.select([0], [], [], asked.pause)
        if ready and not os.read(0, 100):
            return
    sender.tell(End(time.perf_counter_ns(), "the take is over"))


if __name__ == "__main__":
    main()
