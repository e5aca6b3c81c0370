"""Whatever is said to the recorder over the control channel, it answers, goes on, and loses no
note.

LIVECHECK_ATTACKS (in the environment) multiplies how many commands the long run sends.
"""

from __future__ import annotations

import json
import os
import random
import socket
from typing import Any

import pytest
from test_service import fake, heard, numbers, reader_pid, recording, sent

from livecheck.control import Client, socket_paths

SIZE = int(os.environ.get("LIVECHECK_ATTACKS", "1"))
COMMANDS = ("mark", "cells", "variant", "click", "cue", "block", "status", "", "nothing", None, 7)
KEYS = (
    "text", "cells", "name", "port", "schedule", "bpm", "notes", "word", "reps", "begin_ns",
    "beats", "channel", "accent", "silent", "clock", "number", "rule", "variants", "slots",
)  # fmt: skip
RAW = (
    "NaN", "Infinity", "-Infinity", "1e999", "-1e999", "9" * 5000, "9" * 4000, "1e308", "-0.0",
    "0", "-1", "1", "2147483648", "9223372036854775808", "true", "null", "[]", "{}", '""',
    '"x"', '"\\ud800"', '"\\u0000"', '"\\u001b[2J\\r\\n"', '"\\u202e"', '"/("', '"/(a+)+$/"',
    "[" * 400 + "]" * 400, '{"a":' * 300 + "1" + "}" * 300, '"' + "y" * 100_000 + '"',
    '{"name":NaN}', '[{"name":NaN}]', '[{"name":"two","slots":[[2,1e999]]}]', '[{"name":"x"}]',
    '[{"name":"two","slots":[[2,10],[3,12]],"variants":{"a":7}}]', '[[]]', "[null]",
)  # fmt: skip
CELL = '{"name":"two","slots":[[2,10],[3,12]],"tempo":100}'


def value(chance: random.Random, depth: int = 0) -> str:
    """Some value as JSON, or what looks like it."""
    if depth < 3 and chance.random() < 0.35:
        parts = [value(chance, depth + 1) for _ in range(chance.randint(0, 4))]
        if chance.random() < 0.5:
            return "[" + ",".join(parts) + "]"
        return "{" + ",".join(f'"{chance.choice(KEYS)}":{part}' for part in parts) + "}"
    if chance.random() < 0.1:
        return CELL
    return chance.choice(RAW)


def command(chance: random.Random) -> bytes:
    """A line that a client may send: mostly a command with hostile values, sometimes only bytes."""
    if chance.random() < 0.1:
        return chance.randbytes(chance.randint(0, 300)) + b"\n"
    fields = [f'"command":{json.dumps(chance.choice(COMMANDS))}']
    fields += [f'"{chance.choice(KEYS)}":{value(chance)}' for _ in range(chance.randint(0, 4))]
    chance.shuffle(fields)
    line = "{" + ",".join(fields) + "}"
    if chance.random() < 0.05:
        line = line[: chance.randint(0, len(line))]
    return line.encode("utf-8", "surrogatepass") + b"\n"


def say(home: Any, line: bytes) -> dict[str, Any]:
    """Send a line as it is; the answer."""
    with socket.socket(socket.AF_UNIX) as peer:
        peer.settimeout(10)
        peer.connect(os.fspath(next(iter(socket_paths(home)))))
        peer.sendall(line)
        answer = b""
        while piece := peer.recv(1 << 16):
            answer += piece
    told: dict[str, Any] = json.loads(answer)
    return told


@pytest.fixture
def home(tmp_path, short_path, monkeypatch):
    """A practice folder, and a runtime folder of the test's own."""
    (short_path / "run").mkdir()
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(short_path / "run"))
    folder = tmp_path / "home"
    folder.mkdir()
    return folder


def attack(home: Any, many: int, seed: int) -> int:
    """Send so many commands to a recorder at work; returns how many it refused."""
    refused = 0
    with recording(fake(home)) as recorder:
        heard(recorder, 20)
        reader = reader_pid(recorder)
        for number in range(many):
            line = command(random.Random(f"control {seed} {number}"))
            answer = say(home, line)
            refused += not answer["ok"]
            assert "fault" not in str(answer.get("error")), (number, line[:300], answer)
            assert "\n" not in str(answer.get("error")), (number, line[:300], answer)
            assert recorder.poll() is None, (number, line[:300])
        assert Client(home).ask({"command": "status"})["notes"] > 0
        recorder.stop()
    assert numbers(recorder.session)[reader] == list(range(sent(home, reader)[0]))
    return refused


def test_no_command_ends_the_recorder(home):
    """Values of every kind in every place, and bytes; what is refused is refused in a line."""
    assert attack(home, 150, seed=1) > 50


@pytest.mark.long
def test_thousands_of_commands_do_not_end_the_recorder(home):
    """More of them; LIVECHECK_ATTACKS times as many where that is set."""
    many = 6000 * SIZE
    print(many, "commands, refused:", attack(home, many, seed=2))


@pytest.mark.parametrize("name", ["NaN", "Infinity", "1e999"])
def test_a_name_that_is_no_number_of_json_is_refused(home, name):
    """It once ended the recorder."""
    with recording(fake(home)) as recorder:
        heard(recorder, 5)
        line = b'{"command":"cells","cells":[{"name":%b}]}\n' % name.encode()
        assert say(home, line) == {
            "ok": False,
            "error": "the command is no JSON object on one line",
        }
        assert recorder.poll() is None
