"""The loop: what it shows, when it ends, and how it leaves the terminal. Time is counted by
hand."""

from __future__ import annotations

import fcntl
import gc
import io
import os
import pty
import signal
import struct
import termios
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import TextIO

import pyte
import pytest
from console_sample import session_records

from livecheck.console.keys import Keys
from livecheck.console.live import can_draw, run_console
from livecheck.console.source import Following, Paced
from livecheck.core.cell import Cell
from livecheck.core.events import Ask, Foot, Link, Midi, Record, RepDone, Repetition
from livecheck.core.gestures import Gesture
from livecheck.core.hands import Hands, Wanted
from livecheck.core.pedal import Pedal
from livecheck.core.rig import Rig
from livecheck.session import Session

TERMINAL = {"TERM": "xterm-256color"}


class Clock:
    """Seconds that pass only when the loop waits."""

    def __init__(self) -> None:
        self.now_s = 100.0

    def __call__(self) -> float:
        return self.now_s


class Typed(Keys):
    """Keys pressed at given moments of the clock, without a terminal."""

    def __init__(self, clock: Clock, keys: dict[float, str] | None = None) -> None:
        super().__init__(io.StringIO())
        self._clock = clock
        self._keys = sorted((keys or {}).items())

    def wait(self, seconds: float) -> str:
        self._clock.now_s += seconds
        if self._keys and self._clock.now_s - 100.0 >= self._keys[0][0]:
            return self._keys.pop(0)[1]
        return ""


class Acting:
    """Notes down what is asked for."""

    keys = "q stop"

    def __init__(self, asked: list[str], hands: Hands | None = None) -> None:
        self.hands, self.asked = hands, asked
        self.stretches: list[int] = []

    def act(self, action: str, cell: Cell | None) -> str | None:
        self.asked.append(action)
        return f"done: {action}"

    def mark(self, text: str) -> None:
        self.asked.append(text)

    def paused(self, reps: Sequence[Repetition]) -> None:
        self.stretches.append(len(reps))


class Endless:
    """A source from which more could always come."""

    ended = False
    behind_s = 0.0

    def __init__(self, records: Iterable[Record] = (), when_asked: object = None) -> None:
        self._records = list(records)
        self._when_asked = when_asked

    def poll(self) -> list[Record]:
        if callable(self._when_asked):
            self._when_asked()
        given, self._records = self._records, []
        return given

    def certain_s(self) -> float | None:
        return None


@contextmanager
def terminal(width: int = 80, height: int = 24) -> Iterator[tuple[TextIO, pyte.Screen]]:
    """A terminal of that size: the stream to write to, and what it shows after the block."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", height, width, 0, 0))
    screen = pyte.Screen(width, height)
    parser = pyte.ByteStream(screen)
    os.set_blocking(ours, False)

    class Draining(io.TextIOWrapper):
        """Empties the terminal as it is written, so that its buffer never fills."""

        def flush(self) -> None:
            super().flush()
            try:
                while chunk := os.read(ours, 65536):
                    sent.append(chunk)
                    parser.feed(chunk)
            except OSError:
                pass

    sent: list[bytes] = []
    stream = Draining(os.fdopen(theirs, "wb", buffering=0), encoding="utf-8", write_through=True)
    screen.sent = sent  # type: ignore[attr-defined]
    try:
        yield stream, screen
    finally:
        stream.close()
        os.close(ours)


def run_plain(source: object, **more: object) -> tuple[str, str]:
    """Plain output and the reason why it ended."""
    clock = more.pop("clock", None) or Clock()
    out = io.StringIO()
    given = run_console(
        source, plain=True, out=out, keys=Typed(clock), now=clock, environment={}, **more
    )
    return out.getvalue(), given.why


def test_a_saved_session_is_printed_a_line_a_repetition() -> None:
    """Told as fast as it can be judged: caution, entries, repetitions in order, summary; then it
    ends by itself."""
    text, why = run_plain(Paced(session_records(3, missing=[(2, 3)]), speed=None))
    lines = text.splitlines()
    assert why == "end"
    assert lines[0].startswith("note ") and "clinician" in lines[0]
    assert [line.split("  ")[2] for line in lines if line.startswith("rep ")] == [
        "######",
        "##_###",
        "######",
    ]
    assert "3 repetitions in 1 take, 0:00:03 played." in lines
    assert "stop 0:00:07 stopped: asked to" in lines


def test_a_replay_that_is_cut_off_does_not_say_that_there_was_nothing() -> None:
    """What was not shown may still have come; a session that was shown to its end holds what was
    found."""
    clock = Clock()
    records = [*session_records(3)[:2], Midi(1.0, bytes([0x95, 40, 80])), Link(9.0, False, "gone")]
    text, why = run_plain(Paced(records, 1.0, clock), clock=clock, seconds=2.0, practising=False)
    assert why == "time" and "No repetition: stopped at 0:00:02, before one was found." in text
    text, why = run_plain(Paced(records, None), practising=False)
    assert (
        why == "end"
        and "No repetition: notes came, but no repetition of the cell was found." in text
    )


def test_the_console_judges_as_the_session_does() -> None:
    """However the records are cut up and whatever ticks come between, the repetitions are those of
    one plain fold."""
    records = session_records(4, missing=[(1, 2), (4, 6)])
    folded = [
        outcome.repetition
        for outcome in Session().feed_all(records)
        if isinstance(outcome, RepDone)
    ]
    clock = Clock()
    paced = run_console(
        Paced(records, 1.0, clock),
        plain=True,
        out=io.StringIO(),
        keys=Typed(clock),
        now=clock,
        environment={},
    )
    shown = [item for item in paced.model.log if not hasattr(item, "kind")]
    assert [(rep.rep, [s.verdict for s in rep.slots], rep.tempo_bpm) for rep in shown] == [
        (rep.rep, [s.verdict for s in rep.slots], rep.tempo_bpm) for rep in folded
    ]


def test_a_pace_is_kept() -> None:
    """At double speed a record comes when half its time has passed, not before."""
    clock = Clock()
    paced = Paced([Link(1.0, True, "a"), Link(3.0, True, "b")], 2.0, clock)
    assert [record.port for record in paced.poll()] == ["a"]
    clock.now_s += 0.99
    assert paced.poll() == [] and paced.certain_s() == pytest.approx(2.98) and not paced.ended
    clock.now_s += 0.01
    assert [record.port for record in paced.poll()] == ["b"] and paced.ended


def test_a_followed_journal_gives_time_only_when_it_is_read_to_its_end() -> None:
    """Time is certain half a second behind the clock, and unknown before the head or with records
    still waiting."""

    class Head:
        perf_ns = 40_000_000_000

    class Journal:
        head: Head | None = None
        records: list[Record] = []  # noqa: RUF012

        def poll(self, limit: int = 0) -> list[Record]:
            given, self.records = self.records, []
            return given

    journal, clock = Journal(), Clock()
    following = Following(journal, clock)
    assert following.poll() == [] and following.certain_s() is None
    journal.head = Head()
    assert following.behind_s == 0.0
    journal.records = [Link(index / 1000, True, "a") for index in range(150)]
    assert len(following.poll()) == 100 and following.certain_s() is None
    assert following.behind_s == pytest.approx(59.9)
    assert len(following.poll()) == 50 and following.certain_s() == pytest.approx(59.5)
    assert following.behind_s == 0.0


def test_time_is_not_certain_while_the_recorder_holds_something_back() -> None:
    """A full disk looks like silence; what was played meanwhile comes later, and nothing may have
    been told of it."""

    class Journal:
        class head:
            perf_ns = 40_000_000_000

        def poll(self, limit: int = 0) -> list[Record]:
            return []

    clock = Clock()
    following = Following(Journal(), clock)
    following.written_until(99.0)
    assert following.certain_s() == pytest.approx(58.5)
    clock.now_s += 30.0
    assert following.certain_s() == pytest.approx(58.5)
    following.written_until(129.5)
    assert following.certain_s() == pytest.approx(89.0)


def test_one_who_comes_late_sees_how_far_it_has_come_and_then_the_log() -> None:
    """No frame of the log before all of it was gone through; after a second a line tells where that
    is."""
    clock = Clock()
    seen: list[str] = []
    with terminal() as (stream, screen):
        source = Endless(session_records(40, stop=False))
        records = list(source._records)

        def part() -> list[Record]:
            clock.now_s += 0.5
            given = records[:100]
            del records[:100]
            source.behind_s = 25.0 if records else 0.0  # type: ignore[misc]
            return given

        source.poll = part  # type: ignore[method-assign]
        keys = Typed(clock, {9.0: "q"})
        waiting = keys.wait

        def wait(seconds: float) -> str:
            seen.append("\n".join(line.rstrip() for line in screen.display if line.strip()))
            return waiting(seconds)

        keys.wait = wait  # type: ignore[method-assign]
        given = run_console(source, out=stream, keys=keys, now=clock, environment=TERMINAL)
    assert given.why == "key"
    frames = [
        frame.split("\n")[0].strip()
        for frame, before in zip(seen, ["", *seen])
        if frame and frame != before
    ]
    assert frames[0].startswith("Catching up with the session: 0:00:") and frames[0].endswith(
        "of 0:00:55"
    )
    assert not frames[-1].startswith("Catching") and "40  ■  ■" in seen[-1]


def test_it_draws_on_the_alternate_screen_and_leaves_it() -> None:
    """The cursor is hidden and shown again, the alternate screen entered and left, and the summary
    is what remains."""
    clock = Clock()
    with terminal() as (stream, screen):
        given = run_console(
            Paced(session_records(2), None),
            out=stream,
            keys=Typed(clock),
            now=clock,
            environment=TERMINAL,
        )
        stream.flush()
        sent = b"".join(screen.sent)
    assert given.why == "end"
    assert (
        sent.index(b"\x1b[?1049h") < sent.index(b"\x1b[?1049l") and sent.count(b"\x1b[?1049l") == 1
    )
    assert sent.rindex(b"\x1b[?25h") > sent.rindex(b"\x1b[?25l")
    assert b"2 repetitions in 1 take" in sent[sent.index(b"\x1b[?1049l") :]


def test_the_screen_shows_the_log_while_it_runs() -> None:
    """What a terminal shows before the end is the view: heads, repetitions, the key line."""
    clock = Clock()
    seen: list[str] = []
    with terminal() as (stream, screen):
        source = Endless(session_records(3, missing=[(2, 3)], stop=False))
        keys = Typed(clock, {0.5: "x", 1.0: "q"})
        waiting = keys.wait

        def wait(seconds: float) -> str:
            seen[:] = [line.rstrip() for line in screen.display]
            return waiting(seconds)

        keys.wait = wait  # type: ignore[method-assign]
        given = run_console(source, out=stream, keys=keys, now=clock, environment=TERMINAL)
    assert given.why == "key"
    assert seen[0].startswith(" six across a skip") and "q stop" in seen[-1]
    assert any("2  ■  ■  _  ■  ■  ■" in line for line in seen)


def test_no_more_frames_than_changes() -> None:
    """Where nothing happens nothing is sent."""
    clock = Clock()
    with terminal() as (stream, screen):
        source = Endless(session_records(1, stop=False))
        run_console(
            source, out=stream, keys=Typed(clock, {20.0: "q"}), now=clock, environment=TERMINAL
        )
        stream.flush()
        frames = b"".join(screen.sent).count(b"q stop")
    assert frames <= 2


def test_f_changes_to_the_far_view_and_back() -> None:
    """The far view is drawn in blocks; f again brings the log back."""
    clock = Clock()
    with terminal() as (stream, screen):
        source = Endless(session_records(2, stop=False))
        run_console(
            source,
            out=stream,
            keys=Typed(clock, {1.0: "f", 2.0: "q"}),
            now=clock,
            environment=TERMINAL,
        )
        stream.flush()
        sent = b"".join(screen.sent).decode()
    assert "████" in sent


def test_no_colour_where_none_is_wanted() -> None:
    """With NO_COLOR set no colour is sent; bold and faint remain."""
    clock = Clock()
    with terminal() as (stream, screen):
        run_console(
            Endless(session_records(2, stop=False)), out=stream, keys=Typed(clock, {0.5: "q"}),
            now=clock, environment={**TERMINAL, "NO_COLOR": "1"},
        )  # fmt: skip
        stream.flush()
        sent = b"".join(screen.sent)
    assert b"38;" not in sent and "■".encode() in sent


@pytest.mark.parametrize("environment", [{}, {"TERM": "dumb"}, {"TERM": ""}])
def test_a_terminal_that_cannot_place_text_gets_plain_lines(environment: dict[str, str]) -> None:
    """A dumb terminal, or one of unknown kind, is written to line by line."""
    clock = Clock()
    with terminal() as (stream, screen):
        assert not can_draw(stream, environment)
        run_console(
            Paced(session_records(1), None),
            out=stream,
            keys=Typed(clock),
            now=clock,
            environment=environment,
        )
        stream.flush()
        sent = b"".join(screen.sent)
    assert b"\x1b" not in sent and b"rep 1  " in sent


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP, signal.SIGINT])
def test_a_signal_ends_it_in_good_order(number: signal.Signals) -> None:
    """The alternate screen is left, what was pending is told, the handlers are those from
    before."""
    before = signal.getsignal(number)
    clock = Clock()
    with terminal() as (stream, screen):
        source = Endless(
            session_records(2, stop=False),
            lambda: clock.now_s > 101 and os.kill(os.getpid(), number),
        )
        given = run_console(source, out=stream, keys=Typed(clock), now=clock, environment=TERMINAL)
        stream.flush()
        sent = b"".join(screen.sent)
    assert given.why == "signal" and given.model.reps == 2
    assert sent.count(b"\x1b[?1049l") == 1 and b"2 repetitions" in sent
    assert signal.getsignal(number) is before


def test_it_ends_after_so_many_seconds() -> None:
    """``seconds`` counts on the clock that is handed in."""
    clock = Clock()
    _, why = run_plain(Endless(), seconds=12.0, clock=clock)
    assert why == "time" and clock.now_s == pytest.approx(112.0, abs=0.1)


@pytest.mark.parametrize("after", [0, 3, 8])
def test_a_lost_terminal_ends_it_quietly(after: int) -> None:
    """When writing fails, wherever it does, the loop ends without a traceback."""

    class Lost(io.StringIO):
        drawn = False
        left = after

        def write(self, text: str) -> int:
            self.left -= 1
            if self.left < 0:
                raise OSError(5, "Input/output error")
            return super().write(text)

        def isatty(self) -> bool:
            return self.drawn

    for drawn in (False, True):
        clock, out = Clock(), Lost()
        out.drawn = drawn
        source, keys = Endless(session_records(9, stop=False)), Typed(clock, {9.0: "q"})
        assert (
            run_console(source, out=out, keys=keys, now=clock, environment=TERMINAL).why
            == "terminal"
        )


def test_marks_and_disk_trouble_go_through() -> None:
    """m calls for a mark, n and v say how the next take begins; what is not being saved is asked
    for twice a second and told when it changes."""
    clock, marks, asked = Clock(), [], []

    def trouble() -> str | None:
        asked.append(clock.now_s)
        return "no space left" if 103 < clock.now_s < 106 else None

    out, keys = io.StringIO(), Typed(clock, {1.0: "m", 2.0: "n", 3.0: "V", 10.0: "q"})
    run_console(
        Endless(), plain=True, out=out, keys=keys, now=clock, environment={},
        acting=Acting(marks), trouble=trouble,
    )  # fmt: skip
    assert marks == ["mark", "down", "up"]
    assert [line for line in out.getvalue().splitlines() if line.startswith("disk")] == [
        "disk not saved: no space left",
        "disk saved again",
    ]
    assert 19 <= len(asked) <= 21


def test_the_garbage_collector_is_put_back() -> None:
    """The loop's own thresholds end with it."""
    before = gc.get_threshold()
    run_plain(Paced(session_records(1), None))
    assert gc.get_threshold() == before


def test_keys_put_the_terminal_back() -> None:
    """Single keys need other settings; afterwards they are as they were."""
    ours, theirs = pty.openpty()
    with os.fdopen(theirs) as source:
        before = termios.tcgetattr(theirs)
        with Keys(source) as keys:
            os.write(ours, b"f")
            assert termios.tcgetattr(theirs) != before
            assert keys.wait(5.0) == "f"
        assert termios.tcgetattr(theirs) == before
    os.close(ours)


HANDS = Wanted(
    (Gesture(None, 0, 2, "again"),),
    ((Pedal("control", 64), False, "next-cell"), (Pedal("program", 5), False, "up")),
)


def low_string(at_s: float) -> list[Midi]:
    """The open low string twice, the second one ringing."""
    on, off = bytes((0x95, 40, 90)), bytes((0x85, 40, 0))
    return [Midi(at_s, on), Midi(at_s + 0.35, off), Midi(at_s + 0.4, on), Midi(at_s + 1.6, off)]


def obeyed(records: list[Record], hands: Wanted, keys: dict[float, str]) -> tuple[list[str], str]:
    """What was asked for of a console that shows these records, and what it printed."""
    clock, asked, out = Clock(), [], io.StringIO()
    acting = Acting(asked, Hands(hands, None, Rig()))
    source = Endless(records)
    source.certain_s = lambda: 30.0  # type: ignore[method-assign]
    run_console(
        source,
        plain=True,
        out=out,
        keys=Typed(clock, keys),
        now=clock,
        environment={},
        acting=acting,
    )
    return asked, out.getvalue()


def test_gestures_pedals_and_asks_are_obeyed_and_only_where_they_are_mapped() -> None:
    """Each once, in order; what was done is a line; keys ask for the same."""
    records = [
        *low_string(5.0),
        Foot(8.0, bytes((0xB3, 64, 127))),
        Midi(9.0, bytes((0xC0, 5))),
        Foot(9.5, bytes((0xB3, 65, 127))),
        Ask(10.0, "mark"),
    ]
    asked, printed = obeyed(records, HANDS, {1.0: "w", 2.0: "W", 3.0: "C", 4.0: "x", 5.0: "q"})
    assert asked == [
        "again", "next-cell", "up", "mark", "next-variant", "previous-variant", "previous-cell"
    ]  # fmt: skip
    assert "ask 0:00:" in printed and "done: next-cell" in printed
    asked, _ = obeyed(records, Wanted(), {5.0: "q"})
    assert asked == ["mark"]


def test_stop_by_hand_ends_it_as_the_key_does() -> None:
    """Without a key."""
    clock, out = Clock(), io.StringIO()
    acting = Acting([], Hands(Wanted(), None, Rig()))
    records = [*session_records(3, stop=False), Ask(60.0, "stop")]
    summary = run_console(
        Endless(records), plain=True, out=out, keys=Typed(clock), now=clock, environment={},
        acting=acting,
    )  # fmt: skip
    assert (summary.why, acting.asked) == ("key", ["stop"])


def test_a_stretch_of_play_is_told_once_its_pause_is_certain() -> None:
    """All of its repetitions, once."""
    clock, out = Clock(), io.StringIO()
    acting = Acting([], Hands(Wanted(), None, Rig()))
    source = Endless(session_records(4, stop=False))
    source.certain_s = lambda: 0.0 if clock.now_s < 105.0 else 200.0  # type: ignore[method-assign]
    run_console(
        source, plain=True, out=out, keys=Typed(clock, {9.0: "q"}), now=clock, environment={},
        acting=acting,
    )  # fmt: skip
    assert len(acting.stretches) == 1 and acting.stretches[0] >= 3
