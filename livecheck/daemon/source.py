"""Run the process that hears the notes: start it, listen to it, end it when it hangs, start it
again when it is gone.

Its frames go into the service's queue from a thread of their own; everything else is called from
the service's thread.
"""

from __future__ import annotations

import contextlib
import fcntl
import logging
import os
import subprocess
import threading
from collections.abc import Sequence
from typing import IO, Any, NamedTuple, Protocol

from . import spawn
from .frames import SILENT_S, BadFrame, Decoder, Frame, Message

log = logging.getLogger("livecheck.source")

PIPE_BYTES = 1 << 20  # on Linux; holds an hour of notes while the recorder is held up
QUEUED = 200_000  # frames; what comes while more of them wait is counted as lost
# until the first frame: a new process has to start, a dead sound server to be found dead
FIRST_S = 15.0
# before it is started again; the last for every further time
LATER_S = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0)
STEADY_S = 10.0  # one that lived so long was not failing at its start
STOP_S = 1.5
# between two checks: it was the recorder that stood still, and what came meanwhile is still unread
HELD_UP_S = 1.0
COMPLAINTS = 200  # lines of its standard error kept in the log for each process


class Heard(NamedTuple):
    """A frame came."""

    frame: Frame


class Ended(NamedTuple):
    """The process is gone; all its frames came before."""

    why: str


class Inbox(Protocol):
    """A queue, as far as it is needed here."""

    def put(self, item: Any) -> None: ...
    def qsize(self) -> int: ...


class Source:
    """The process that is listened to."""

    def __init__(self, command: Sequence[str], queue: Inbox) -> None:
        self.command = list(command)
        self.lost = 0  # messages that came while too many waited
        self.heard = False  # whether any process of this command has ever sent anything
        self.greeting = b""  # written to each new process
        self._queue = queue
        self._again = True  # start it again when it ends
        self._process: subprocess.Popen[bytes] | None = None
        self._thread: threading.Thread | None = None
        self._started_ns = 0
        self._seen_ns: int | None = None
        self._checked_ns = 0
        self._failures = 0
        self._start_ns: int | None = None

    @property
    def pid(self) -> int | None:
        return self._process.pid if self._process else None

    def start(self, now_ns: int) -> None:
        """Start the process."""
        self._start_ns = None
        self._started_ns = now_ns
        self._seen_ns = None
        self._process = spawn.start(
            self.command, stdin=spawn.PIPE, stdout=spawn.PIPE, stderr=spawn.PIPE
        )
        assert self._process.stdout is not None and self._process.stderr is not None
        if hasattr(fcntl, "F_SETPIPE_SZ"):
            with contextlib.suppress(OSError):
                fcntl.fcntl(self._process.stdout, fcntl.F_SETPIPE_SZ, PIPE_BYTES)
        self._thread = threading.Thread(
            target=self._listen, args=(self._process,), name="pipe", daemon=True
        )
        self._thread.start()
        threading.Thread(
            target=_complaints, args=(self._process.stderr,), name="complaints", daemon=True
        ).start()
        if self.greeting:
            self.say(self.greeting)

    def say(self, line: bytes) -> None:
        """Write to the process's standard input; where it is gone there is nobody to hear it."""
        if self._process is not None and self._process.stdin is not None:
            with contextlib.suppress(OSError, ValueError):
                self._process.stdin.write(line)

    def seen(self, now_ns: int) -> None:
        """A frame was taken from the queue."""
        self._seen_ns = now_ns
        self.heard = True

    def check(self, now_ns: int) -> None:
        """Time passed: end the process if it hangs, start it again if it is due."""
        held_up, self._checked_ns = now_ns - self._checked_ns > HELD_UP_S * 1e9, now_ns
        if held_up and self._seen_ns is not None:
            self._seen_ns = now_ns
        if self._start_ns is not None and now_ns >= self._start_ns:
            self.start(now_ns)
        elif self._process is not None:
            since_ns = now_ns - (self._seen_ns if self._seen_ns is not None else self._started_ns)
            if since_ns > (SILENT_S if self._seen_ns is not None else FIRST_S) * 1e9:
                log.error("process %d that listens is silent: it is ended", self._process.pid)
                self._seen_ns = now_ns
                self._process.kill()

    def ended(self, now_ns: int) -> None:
        """``Ended`` was taken from the queue: plan the next start."""
        self._process = None
        if not self._again:
            return
        steady = now_ns - self._started_ns > STEADY_S * 1e9
        self._failures = 0 if steady else self._failures
        self._start_ns = now_ns + int(LATER_S[min(self._failures, len(LATER_S) - 1)] * 1e9)
        self._failures += 1

    def restart(self, command: Sequence[str]) -> None:
        """Go on with another process; the one that runs is ended."""
        self.command = list(command)
        self.kill()

    def kill(self) -> None:
        """End the process at once, whatever it has still to say."""
        if self._process is not None:
            self._process.kill()

    def stop(self) -> None:
        """End the process in an orderly way, or else by force. All its frames are in the queue
        after this."""
        self._again = False
        self._start_ns = None
        process, thread = self._process, self._thread
        if process is None or thread is None:
            return
        assert process.stdin is not None
        with contextlib.suppress(OSError):
            process.stdin.close()
        thread.join(STOP_S)
        if thread.is_alive():
            log.warning("process %d that listens does not end: it is ended by force", process.pid)
            process.kill()
            thread.join()

    def _listen(self, process: subprocess.Popen[bytes]) -> None:
        assert process.stdout is not None
        decoder = Decoder()
        fd = process.stdout.fileno()
        why = None
        try:
            while data := os.read(fd, 1 << 16):
                for frame in decoder.feed(data):
                    if self._queue.qsize() < QUEUED or not isinstance(frame, Message):
                        self._queue.put(Heard(frame))
                    else:
                        self.lost += 1
        except BadFrame as error:
            why = f"the process that listens sent nonsense: {error}"
            process.kill()
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(STOP_S)
        process.kill()
        status = process.wait()
        for stream in (process.stdin, process.stdout):
            with contextlib.suppress(OSError):
                if stream is not None:
                    stream.close()
        self._queue.put(Ended(why or _ending(status)))


def reader_command(driver: str | None, port: str | None) -> list[str]:
    """The command that listens to a MIDI port."""
    return spawn.at_port("livecheck.daemon.reader", driver, port)


def _ending(status: int) -> str:
    return (
        f"the process that listens was ended by signal {-status}"
        if status < 0
        else "the process that listens ended"
    )


def _complaints(stream: IO[bytes]) -> None:
    """Keep what C libraries print in the log, each line once, as far as it is bounded."""
    said: set[str] = set()
    with stream:
        for line in stream:
            text = line.decode("utf-8", "replace").strip()[:500]
            if text and text not in said and len(said) < COMPLAINTS:
                said.add(text)
                log.debug("it says: %s", text)
