"""Read a session's journal: every whole line, once, in order, and an account of what is not whole.

Damaged lines are counted and passed over, never mended and never guessed at. A session's files are
joined by their numbers; one whose head holds another clock pair than the first's is of another
session and is left out. Times come out in seconds from the head's moment and never run backwards:
where a command's record was written before a note that had been stamped earlier, the note takes the
command's time (``Account.late`` counts them).
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from ..core.events import Gap, Record, Stop
from ..errors import BadInput
from .lines import MAX_LINE, Head, Line, file_number, head_of, journal_files, parse
from .records import from_dict

POLL_BYTES = 4 << 20  # most that one poll of a follower reads


class Account:
    """What a reader has seen so far: lines taken, and everything that is not as it was written."""

    def __init__(self) -> None:
        self.head: Head | None = None
        self.lines = 0  # good lines
        self.damaged = 0  # lines whose bytes are not as they were written
        # (file, last number before, how many are missing)
        self.missing: list[tuple[str, int, int]] = []
        self.repeated = 0  # lines whose number had come before; passed over
        self.foreign: list[str] = []  # files of another session
        self.unknown = 0  # good lines that this program does not understand
        self.late = 0  # records with an earlier time than the one before
        self.dropped = 0  # records that the journal itself says were dropped
        self.torn = False  # the last line is cut short
        self.stopped = False  # the last record is the orderly end
        self._next = 0
        self._last_s = 0.0
        self._skip = False

    @property
    def whole(self) -> bool:
        """True where everything that was written is here, to the orderly end."""
        return self.stopped and not (self.torn or self.damaged or self.missing or self.foreign)

    def begin_file(self) -> None:
        self._skip = False

    def take(self, raw: bytes, path: Path) -> Line | None:
        """Account for one line. Returns it where it is good and new. Raises BadInput for a newer
        format."""
        line = parse(raw)
        if line is None:
            self.damaged += raw != b"\n"  # the newline that ends a torn line is no line itself
            return None
        if line.kind == "head":
            head = head_of(line, path)
            if self.head is None:
                self.head = head
            elif (head.perf_ns, head.boot) != (self.head.perf_ns, self.head.boot):
                self.foreign.append(path.name)
                self._skip = True
        if self._skip:
            return None
        # A later file's head repeats the number of the record before it.
        expected = max(self._next - 1, 0) if line.kind == "head" else self._next
        if line.seq < expected:
            self.repeated += 1
            return None
        if line.seq > expected:
            self.missing.append((path.name, self._next - 1, line.seq - expected))
        self._next = line.seq + 1
        self.lines += 1
        return line

    def record(self, line: Line) -> Record | None:
        """The record that a line holds; None for a head and for what this program does not know."""
        if line.kind == "head":
            return None
        if self.head is None:  # every head is damaged: the first record is the zero
            self.head = Head("", line.t_ns, "", "")
        t_s = (line.t_ns - self.head.perf_ns) / 1e9
        if t_s < self._last_s:
            self.late += 1
            t_s = self._last_s
        try:
            record = from_dict(line.fields, t_s)
        except BadInput:
            self.unknown += 1
            return None
        self._last_s = t_s
        self.stopped = isinstance(record, Stop)
        if isinstance(record, Gap):
            self.dropped += record.dropped
        return record


class Reading:
    """A saved session, to be gone through once: ``for record in reading``. ``account`` is complete
    after that."""

    def __init__(self, path: Path) -> None:
        """path: a session folder, or one journal file. Raises BadInput where there is no journal or
        a newer one."""
        self.path = path
        self.files = [path] if path.is_file() else journal_files(path)
        if not self.files:
            raise BadInput(f"{path}: no session there (it holds no journal-001.log)")
        self.account = Account()
        self.account.head = _first_head(self.files)

    @property
    def head(self) -> Head | None:
        """The session's head; None where no file has a good one (before the first record is
        read)."""
        return self.account.head

    @property
    def whole(self) -> bool:
        """True where everything that was written is here; known after the last record."""
        return self.account.whole

    def lines(self) -> Iterator[Line]:
        """Every good line, heads included."""
        take = self.account.take
        for path in self.files:
            self.account.begin_file()
            with _open(path) as file:
                while raw := file.readline(MAX_LINE):
                    self.account.torn = raw[-1:] != b"\n" and len(raw) < MAX_LINE
                    if self.account.torn:
                        break
                    line = take(raw, path)
                    if line is not None:
                        yield line

    def __iter__(self) -> Iterator[Record]:
        record_of = self.account.record
        for line in self.lines():
            record = record_of(line)
            if record is not None:
                yield record


def read(path: str | Path) -> Reading:
    """Open a saved session: its folder, or one of its journal files."""
    return Reading(Path(path))


class Follower:
    """Read a journal while it is being written. ``poll`` gives what is new and never waits.

    The file may not be there yet; the writer may go on in a next file; a file may be cut short or
    deleted under it.
    """

    def __init__(self, path: str | Path) -> None:
        """path: the session's folder (or its first journal file)."""
        given = Path(path)
        self.folder = given.parent if file_number(given) is not None else given
        self.account = Account()
        self._file: BinaryIO | None = None
        self._path = self.folder
        self._at = 0

    @property
    def head(self) -> Head | None:
        return self.account.head

    def poll(self, limit: int = POLL_BYTES) -> list[Record]:
        """The records of the whole lines that have come since the last call, at most some ``limit``
        bytes of them.

        Raises BadInput only where a newer program writes the journal.
        """
        found: list[Record] = []
        left = max(limit, MAX_LINE)
        while left > 0:
            # asked before reading: nothing is added to a file once there is a next one
            following = self._next_file()
            if self._file is None:
                if following is None or not self._open(following):
                    break
                continue
            used = self._read_on(left, found)
            left -= used
            if used == 0:
                if following is None:
                    break
                self.close()
        return found

    def close(self) -> None:
        if self._file is not None:
            self._file.close()
            self._file = None

    def _next_file(self) -> Path | None:
        current = file_number(self._path) or 0
        return next(
            (path for path in journal_files(self.folder) if (file_number(path) or 0) > current),
            None,
        )

    def _open(self, path: Path) -> bool:
        try:
            self._file = open(path, "rb", buffering=0)  # noqa: SIM115 - kept open between polls
        except OSError:
            return False
        self._path, self._at = path, 0
        self.account.begin_file()
        return True

    def _read_on(self, limit: int, found: list[Record]) -> int:
        """Take the whole lines that stand behind the last one; returns the bytes used."""
        assert self._file is not None
        try:
            size = os.fstat(self._file.fileno()).st_size
            self._at = min(self._at, size)
            chunk = os.pread(self._file.fileno(), min(limit, size - self._at), self._at)
        except OSError:
            return 0
        end = chunk.rfind(b"\n") + 1
        self.account.torn = end < len(chunk)
        if end == 0 and len(chunk) >= MAX_LINE:  # no line is that long
            self.account.damaged += 1
            end = len(chunk)
        self._at += end
        for raw in chunk[:end].split(b"\n")[:-1]:
            line = self.account.take(raw + b"\n", self._path)
            record = None if line is None else self.account.record(line)
            if record is not None:
                found.append(record)
        return end


def _open(path: Path) -> BinaryIO:
    try:
        return open(path, "rb", buffering=1 << 16)
    except OSError as error:
        raise BadInput(f"{path}: cannot be read: {error.strerror or error}") from error


def _first_head(files: list[Path]) -> Head | None:
    """The head of the first file that begins with a good one."""
    for path in files:
        with _open(path) as file:
            line = parse(file.readline(MAX_LINE))
        if line is not None and line.kind == "head":
            return head_of(line, path)
    return None
