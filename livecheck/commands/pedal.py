"""Learn a switch: wait until it is pressed, say which message that is, keep what it asks for."""

from __future__ import annotations

import os
import select
import subprocess
import time
from argparse import Namespace
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TextIO

from ..core.hands import Mapped, written
from ..core.pedal import CONTROL, Pedal, pressed
from ..daemon import spawn
from ..daemon.carry import SETTINGS
from ..daemon.frames import Decoder, Down, Message, Up
from ..daemon.ports import matcher
from ..daemon.source import reader_command
from ..errors import BadInput, NoDevice
from ..files.pedaledit import put_pedal
from .choice import Choice, practice_folder
from .common import near_path, print_json

LOOK_S = 0.1
OPEN_S = 20.0  # until the port has said something
STOP_S = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Learning:
    """What was typed."""

    action: str | None
    twice: bool
    any_channel: bool
    port: str | None
    with_guitar: bool
    driver: str | None
    seconds: float

    @classmethod
    def of(cls, options: Namespace) -> Learning:
        return cls(
            action=options.action,
            twice=options.twice,
            any_channel=options.any_channel,
            port=options.port,
            with_guitar=options.with_guitar,
            driver=options.driver,
            seconds=options.seconds,
        )


def run_learn(options: Namespace, out: TextIO, err: TextIO) -> int:
    asked, practice = Learning.of(options), practice_folder(Choice.of(options))
    if asked.twice and asked.action is None:
        raise BadInput("--twice needs the action that two presses ask for")
    if asked.port is not None:
        matcher(asked.port)
    say = err if options.json else out
    port, pedal = _heard(asked, say)
    if asked.any_channel:
        pedal = Pedal(pedal.kind, pedal.number)
    told = {"switch": pedal.text(), "port": port, "action": asked.action, "written": None}
    if asked.action is not None:
        mapped: Mapped = (pedal, asked.twice, asked.action)
        own = None if asked.with_guitar else asked.port or port
        put_pedal(practice.settings, mapped, own)
        told |= {"switch": written(mapped), "written": near_path(practice.settings)}
    if options.json:
        print_json(told, out)
    elif asked.action is None:
        print(
            f"{pedal.text()}, at {port}. Nothing is written; name an action to keep it.", file=out
        )
    else:
        print(f"{told['switch']} asks for: {asked.action}. Kept in {told['written']}", file=out)
    return 0


def _heard(asked: Learning, say: TextIO) -> tuple[str, Pedal]:
    """The port that is open, and the switch that was pressed. Raises NoDevice, BadInput."""
    port = None
    until = time.monotonic() + OPEN_S
    with _reader(asked) as process:
        assert process.stdout is not None
        decoder = Decoder()
        while time.monotonic() < until:
            if not select.select([process.stdout], [], [], LOOK_S)[0]:
                continue
            data = os.read(process.stdout.fileno(), 1 << 16)
            if not data:
                raise NoDevice("the process that listens to the port has ended")
            for frame in decoder.feed(data):
                if isinstance(frame, Up):
                    port = frame.port
                    until = time.monotonic() + asked.seconds
                    print(f"Listening to {port}. Press it now.", file=say, flush=True)
                elif isinstance(frame, Down):
                    raise NoDevice(frame.why)
                elif isinstance(frame, Message) and port is not None:
                    pedal = pressed(frame.data)
                    if pedal is not None and not _of_converter(pedal):
                        return port, pedal
    if port is None:
        raise NoDevice("the MIDI system does not answer")
    raise BadInput(
        f"no control or program change came in {asked.seconds:g} s; does the pedal send on {port}?"
    )


def _of_converter(pedal: Pedal) -> bool:
    """Whether it is a message with which a converter says its settings."""
    return pedal.kind == CONTROL and pedal.number in SETTINGS


@contextmanager
def _reader(asked: Learning) -> Iterator[subprocess.Popen[bytes]]:
    process = spawn.start(
        reader_command(asked.driver, asked.port), stdin=spawn.PIPE, stdout=spawn.PIPE
    )
    try:
        yield process
    finally:
        assert process.stdin is not None and process.stdout is not None
        process.stdin.close()
        try:
            process.wait(STOP_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        process.stdout.close()
