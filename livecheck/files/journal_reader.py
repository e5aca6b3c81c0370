"""Read a session's journal: every whole line, once, in order, and an account of what is not whole.

Damaged lines are counted and passed over, never mended and never guessed at. A session's files are
joined by their numbers; one whose head holds another clock pair than the first's is of another
session and is left out. Times come out in seconds from the head's moment and never run backwards:
where a command's record was written before a note that had been stamped earlier, the note takes the
command's time (``Account.late`` counts them).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from ..core.events import Gap, Record, Stop
from ..errors import BadInput
from .lines import (
    MAX_LINE,
    SHORTEST_LINE,
    Head,
    Line,
    NewerFormat,
    file_number,
    head_of,
    journal_files,
    ordered,
    parse,
)
from .ordinary import FOLDER, LINK, OrdinaryFile, kind_of, names_in, reason, unreadable
from .records import from_dict

POLL_BYTES = 4 << 20  # most that one poll of a follower reads
READ_BYTES = 256 << 10  # in one call
HEAD_BYTES = 4096  # a head is some 200 bytes
SECTOR = 4096  # so much is passed over where a medium gives nothing
MOST_HOLES = 16  # then the rest of that file is given up: each may take seconds
_EMPTY_LINES = re.compile(rb"\n{2,}")


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
        self.unreadable: dict[str, str] = {}  # files that are not read, or not all: why
        self.unknown = 0  # good lines that this program does not understand
        self.late = 0  # records with an earlier time than the one before
        self.dropped = 0  # records that the journal itself says were dropped
        self.torn = False  # the last line is cut short
        self.stopped = False  # the last record is the orderly end
        self._next = 0
        self._last_s = 0.0
        self._skip = False

    @property
    def hurt(self) -> bool:
        """True where something that was written is not here as it was; a session that was cut off
        is not hurt."""
        return bool(self.damaged or self.missing or self.foreign or self.unreadable)

    @property
    def whole(self) -> bool:
        """True where everything that was written is here, to the orderly end."""
        return self.stopped and not (self.torn or self.hurt)

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
            try:
                head = head_of(line, path)
            except NewerFormat:
                raise
            except BadInput:  # written by something else
                self.damaged += 1
                return None
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
        """path: a session folder, or one journal file. Raises BadInput where there is no journal,
        none that can be read, or a newer one."""
        self.path = path
        self.files = [path] if file_number(path) is not None else _files_in(path)
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
        """Every good line, heads included. Where a medium gives nothing, what stands before and
        behind is read."""
        take = self.account.take
        for path in self.files:
            self.account.begin_file()
            for raw in _lines_of(path, self.account):
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
        self._file: OrdinaryFile | None = None
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
            self._file = OrdinaryFile(path)
        except OSError:
            return False
        self._path, self._at = path, 0
        self.account.begin_file()
        return True

    def _read_on(self, limit: int, found: list[Record]) -> int:
        """Take the whole lines that stand behind the last one; returns the bytes used."""
        assert self._file is not None
        try:
            size = self._file.size
            self._at = min(self._at, size)
            chunk = self._file.read(min(limit, size - self._at), self._at)
        except OSError:
            return 0
        end = chunk.rfind(b"\n") + 1
        self.account.torn = end < len(chunk)
        if end == 0 and len(chunk) >= MAX_LINE:  # no line is that long
            self.account.damaged += 1
            end = len(chunk)
        self._at += end
        for raw in _split(chunk[:end], self.account):
            line = self.account.take(raw, self._path)
            record = None if line is None else self.account.record(line)
            if record is not None:
                found.append(record)
        return end


def _files_in(folder: Path) -> list[Path]:
    """A session's journal files in order. Raises BadInput where its folder cannot be read."""
    kind = kind_of(folder)
    if kind == LINK:
        raise BadInput(f"{folder}: is a link, which is not followed; name what it leads to")
    return ordered(folder, names_in(folder)) if kind == FOLDER else []


def _first_head(files: list[Path]) -> Head | None:
    """The head of the first file that begins with a good one. Raises BadInput where no file can be
    read at all."""
    troubles = []
    for path in files:
        try:
            with OrdinaryFile(path) as file:
                first = file.read(HEAD_BYTES, 0)
        except OSError as error:
            troubles.append(unreadable(path, error))
            continue
        line = parse(first[: first.find(b"\n") + 1])
        if line is not None and line.kind == "head":
            return head_of(line, path)
    if len(troubles) == len(files):
        raise troubles[0]
    return None


def _lines_of(path: Path, account: Account) -> Iterator[bytes]:
    """The lines of a file that may be good, each with its newline; what cannot be is counted."""
    at, size, holes, rest = 0, READ_BYTES, 0, b""
    try:
        file = OrdinaryFile(path)
    except OSError as error:
        account.unreadable[path.name] = reason(error)
        return
    with file:
        while True:
            try:
                chunk = file.read(size, at)
            except OSError as error:
                if size > SECTOR:  # find out which part of it
                    size = SECTOR - at % SECTOR
                    continue
                account.unreadable[path.name] = reason(error)
                holes += 1
                if holes > MOST_HOLES:
                    return
                account.damaged += bool(rest)
                at, size, rest = at + SECTOR - at % SECTOR, SECTOR, b""
                continue
            if not chunk:
                break
            account.torn = False
            at += len(chunk)
            size = READ_BYTES if holes == 0 else SECTOR
            rest += chunk
            end = rest.rfind(b"\n") + 1
            yield from _split(rest[:end], account)
            rest = rest[end:]
            while len(rest) >= MAX_LINE:  # no line is that long
                account.damaged += 1
                rest = rest[MAX_LINE:]
    if rest:
        account.torn = True


def _split(data: bytes, account: Account) -> Iterator[bytes]:
    """Whole lines one by one, those that are too short to be good left out, and counted at once:
    there may be millions."""
    if b"\n\n\n\n" in data:
        data = _EMPTY_LINES.sub(b"\n", data)
    lines = data.split(b"\n")
    lines.pop()
    if len(lines) * SHORTEST_LINE > len(data):
        account.damaged += sum(0 < len(raw) < SHORTEST_LINE for raw in lines)
        lines = [raw for raw in lines if len(raw) >= SHORTEST_LINE]
    for raw in lines:
        yield raw + b"\n"
