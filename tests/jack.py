"""Real MIDI ports for tests: a JACK server of one's own, and a guitar that plays into it.

Both are processes of their own, since a client of a dying server cannot be trusted to survive it.
The guitar obeys one JSON command a line on standard input and answers each with one line.
"""

from __future__ import annotations

import contextlib
import itertools
import json
import os
import random
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest

TOOL = Path(__file__).resolve().parents[2] / "shared" / "tools" / "jack-midi.sh"
_numbers = itertools.count(1)


REGISTRY = Path("/dev/shm/jack-shm-registry")
_ENTRIES, _ENTRY, _MOST = 24, 264, 8  # where they begin, bytes of each, how many there can be


def _left_behind() -> str | None:
    """A name to use again where no new one has room: JACK knows eight servers and forgets none that
    was killed."""
    try:
        data = REGISTRY.read_bytes()
    except OSError:
        return None
    names = []
    for at in range(_ENTRIES, _ENTRIES + _MOST * _ENTRY, _ENTRY):
        pid = int.from_bytes(data[at : at + 4], "little")
        found = re.match(rb"jack-\d+:(livecheck-test-[\w-]+):", data[at + 4 : at + _ENTRY])
        if pid == 0:
            return None
        if found and not Path(f"/proc/{pid}").exists():
            names.append(found[1].decode("ascii"))
    return random.choice(names) if names else None


class Server:
    """A silent JACK server under a name of its own. ``environment`` is what its clients need."""

    def __init__(self, name: str | None = None) -> None:
        if not TOOL.exists():
            pytest.skip("needs ../shared/tools/jack-midi.sh, which starts a JACK server")
        self.name = name or _left_behind() or f"livecheck-test-{os.getpid()}-{next(_numbers)}"
        self.environment = {
            **os.environ,
            "JACK_DEFAULT_SERVER": self.name,
            "JACK_NO_START_SERVER": "1",
        }
        self._process = subprocess.Popen(
            ["bash", str(TOOL), sys.executable, "-c", "print('ready', flush=True); input()"],
            env=self.environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        assert self._process.stdout and self._process.stderr
        if self._process.stdout.readline() != "ready\n":
            pytest.skip(f"no JACK server can be had: {self._process.stderr.read().strip()[-200:]}")
        said = self._process.stderr.readline()
        found = re.search(r'server "(.*)" \(process (\d+)\)', said)
        assert found, said
        self.name, self.pid = found[1], int(found[2])
        self.environment["JACK_DEFAULT_SERVER"] = self.name

    def die(self, number: int = signal.SIGTERM) -> None:
        """End the server in the middle of its work."""
        os.kill(self.pid, number)
        self.stop()

    def stop(self) -> None:
        with contextlib.suppress(OSError, ValueError):
            self._process.communicate("\n", timeout=30)


@contextlib.contextmanager
def jack_server() -> Iterator[Server]:
    server = Server()
    try:
        yield server
    finally:
        server.stop()


class Guitar:
    """A sender with one output port, ``guitar:Hex out``."""

    def __init__(self, server: Server) -> None:
        self._process = subprocess.Popen(
            [sys.executable, str(Path(__file__)), "guitar"],
            env=server.environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,  # the library complains there when its server dies
            text=True,
        )

    def ask(self, **command: Any) -> Any:
        assert self._process.stdin and self._process.stdout
        self._process.stdin.write(json.dumps(command) + "\n")
        self._process.stdin.flush()
        return json.loads(self._process.stdout.readline())

    def plug(self) -> None:
        self.ask(do="plug")

    def unplug(self) -> None:
        self.ask(do="unplug")

    def play(self, notes: Sequence[tuple[float, bytes]]) -> list[int]:
        """Send messages at their times in seconds; returns the clock's nanoseconds just before each
        was sent."""
        return self.ask(  # type: ignore[no-any-return]
            do="play", notes=[[t_s, data.hex()] for t_s, data in notes]
        )

    def flood(self, seconds: float) -> int:
        """Send as fast as possible and do not wait for it; the next command's answer comes after
        it."""
        assert self._process.stdin
        self._process.stdin.write(json.dumps({"do": "flood", "seconds": seconds}) + "\n")
        self._process.stdin.flush()
        return self._process.pid

    def answer(self) -> Any:
        """The answer to ``flood``: how many messages were sent."""
        assert self._process.stdout
        return json.loads(self._process.stdout.readline())

    def kill(self) -> None:
        self._process.kill()
        self._process.communicate()


@contextlib.contextmanager
def guitar(server: Server) -> Iterator[Guitar]:
    player = Guitar(server)
    try:
        player.plug()
        yield player
        player.unplug()
    finally:
        player.kill()


def leave(process: subprocess.Popen[str], within_s: float = 10.0) -> None:
    """End a client at the end of what it is told, so that it closes its ports: a server stands
    still for 5 s where a client was killed, and keeps its place when it has to be killed itself."""
    with contextlib.suppress(subprocess.TimeoutExpired):
        process.communicate(timeout=within_s)
    process.kill()
    process.communicate()


def eventually(true: Callable[[], Any], within_s: float = 10.0) -> Any:
    """Wait until a condition holds, and return its value. Fails when it takes too long."""
    until = time.monotonic() + within_s
    while not (value := true()):
        assert time.monotonic() < until, f"not within {within_s} s"
        time.sleep(0.05)  # what is asked may be a whole journal, and others need the processor
    return value


def _guitar() -> None:
    from virtual import sends

    port: Any = None
    for line in sys.stdin:
        command = json.loads(line)
        answer: Any = None
        if command["do"] == "plug":
            port = sends("guitar", "Hex out")
        elif command["do"] == "unplug" and port is not None:
            time.sleep(0.02)  # what was sent last is still in its buffer
            port.delete()
            port = None
        elif command["do"] == "play" and port is not None:
            answer = _play(port.send, command["notes"])
        elif command["do"] == "flood" and port is not None:
            answer = 0
            until = time.monotonic() + command["seconds"]
            while time.monotonic() < until:
                for _ in range(20):
                    port.send(bytes([0x90, 60, 100]))
                answer += 20
                time.sleep(0.001)
        print(json.dumps(answer), flush=True)
    os._exit(0)


def _play(send: Callable[[bytes], None], notes: list[tuple[float, str]]) -> list[int]:
    sent = []
    begun_ns = time.perf_counter_ns() + 20_000_000
    for t_s, data in notes:
        due_ns = begun_ns + int(t_s * 1e9)
        while (left_ns := due_ns - time.perf_counter_ns()) > 0:
            time.sleep(left_ns / 1e9)
        sent.append(time.perf_counter_ns())
        send(bytes.fromhex(data))
    return sent


if __name__ == "__main__":
    _guitar()
