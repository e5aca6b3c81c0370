"""The whole way from a real MIDI port into the journal: nothing lost, right times, and every
interruption survived."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from statistics import median

import pytest
from jack import Guitar, Server, eventually, guitar, jack_server

from livecheck.control import Client
from livecheck.core.events import Gap, Link, Midi
from livecheck.daemon.frames import Decoder, Message
from livecheck.daemon.options import Options
from livecheck.daemon.process import start_recorder
from livecheck.errors import NoDevice
from livecheck.files.journal import read

pytestmark = pytest.mark.jack

CRASHED = "the process that listens was ended by signal 11"
# on a machine that is busy with other work; see tests/benchmarks/bench_latency.py for what it is at
# rest
LATE_MS = 50.0  # of the middle one, on a busy machine too; bench_latency.py measures


@pytest.fixture(scope="module")
def server():
    with jack_server() as server:
        yield server


@pytest.fixture
def home(tmp_path, short_path, monkeypatch):
    (short_path / "run").mkdir()
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(short_path / "run"))
    return tmp_path


@contextlib.contextmanager
def recording(home, server, monkeypatch, **more):
    """A recorder that listens to the guitar."""
    for key in ("JACK_DEFAULT_SERVER", "JACK_NO_START_SERVER"):
        monkeypatch.setenv(key, server.environment[key])
    told = {"port": "Hex", "at_once": True, "export": False, **more}
    recorder = start_recorder(Options(home, driver="jack", **told))
    try:
        yield recorder
    finally:
        recorder.stop()


def link(home):
    return Client(home).ask({"command": "status"})["link"]


def records(recorder):
    return list(read(recorder.session))


def numbered(count, pause_s=0.01, offset=0):
    """Messages that are all different."""
    return [
        (
            number * pause_s,
            bytes([0x90, (offset + number) // 127 % 127, 1 + (offset + number) % 127]),
        )
        for number in range(count)
    ]


def test_every_message_arrives_once_with_a_right_time(server, home, monkeypatch):
    """Notes one by one, six at once, controllers, bends, and a long system exclusive message."""
    notes = numbered(200)
    chord = [(2.1, bytes([0x90 + channel, 64, 100])) for channel in range(6)]
    others = [
        (2.2, bytes([0xE3, 5, 70])),
        (2.25, bytes([0xB0, 101, 0])),
        (2.3, bytes([0xF0, *[7] * 3000, 0xF7])),
    ]
    with guitar(server) as player, recording(home, server, monkeypatch, need_port=True) as recorder:
        sent_ns = player.play([*notes, *chord, *others])
        time.sleep(0.2)
    zero_ns = read(recorder.session).head.perf_ns
    found = [record for record in records(recorder) if isinstance(record, Midi)]
    assert [record.data for record in found] == [data for _, data in [*notes, *chord, *others]]
    late_ms = [
        record.t_s * 1e3 - (t_ns - zero_ns) / 1e6
        for record, t_ns in zip(found, sent_ns, strict=True)
    ]
    assert min(late_ms) >= 0 and median(late_ms) < LATE_MS, late_ms


def test_clock_and_active_sensing_are_left_out(server, home, monkeypatch):
    """24 clocks a beat and a sensing byte every 300 ms are no playing (sources.md M-31); start and
    stop pass."""
    data = [bytes([0xF8]), bytes([0xFE]), bytes([0xFA]), bytes([0xFC]), bytes([0x90, 1, 1])]
    with guitar(server) as player, recording(home, server, monkeypatch, need_port=True) as recorder:
        player.play([(number * 0.02, message) for number, message in enumerate(data)])
        time.sleep(0.2)
    assert [record.data for record in records(recorder) if isinstance(record, Midi)] == data[2:]


def test_without_the_port_a_console_is_told_what_there_is(server, home, monkeypatch):
    """It ends with the names there are, and leaves nothing behind."""
    line = 'no MIDI port matches "Nix"; there are: "guitar:Hex out"'
    asked = recording(home, server, monkeypatch, port="Nix", need_port=True)
    with guitar(server), pytest.raises(NoDevice, match=line), asked:
        pass
    assert list((home / "recordings").iterdir()) == []


def unplug(server, home, monkeypatch, times):
    """Pull the cable again and again: noticed within a second, back within a second, nothing lost
    between."""
    sent, lost_s, back_s = [], [], []
    with recording(home, server, monkeypatch) as recorder:
        for turn in range(times):
            with guitar(server) as player:
                begun = time.monotonic()
                eventually(lambda: link(home)["up"])
                back_s.append(time.monotonic() - begun)
                notes = numbered(5, 0.002, turn * 5)
                player.play(notes)
                sent += [data for _, data in notes]
                time.sleep(0.05)
            begun = time.monotonic()
            eventually(lambda: not link(home)["up"])
            lost_s.append(time.monotonic() - begun)
    found = records(recorder)
    assert [record.data for record in found if isinstance(record, Midi)] == sent
    links = [record for record in found if isinstance(record, Link)]
    assert [record.up for record in links if record.port.startswith("guitar:Hex out")] == [
        True,
        False,
    ] * times
    assert "guitar:Hex out was unplugged" in {record.port for record in links}
    assert max(lost_s) < 1.0 and max(back_s) < 1.0, (max(lost_s), max(back_s))
    print(f"noticed after {max(lost_s):.2f} s at most, back after {max(back_s):.2f} s")


def test_a_pulled_cable_is_noticed_and_the_port_reopened(server, home, monkeypatch):
    """Three times."""
    unplug(server, home, monkeypatch, 3)


@pytest.mark.long
def test_two_hundred_pulled_cables(server, home, monkeypatch):
    """The same process for all of them."""
    unplug(server, home, monkeypatch, 200)


def test_a_port_that_comes_back_at_once_is_reopened(server, home, monkeypatch):
    """Between two looks at the list of ports: the name is there as before, but nothing comes from
    it any more."""
    sent = []
    with guitar(server) as player, recording(home, server, monkeypatch) as recorder:
        for turn in range(4):
            eventually(lambda: link(home)["up"])
            ups = len(
                [record for record in records(recorder) if isinstance(record, Link) and record.up]
            )
            player.unplug()
            player.plug()
            eventually(
                lambda ups=ups: (
                    len([one for one in records(recorder) if isinstance(one, Link) and one.up])
                    > ups
                ),
                within_s=2,
            )
            notes = numbered(5, 0.01, turn * 5)
            player.play(notes)
            sent += [data for _, data in notes]
            wanted = len(sent)
            eventually(
                lambda n=wanted: (
                    len([one for one in records(recorder) if isinstance(one, Midi)]) == n
                )
            )
    assert [record.data for record in records(recorder) if isinstance(record, Midi)] == sent


def server_deaths(home, monkeypatch, times):
    """The server dies and comes back: a new reader, and play goes on in the same session."""
    sent = []
    server = Server()
    with recording(home, server, monkeypatch) as recorder:
        for turn in range(times):
            player = Guitar(server)
            player.plug()
            eventually(lambda: link(home)["up"], within_s=15)
            notes = numbered(5, 0.002, turn * 5)
            player.play(notes)
            sent += [data for _, data in notes]
            time.sleep(0.1)
            server.die(signal.SIGKILL if turn % 2 else signal.SIGTERM)
            eventually(lambda: not link(home)["up"], within_s=3)
            player.kill()
            server = Server(server.name)
            assert server.environment["JACK_DEFAULT_SERVER"] == os.environ["JACK_DEFAULT_SERVER"]
    server.stop()
    found = records(recorder)
    assert [record.data for record in found if isinstance(record, Midi)] == sent
    links = [record for record in found if isinstance(record, Link)]
    lost = [
        after.port
        for before, after in zip(links, links[1:], strict=False)
        if before.up and not after.up
    ]
    # The library tells its client, or crashes it before it can: either way there is a new reader.
    assert len(lost) == times and {why for why in lost if "JACK server has ended" not in why} <= {
        CRASHED
    }
    assert not [record for record in found if isinstance(record, Gap)]


def test_the_sound_server_dies_and_comes_back(home, monkeypatch):
    """Once."""
    server_deaths(home, monkeypatch, 1)


@pytest.mark.long
def test_fifty_deaths_of_the_sound_server(home, monkeypatch):
    """By SIGTERM and SIGKILL in turn."""
    server_deaths(home, monkeypatch, 50)


def close_under_flood(server, times):
    """Close while messages come as fast as they can: the process ends by itself, and what it sent
    is whole."""
    with guitar(server) as player:
        for _ in range(times):
            reader = subprocess.Popen(
                [sys.executable, "-m", "livecheck.daemon.reader", "--driver=jack", "--port=Hex"],
                cwd=Path(__file__).resolve().parents[2],
                env=server.environment,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
            )
            player.flood(1.2)
            decoder = Decoder()
            found = []
            until = time.monotonic() + 0.6
            while time.monotonic() < until:
                found += decoder.feed(os.read(reader.stdout.fileno(), 1 << 16))
            reader.stdin.close()
            while data := os.read(reader.stdout.fileno(), 1 << 16):
                found += decoder.feed(data)
            assert reader.wait(timeout=10) == 0
            reader.stdout.close()
            assert player.answer() > 1000
            messages = [frame for frame in found if isinstance(frame, Message)]
            assert len(messages) > 100 and {frame.data for frame in messages} == {
                bytes([0x90, 60, 100])
            }


def test_a_port_is_closed_under_a_flood_of_messages(server):
    """Closing while a callback waits for the interpreter would hang for good."""
    close_under_flood(server, 2)


@pytest.mark.long
def test_ports_are_closed_under_floods(server):
    """300 times."""
    close_under_flood(server, 300)
