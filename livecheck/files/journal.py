"""Write a session's journal so that nothing shown is ever lost.

One ``write`` call a record on a file opened for appending: once ``append`` has returned True, the
death of the process loses nothing; ``sync``, called about each second, bounds what a power cut can
take. Files are new at each start and are never appended to later.

While the disk refuses, records wait in a bounded memory and are tried again at most once a second;
what does not fit is counted, and a ``gap`` record says so when writing resumes. Trouble with the
disk never raises: it stands in ``trouble``, ``pending`` and ``dropped``. Some room is kept in
reserve, so that also on a full disk the journal can be ended in good order and says how many
records it lacks. ``append``, ``tick`` and ``sync`` may be called from different threads.

Time is an argument: clock readings of the same clock that stamps the notes.
"""

from __future__ import annotations

import errno
import threading
from collections import deque
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from ..errors import BadInput
from .disk import Disk
from .journal_reader import Follower, Reading, read
from .lines import MAX_LINE, Head, body_of, file_name, head_now, journal_files, line_of
from .ordinary import reason

__all__ = ["Follower", "Head", "Journal", "Reading", "head_now", "read"]

FILE_BYTES = 64 << 20  # then the next file is begun: 20 notes a second fill one in about five hours
WAITING = 100_000  # records kept in memory while the disk refuses: about 15 MB
# a waiting record may take on average, so that long SysEx does not fill the memory
CHARACTERS = 300
# records written in one call when it accepts again, so that no call takes longer than some 10 ms
DRAIN = 2_000
RETRY_NS = 1_000_000_000
TRIES = 3
RESERVE = 8192  # bytes; given up at the end, where nothing else has room
LAST_WORDS = 1024  # bytes of them: for the gap and the stop record
# the file is sound and only wants room; on anything else a new file is tried
FULL = (errno.ENOSPC, errno.EDQUOT)


class Journal:
    """The journal of one running session."""

    def __init__(self, folder: Path, head: Head, disk: Disk, file_bytes: int, waiting: int) -> None:
        self.folder = folder
        self.head = head
        self.dropped = 0  # records lost for good so far
        self.lost_why: str | None = None  # what made the disk refuse the last of them
        self._disk = disk
        self._file_bytes = file_bytes
        self._limit = waiting
        self._lock = threading.Lock()  # state; held for one write at most
        self._sync_lock = threading.Lock()  # closing against syncing
        self._waiting: deque[str] = deque()
        self._characters = 0  # in what waits
        self._missing = 0  # dropped since the last gap record
        self._stop: str | None = None  # the last record, where it waits
        self._reserve_fd = -1
        self._seq = 0
        self._number = 0
        self._fd = -1
        self._length = 0  # bytes of whole lines
        self._torn = False  # part of a line stands behind them and could not be cut off
        self._failed = False  # the file took no write: go on in a new one if there can be one
        self._gone = False  # somebody deleted the file: what is written to it is lost
        self._retired: list[int] = []  # finished files still to be synced and closed
        self._new_names = False
        self._now_ns = head.perf_ns
        self._retry_ns = 0  # before this, no record is tried again after a failure
        self._change_ns = 0  # nor a new file
        self._write_trouble: str | None = None
        self._sync_trouble: str | None = None
        self._closed = False

    @classmethod
    def create(
        cls,
        folder: Path,
        head: Head,
        *,
        disk: Disk | None = None,
        file_bytes: int = FILE_BYTES,
        waiting: int = WAITING,
    ) -> Journal:
        """Begin a journal in a folder that has none, making the folder if needed.

        Raises BadInput where that cannot be done; from then on nothing raises.
        """
        journal = cls(folder, head, disk or Disk(), file_bytes, waiting)
        if journal_files(folder):
            raise BadInput(f"{folder}: holds a session already; a session is never appended to")
        try:
            journal._disk.make_folder(folder)
            journal._begin_file()
            journal._keep_room()
        except OSError as error:
            why = (
                f"{folder}: cannot record there: {reason(error)}; mend that or choose another "
                "folder with --home"
            )
            raise BadInput(why) from error
        journal.sync()
        return journal

    @property
    def path(self) -> Path:
        """The file being written."""
        return self.folder / file_name(self._number)

    @property
    def trouble(self) -> str | None:
        """What keeps records from being safe on disk, in one line; None while all is well."""
        return self._write_trouble or self._sync_trouble

    @property
    def pending(self) -> int:
        """Records that wait in memory for the disk."""
        return len(self._waiting)

    def append(self, kind: str, t_ns: int, fields: Mapping[str, Any]) -> bool:
        """Write one record. True once it is in the file, False while it waits in memory or had to
        be dropped."""
        body = body_of(kind, t_ns, fields)
        if len(body) > MAX_LINE - 100:
            kind, body = (
                "gap",
                body_of("gap", t_ns, {"dropped": 1, "why": f"a {kind} record too long to keep"}),
            )
        with self._lock:
            if self._closed:
                self.dropped += 1
                return False
            if t_ns > self._now_ns:
                self._now_ns = t_ns
            if self._write_trouble or self._waiting or self._missing:
                self._drain(DRAIN)
            if not (self._write_trouble or self._waiting or self._missing) and self._write(body):
                return True
            self._keep(kind, body)
            return False

    def tick(self, now_ns: int) -> None:
        """Time passed: try again if the disk had refused and a second has gone by."""
        with self._lock:
            if self._closed:
                return
            self._now_ns = max(self._now_ns, now_ns)
            self._drain(DRAIN)

    def sync(self) -> bool:
        """Bring everything written to the medium; slow (0.2 to 30 ms), so not for the thread that
        takes the notes."""
        with self._sync_lock:
            with self._lock:
                if self._closed:
                    return False
                retired, self._retired = self._retired, []
                fd, new_names, self._new_names = self._fd, self._new_names, False
            trouble = None
            for old in retired:
                trouble = self._attempt(self._disk.sync, old) or trouble
                self._attempt(self._disk.close, old)
            trouble = self._attempt(self._disk.sync, fd) or trouble
            for folder in (self.folder, self.folder.parent) if new_names else ():
                trouble = self._attempt(self._disk.sync_folder, folder) or trouble
            deleted = self._deleted(fd)
            with self._lock:
                self._sync_trouble = (
                    trouble and f"{self.path}: not safe from a power cut: {trouble}"
                )
                self._new_names = self._new_names or (new_names and trouble is not None)
                if deleted and fd == self._fd and not self._gone:
                    self._gone = True
                    self._write_trouble = f"{self.path}: was deleted while it was being written"
                    self._retry_ns = 0
            return trouble is None

    def close(self) -> None:
        """Write what still waits, if the disk takes it, and end. The orderly end is a ``stop``
        record before this."""
        with self._lock:
            if self._closed:
                return
            self._retry_ns = self._change_ns = 0
            self._drain(len(self._waiting) + 1)
            if self._waiting or self._missing:
                self._last_words()
            self._give_room()
        self.sync()
        with self._sync_lock, self._lock:
            self._closed = True
            for fd in (*self._retired, self._fd):
                self._attempt(self._disk.close, fd)

    def _deleted(self, fd: int) -> bool:
        try:
            return self._disk.links(fd) == 0
        except OSError:
            return False

    # ---------------------------------------------------------------------- below: the lock is held

    def _keep(self, kind: str, body: str) -> None:
        """Put a record into memory. Notes are dropped when it is full; the few other records have
        room to spare."""
        room = self._limit if kind == "midi" else self._limit + self._limit // 10 + 10
        if len(self._waiting) < room and self._characters + len(body) <= room * CHARACTERS:
            self._waiting.append(body)
            self._characters += len(body)
            if kind == "stop":
                self._stop = body
        else:
            self.dropped += 1
            self._missing += 1

    def _drain(self, most: int) -> None:
        """Write what waits, oldest first, then tell what is missing."""
        if self._write_trouble is not None and self._now_ns < self._retry_ns:
            return
        for _ in range(most):
            if self._waiting:
                if not self._write(self._waiting[0]):
                    return
                self._characters -= len(self._waiting.popleft())
            elif self._missing:
                why = "the disk refused and memory was full"
                if not self._write(
                    body_of("gap", self._now_ns, {"dropped": self._missing, "why": why})
                ):
                    return
                self._missing = 0
            else:
                if self._gone and self._change_file():
                    self._write_trouble = None
                return

    def _last_words(self) -> None:
        """Nothing more will have room: with what was kept in reserve write as much as there is room
        for, how many are missing, and the end."""
        self.lost_why = self._write_trouble
        self._give_room()
        self._change_ns = 0
        stop = self._waiting.pop() if self._stop is not None else None
        left = RESERVE - LAST_WORDS
        while self._waiting and (left := left - len(self._waiting[0]) - 50) > 0:
            if not self._write(self._waiting[0]):
                break
            self._waiting.popleft()
        self.dropped += len(self._waiting)
        self._missing += len(self._waiting)
        self._waiting.clear()
        why = f"the disk refused to the end: {self.lost_why}"
        if self._missing and self._write(
            body_of("gap", self._now_ns, {"dropped": self._missing, "why": why[:200]})
        ):
            self._missing = 0
        if stop is not None and not self._write(stop):
            self.dropped += 1

    def _keep_room(self) -> None:
        """Where there is none left, the end may not be written."""
        self._give_room()
        try:
            self._reserve_fd = self._disk.reserve(self.folder, RESERVE)
        except OSError:
            self._reserve_fd = -1

    def _give_room(self) -> None:
        fd, self._reserve_fd = self._reserve_fd, -1
        if fd >= 0:
            self._attempt(self._disk.close, fd)

    def _write(self, body: str) -> bool:
        """Put one line into the file whole; or leave the file as it was, say why, and set the time
        to try again."""
        if (
            (self._gone or self._failed or self._length >= self._file_bytes)
            and not self._change_file()
            and self._gone
        ):
            return False
        line = line_of(self._seq, body)
        trouble, code = self._put(self._fd, b"\n" + line if self._torn else line)
        if trouble is not None:
            self._write_trouble = f"{self.path}: {trouble}"
            self._retry_ns = self._now_ns + RETRY_NS
            self._failed = code not in FULL
            self._cut_tail()
            return False
        self._seq += 1
        self._length += len(line)
        self._write_trouble = None
        self._failed = False
        if self._torn:
            self._after_torn_tail()
        return True

    def _put(self, fd: int, data: bytes) -> tuple[str | None, int]:
        """One write call, or a few where it is interrupted or takes only a part: why it did is said
        at the next one.

        Returns what went wrong, None for nothing, and the system's number for it.
        """
        for _ in range(TRIES):
            try:
                written = self._disk.write(fd, data)
            except InterruptedError:
                continue
            except OSError as error:
                return reason(error), error.errno or 0
            if written == len(data):
                return None, 0
            data = data[written:]
        return "a record is not taken whole", errno.EINTR

    def _cut_tail(self) -> None:
        """Take part of a line off the file again. Where that fails, the next line starts with a
        newline of its own."""
        if not self._torn:
            self._torn = (
                self._attempt(lambda fd: self._disk.truncate(fd, self._length), self._fd)
                is not None
            )

    def _after_torn_tail(self) -> None:
        """A whole line stands behind a torn one: what is good now ends where the file does."""
        try:
            self._length = self._disk.size(self._fd)
            self._torn = False
        except OSError:
            # the length is not known any more: the next line goes into a new file
            self._failed = True

    def _change_file(self) -> bool:
        """Go on in the next file; the old one is left for ``sync``. False where there can be none
        yet."""
        if self._now_ns < self._change_ns:
            return False
        old = self._fd
        try:
            self._disk.make_folder(self.folder)
            self._begin_file()
        except OSError as error:
            self._change_ns = self._retry_ns = self._now_ns + RETRY_NS
            if self._gone:
                self._write_trouble = f"{self.folder}: {reason(error)}"
            return False
        self._retired.append(old)
        self._failed = self._gone = self._torn = False
        return True

    def _begin_file(self) -> None:
        """Open the next file and write its head. Raises OSError and leaves no file behind where
        that fails."""
        number = self._number + 1
        while True:
            path = self.folder / file_name(number)
            try:
                fd = self._disk.create(path)
                break
            except FileExistsError:
                number += 1
        line = line_of(
            max(self._seq - 1, 0), body_of("head", self.head.perf_ns, self.head.fields(number))
        )
        trouble, code = self._put(fd, line)
        if trouble is not None:
            self._attempt(self._disk.close, fd)
            self._attempt(self._disk.remove, path)
            raise OSError(code, trouble)
        self._fd, self._number, self._length = fd, number, len(line)
        self._seq = max(self._seq, 1)
        self._new_names = True

    def _attempt(self, call: Callable[[Any], object], on: Any) -> str | None:
        """Do something that may fail without harm to the records; returns why it failed."""
        why = "interrupted again and again"
        for _ in range(TRIES):
            try:
                call(on)
            except InterruptedError:
                continue
            except OSError as error:
                why = reason(error)
                break
            return None
        return why
