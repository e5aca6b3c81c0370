"""Run the recorder: one loop that takes what the reader, the control channel, the clock and signals
bring.

Owns the order of things: lock, log, reader, sessions, stop. Everything that changes the recorder's
state happens in this loop; other threads only put into its queue, or bring the journal to the
medium.
"""

from __future__ import annotations

import contextlib
import gc
import logging
import os
import signal
import subprocess
import threading
import time
from collections.abc import Callable
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any, NamedTuple

from ..control import STOPPING, Server
from ..errors import LivecheckError, NoDevice
from ..files.library import PracticeFolder
from . import spawn
from .beginning import look_for_room
from .clicking import Clicking, OfClick
from .frames import Down, End, Up
from .lock import Lock
from .logfile import start_log, stop_log
from .notify import Notifier
from .options import Options
from .recorder import Recorder
from .resting import RestCalls
from .source import Ended, Heard, Source, reader_command
from .suspend import SuspendCheck

log = logging.getLogger("livecheck.service")

TICK_NS = 250_000_000
SYNC_S = 1.0
# that the end waits for a session.mid under way; it is written to the end in any case
EXPORT_S = 20.0
STOP_S = 20.0  # that a command to stop waits for the session's end
MOST_FAULTS = 50  # told in the log


class Ask(NamedTuple):
    """A command came over the control channel; the answer goes into ``answer``."""

    fields: dict[str, Any]
    answer: SimpleQueue[Any]


class Wake(NamedTuple):
    """Stop or reload: from a signal, or because the parent is gone."""

    signal: int
    why: str


class Service:
    """A recorder at work, from ``run`` to the end."""

    def __init__(
        self,
        options: Options,
        on_ready: Callable[[Path | None], None],
        reload: Callable[[], Options] | None = None,
        watch_stdin: bool = False,
    ) -> None:
        self._options = options
        self._on_ready = on_ready
        self._reload = reload
        self._watch_stdin = watch_stdin
        self._queue: SimpleQueue[Any] = SimpleQueue()
        self._folder = PracticeFolder(options.home)
        self._recorder = Recorder(
            self._folder,
            rig=options.rig,
            cells=options.cells,
            silence_s=options.silence_s,
            on_end=self._export,
        )
        self._source = Source(self._command(), self._queue)
        self._clicking = Clicking(self._queue, self._recorder.click)
        self._rests = RestCalls(self._folder)
        self._notifier = Notifier()
        self._suspend = SuspendCheck()
        self._exports: list[subprocess.Popen[bytes]] = []
        self._why: str | None = None  # why it ends
        self._trouble: LivecheckError | None = None  # that it ends with
        self._stop_asked: list[Ask] = []  # answered when it is known what could be saved
        self._faults: set[str] = set()  # told already
        self._asked_to_stop = False
        self._ready = False
        self._ticked_ns = 0
        self._done = threading.Event()

    def run(self) -> int:
        """Record until told to stop. Returns the exit status; raises LivecheckError where it cannot
        begin."""
        server = Server(self._options.home, self._ask)
        try:
            now_ns = time.perf_counter_ns()
            if self._options.at_once:
                self._recorder.begin(now_ns)
            else:
                look_for_room(self._folder.recordings)
            self._source.start(now_ns)
            if not self._options.need_port:
                self._be_ready()
            threading.Thread(target=self._sync, name="sync", daemon=True).start()
            if self._watch_stdin:
                threading.Thread(target=self._await_parent, name="parent", daemon=True).start()
            gc.collect()
            gc.freeze()
            gc.set_threshold(50_000, 50, 100)  # no pauses of several ms for a full collection
            self._loop()
        finally:
            self._end()
            server.close()
        if self._trouble is not None:
            raise self._trouble
        return 0

    @property
    def unsaved(self) -> int:
        """Records that were lost for good, over all sessions."""
        return self._recorder.unsaved

    @property
    def lost_why(self) -> str | None:
        """Why the last of them were."""
        return self._recorder.lost_why

    def wake(self, number: int, _frame: object = None) -> None:
        """Handle a signal; a second request to stop is obeyed at once."""
        if number != signal.SIGHUP:
            if self._asked_to_stop:
                self._source.kill()
                self._clicking.kill()
                os._exit(128 + number)
            self._asked_to_stop = True
        self._queue.put(Wake(number, "stopped"))

    # ----------------------------------------------------------------------------------------- loop

    def _loop(self) -> None:
        while self._why is None:
            try:
                item = self._queue.get(timeout=TICK_NS / 1e9)
            except Empty:
                item = None
            now_ns = time.perf_counter_ns()
            try:
                if item is not None:
                    self._take(item, now_ns)
                if now_ns - self._ticked_ns >= TICK_NS:
                    self._ticked_ns = now_ns
                    self._tick(now_ns)
            except Exception as error:  # whatever it was, the next notes are written down
                self._say_fault(error)

    def _say_fault(self, error: Exception) -> None:
        """Each fault is told once."""
        if repr(error) not in self._faults and len(self._faults) < MOST_FAULTS:
            self._faults.add(repr(error))
            log.exception("a fault of the recorder, which goes on")

    def _take(self, item: Any, now_ns: int) -> None:
        if isinstance(item, Heard):
            self._source.seen(now_ns)
            self._recorder.take(item.frame)
            self._rests.heard(item.frame)
            if isinstance(item.frame, (Up, Down, End)):
                self._link(item.frame)
        elif isinstance(item, Ended):
            self._recorder.new_reader()
            if isinstance(self._recorder.link, Up):
                self._recorder.take(Down(now_ns, item.why))
            else:
                log.warning("%s", item.why)
            if self._options.source is not None and not self._source.heard:
                # a wrong command: it would do so again and again
                self._why = f"{item.why} before it said anything"
            self._source.ended(now_ns)
        elif isinstance(item, OfClick):
            self._clicking.take(item, now_ns)
        elif isinstance(item, Ask):
            if item.fields.get("command") == "stop":
                self._stop_asked.append(item)
                self._why = "stopped by command"
            else:
                item.answer.put(self._answer(item.fields, now_ns))
        elif isinstance(item, Wake):
            if item.signal == signal.SIGHUP:
                self._load_again(now_ns)
            else:
                self._why = item.why

    def _tick(self, now_ns: int) -> None:
        self._source.check(now_ns)
        self._clicking.check(now_ns)
        if (cue := self._rests.due(self._options.rest, now_ns)) is not None:
            self._clicking.command(cue, self._options.driver, now_ns)
        lost, self._source.lost = self._source.lost, 0
        if lost:
            self._recorder.gap(now_ns, lost, "the recorder did not keep up")
        slept_s = self._suspend.slept_s()
        if slept_s:
            why = f"the computer slept for {slept_s:.0f} s"
            self._recorder.take(Down(now_ns, why))
            self._recorder.end(why, now_ns)
            self._source.restart(self._command())
        self._recorder.tick(now_ns)
        self._exports = [export for export in self._exports if export.poll() is None]
        self._notifier.alive()

    def _link(self, frame: Up | Down | End) -> None:
        if isinstance(frame, End):
            self._why = frame.why
        elif self._options.need_port and not self._ready:
            if isinstance(frame, Up):
                self._be_ready()
            else:
                self._trouble = NoDevice(frame.why)
                self._why = frame.why

    def _be_ready(self) -> None:
        self._ready = True
        journal = self._recorder.journal
        self._notifier.ready("recording")
        self._on_ready(journal.folder if journal else None)

    def _answer(self, fields: dict[str, Any], now_ns: int) -> dict[str, Any] | LivecheckError:
        try:
            if fields.get("command") in ("click", "cue", "pedal", "follow-clock"):
                return self._clicking.command(fields, self._options.driver, now_ns)
            answer = self._recorder.command(fields, now_ns)
            return {**answer, "pid": os.getpid()} if fields["command"] == "status" else answer
        except LivecheckError as error:
            return error
        except Exception as error:
            self._say_fault(error)
            return LivecheckError(f"a fault of the recorder ({error!r:.200}); it goes on")

    def _load_again(self, now_ns: int) -> None:
        """Take the configuration anew; where it is broken, go on with what there is."""
        if self._reload is None:
            return
        try:
            options = self._reload()
            if options.rig is not None and options.rig != self._recorder.rig:
                self._recorder.use_rig(options.rig, now_ns)
            if options.cells != self._options.cells:  # else those that a command chose stay
                self._recorder.use_cells(list(options.cells), now_ns)
        except LivecheckError as error:
            log.error("the new configuration is not used: %s", error)
            return
        self._recorder.silence_s = options.silence_s
        before, self._options = self._command(), options
        if self._command() != before:
            self._source.restart(self._command())
        log.info("configuration loaded again")

    def _command(self) -> list[str]:
        if self._options.source is not None:
            return list(self._options.source)
        return reader_command(self._options.driver, self._options.wanted_port)

    # ------------------------------------------------------------------------------------------ end

    def _end(self) -> None:
        """Reader, then the queue to its end, then the session, then its files."""
        self._notifier.stopping()
        self._why = self._why or "a fault of the recorder"
        self._clicking.stop()
        self._source.stop()
        while True:
            try:
                item = self._queue.get_nowait()
            except Empty:
                break
            if isinstance(item, Heard):
                self._recorder.take(item.frame)
            elif isinstance(item, OfClick):
                self._clicking.take(item, time.perf_counter_ns())
            elif isinstance(item, Ask):
                if item.fields.get("command") == "stop":
                    self._stop_asked.append(item)
                else:
                    item.answer.put(NoDevice(STOPPING))
        now_ns = time.perf_counter_ns()
        status = self._recorder.status(now_ns)
        self._recorder.end(self._why, now_ns)
        self._done.set()
        told = {**status, "unsaved": self.unsaved, "trouble": self._recorder.lost_why}
        with contextlib.suppress(Empty):
            while True:  # what came meanwhile
                if isinstance(item := self._queue.get_nowait(), Ask):
                    self._stop_asked.append(item)
        for ask in self._stop_asked:
            ask.answer.put(told)
        until = time.monotonic() + EXPORT_S
        for export in self._exports:
            try:
                export.wait(max(0.0, until - time.monotonic()))
            except subprocess.TimeoutExpired:
                log.warning("session.mid is still being written")

    def _export(self, folder: Path) -> None:
        """Write session.mid in a process of its own: its work would hold up the notes."""
        if not self._options.export:
            return
        try:
            self._exports.append(spawn.start(spawn.module("livecheck.daemon.export", str(folder))))
        except OSError as error:
            log.error("session.mid is not written: %s", error)

    # -------------------------------------------------------------------------------- other threads

    def _ask(self, fields: dict[str, Any]) -> dict[str, Any]:
        """In a client's thread: hand the command to the loop and wait for its answer."""
        late = self._why is not None and fields.get("command") != "stop"
        if late or self._done.is_set():
            raise NoDevice(STOPPING)
        ask = Ask(fields, SimpleQueue())
        self._queue.put(ask)
        try:
            stop = fields.get("command") == "stop"
            answer = ask.answer.get(timeout=STOP_S if stop else 3.0)
        except Empty:
            answer = NoDevice("the recorder is busy; try again")
        if isinstance(answer, LivecheckError):
            raise answer
        return dict(answer)

    def _sync(self) -> None:
        while not self._done.wait(SYNC_S):
            try:
                self._recorder.sync()
            except Exception as error:
                self._say_fault(error)

    def _await_parent(self) -> None:
        with contextlib.suppress(OSError):
            while os.read(0, 4096):
                pass
        self._queue.put(Wake(0, "the console ended"))


def run_recorder(
    options: Options,
    *,
    on_ready: Callable[[Path | None], None] = lambda _session: None,
    reload: Callable[[], Options] | None = None,
    on_end: Callable[[int, str | None], None] = lambda _unsaved, _why: None,
    child: bool = False,
    to_terminal: bool = False,
) -> int:
    """Record in this process until told to stop.

    on_ready: called once, with the session's folder if one has begun. reload: gives the options
    anew after SIGHUP.
    child: stop when standard input closes. to_terminal: the log goes to standard error, too.
    Returns the exit status. Raises BadInput where another recorder runs in the folder or the disk
    does not allow a session, NoDevice where ``need_port`` is set and there is no port.
    """
    os.umask(0o077)
    with Lock(options.home):
        handlers = start_log(options.home, to_terminal)
        try:
            service = Service(options, on_ready, reload, watch_stdin=child)
            for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
                signal.signal(number, service.wake)
            status = service.run()
            on_end(service.unsaved, service.lost_why)
            return status
        except LivecheckError as error:
            log.error("%s", error)
            raise
        except BaseException:
            log.exception("a fault of the recorder")
            raise
        finally:
            stop_log(handlers)
