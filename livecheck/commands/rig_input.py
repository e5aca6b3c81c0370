"""What comes in for the rig commands: live from a port, or from a file; and how a rig file is
written."""

from __future__ import annotations

import contextlib
import os
import sys
import time
from argparse import ArgumentParser, Namespace
from collections.abc import Iterable, Iterator
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING, Any, NamedTuple, TextIO

from ..core.events import Midi
from ..errors import BadInput, NoDevice
from .common import OWN_RIG, near_path, practice_folder
from .live import add_input

if TYPE_CHECKING:
    from ..core.events import Record
    from ..core.rig import Rig

TICK_S = 0.05


class Moment(NamedTuple):
    """A message, or with no data only time that passed. Seconds from the beginning."""

    t_s: float
    data: bytes | None
    port: str | None = None  # each time that a port was opened
    lost: str | None = None  # each time that it was lost: why


def add_source(parser: ArgumentParser) -> None:
    """Options of commands that hear notes live or from a file."""
    add_input(parser)
    parser.add_argument(
        "--from", dest="source", metavar="FILE", help="a MIDI file or session in place of a port"
    )
    parser.add_argument("--seconds", metavar="N", type=float, help="stop by itself after so long")


def moments(options: Namespace, rig: Rig) -> Iterator[Moment]:
    """Everything that comes in, with a tick each 50 ms. Raises NoDevice, BadInput."""
    if options.source is not None:
        return _from_file(options)
    return _live(options, rig)


def records_of(options: Namespace, name: str) -> Iterable[Record]:
    """The records of a MIDI file or a session, as they stand there. Raises BadInput."""
    from ..files.journal_reader import read
    from ..files.lines import file_number
    from ..files.midifile import read_midi
    from .judging import MIDI_ENDINGS

    path = Path(name).expanduser()
    if path.suffix.lower() in MIDI_ENDINGS or (path.is_file() and file_number(path) is None):
        return read_midi(path)
    return read(path if path.is_file() else practice_folder(options).session(name))


def _from_file(options: Namespace) -> Iterator[Moment]:
    now_s = 0.0
    for record in records_of(options, options.source):
        if not isinstance(record, Midi):
            continue
        if options.seconds is not None and record.t_s > options.seconds:
            return
        while now_s + TICK_S < record.t_s:
            now_s += TICK_S
            yield Moment(now_s, None)
        now_s = max(now_s, record.t_s)
        yield Moment(now_s, record.data)


def _live(options: Namespace, rig: Rig) -> Iterator[Moment]:
    from ..daemon.frames import Down, End, Message, Up
    from ..daemon.ports import matcher
    from ..daemon.source import Ended, Heard, Source, reader_command

    wanted = options.port or rig.port
    if wanted is not None:
        matcher(wanted)
    queue: SimpleQueue[Any] = SimpleQueue()
    source = Source(reader_command(options.driver, wanted), queue)
    begun_ns = time.perf_counter_ns()
    source.start(begun_ns)
    linked = up = False
    try:
        while True:
            try:
                item = queue.get(timeout=TICK_S)
            except Empty:
                item = None
            now_ns = time.perf_counter_ns()
            source.check(now_ns)
            frame = item.frame if isinstance(item, Heard) else None
            if frame is not None:
                source.seen(now_ns)
            if isinstance(frame, Up) and not linked:
                linked, begun_ns = True, frame.t_ns
            if isinstance(item, Ended):
                source.ended(now_ns)
            gone = (
                item.why
                if isinstance(item, Ended)
                else frame[1]
                if isinstance(frame, (Down, End))
                else None
            )
            if gone is not None and (not linked or isinstance(frame, End)):
                raise NoDevice(gone)
            t_s = max(
                0.0, ((frame.t_ns if isinstance(frame, Message) else now_ns) - begun_ns) / 1e9
            )
            if linked and options.seconds is not None and t_s > options.seconds:
                return
            if isinstance(frame, Up):
                up = True
                yield Moment(t_s, None, frame.port)
            elif gone is not None:
                yield Moment(t_s, None, lost=gone if up else None)
                up = False
            elif linked:
                yield Moment(t_s, frame.data if isinstance(frame, Message) else None)
    finally:
        source.stop()


# ------------------------------------------------------------------------------------- the rig file


def own_rig_path(options: Namespace) -> Path:
    """The practice folder's own rig, which is used where none is named."""
    return practice_folder(options).root / "configs" / OWN_RIG


def write_rig(path: Path, rig: Rig, out: TextIO) -> None:
    """Write a rig file whole or not at all. A file that is there is kept beside it, and that is
    said.

    Raises BadInput where it cannot be written.
    """
    from ..files.config import dump_rig

    temporary = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with open(temporary, "w", encoding="utf-8", newline="\n") as file:
            file.write(dump_rig(rig))
            file.flush()
            os.fsync(file.fileno())
        kept = _keep(path)
        os.replace(temporary, path)
    except OSError as error:
        with contextlib.suppress(OSError):  # a disk that is read-only refuses this, too
            temporary.unlink(missing_ok=True)
        raise BadInput(f"{path}: cannot be written: {error.strerror or error}") from error
    print(
        f"Written to {near_path(path)}"
        + (f"; what stood there is now {near_path(kept)}" if kept else ""),
        file=out,
    )


def _keep(path: Path) -> Path | None:
    """Put a file that is about to be replaced beside it, under the first free name."""
    if not path.exists():
        return None
    number = 1
    while (kept := path.with_name(f"{path.stem}-before-{number}{path.suffix}")).exists():
        number += 1
    kept.write_bytes(path.read_bytes())
    return kept


def agreed(path: Path, options: Namespace, out: TextIO) -> bool:
    """Whether a rig that was shown is to be written: a file named by ``--out``, ``--write``, or
    the player's yes at a terminal."""
    if options.write or options.out is not None:
        return True
    if not (out.isatty() and sys.stdin.isatty()):
        print("Not written; --write writes it.", file=out)
        return False
    question = f"Replace {near_path(path)}?" if path.exists() else f"Write it to {near_path(path)}?"
    print(f"{question} [y/N] ", end="", file=out, flush=True)
    if sys.stdin.readline().strip().lower() in ("y", "yes"):
        return True
    print("Not written.", file=out)
    return False
