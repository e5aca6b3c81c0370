"""Keeping a port open, against a driver that tells nothing."""

from __future__ import annotations

import os
import random

import pytest

from livecheck.core.cell import make_cell
from livecheck.core.events import Midi
from livecheck.core.rig import Rig
from livecheck.daemon.frames import Decoder, Down, Message, Sender, Up
from livecheck.daemon.reader import Keeper
from livecheck.daemon.recorder import Recorder
from livecheck.errors import NoDevice
from livecheck.files.journal import read
from livecheck.files.library import PracticeFolder
from livecheck.session import Session


class Driver:
    """Ports that come and go; an open one is silent when it is gone, as the real ones are."""

    def __init__(self, *names):
        self.ports = list(names)
        self.open_name = None
        self.callback = None
        self.refuse = False
        self.change_on_open = None

    def names(self):
        return list(self.ports)

    def open(self, index, callback):
        if self.refuse:
            raise NoDevice("the MIDI port cannot be opened (busy): close programs that use it")
        self.open_name, self.callback = self.ports[index], callback
        self.connected = True
        if self.change_on_open is not None:
            self.ports, self.change_on_open = self.change_on_open, None

    def is_connected(self):
        return self.connected

    def shut(self):
        self.open_name = self.callback = None


@pytest.fixture
def told():
    """A sender, and what has come out at the other end since the last look."""
    reading, writing = os.pipe()
    sender = Sender(writing)
    decoder = Decoder()

    def look():
        os.set_blocking(reading, False)
        try:
            return decoder.feed(os.read(reading, 1 << 16))
        except BlockingIOError:
            return []

    yield sender, look
    os.close(reading)
    os.close(writing)


def clock():
    clock.now += 1
    return clock.now


clock.now = 0


def without_time(frames):
    return [(type(frame), frame[1]) for frame in frames]


def test_it_waits_for_the_port_says_so_once_and_opens_it_when_it_is_there(told):
    """The daemon may start before the converter is plugged in."""
    sender, look = told
    driver = Driver("Keyboard 20:0")
    keeper = Keeper(driver, "Hex", sender, clock)
    for _ in range(3):
        keeper.look()
    ((kind, why),) = without_time(look())
    assert kind is Down and why.startswith('no MIDI port matches "Hex"; there are: "Keyboard"')
    driver.ports.append("Hex 24:0")
    keeper.look()
    keeper.look()
    assert without_time(look()) == [(Up, "Hex")] and driver.open_name == "Hex 24:0"


def test_an_unplugged_port_is_noticed_and_opened_anew_when_it_is_back(told):
    """The driver reports neither; the numbers of the name may have changed."""
    sender, look = told
    driver = Driver("Hex 24:0")
    keeper = Keeper(driver, "Hex", sender, clock)
    keeper.look()
    for numbers in ("24:0", "28:0", "24:0"):
        driver.ports.clear()
        keeper.look()
        keeper.look()
        assert driver.open_name is None
        driver.ports.append(f"Hex {numbers}")
        keeper.look()
        assert driver.open_name == f"Hex {numbers}"
    assert without_time(look()) == [(Up, "Hex"), *[(Down, "Hex was unplugged"), (Up, "Hex")] * 3]


def test_a_port_that_was_replaced_between_two_looks_is_opened_anew(told):
    """Its name is there as before, the connection is not."""
    sender, look = told
    driver = Driver("Hex")
    keeper = Keeper(driver, None, sender, clock)
    keeper.look()
    keeper.look()
    driver.connected = False
    keeper.look()
    assert (
        without_time(look()) == [(Up, "Hex"), (Down, "Hex was unplugged"), (Up, "Hex")]
        and driver.connected
    )


def test_a_list_that_changes_while_a_port_is_opened_opens_no_wrong_one(told):
    """The index of a port may be another one's by the time it is opened."""
    sender, look = told
    driver = Driver("Hex")
    driver.change_on_open = ["Keyboard", "Hex"]
    keeper = Keeper(driver, "Hex", sender, clock)
    keeper.look()
    assert driver.open_name is None and look() == []
    keeper.look()
    assert driver.open_name == "Hex" and without_time(look()) == [(Up, "Hex")]


def test_a_port_that_cannot_be_opened_is_tried_again(told):
    """Another program may hold it."""
    sender, look = told
    driver = Driver("Hex")
    driver.refuse = True
    keeper = Keeper(driver, None, sender, clock)
    keeper.look()
    keeper.look()
    driver.refuse = False
    keeper.look()
    (down, why), up = without_time(look())
    assert down is Down and "busy" in why and up == (Up, "Hex")


def test_messages_are_stamped_and_handed_on_and_nonsense_from_the_driver_is_counted(told):
    """Nothing may be raised into the driver's thread: it would vanish there."""
    sender, look = told
    driver = Driver("Hex")
    Keeper(driver, None, sender, clock).look()
    look()
    before = clock.now
    driver.callback(([0x90, 60, 100], 0.0), None)
    driver.callback(([0x90, 600, 100], 0.0), None)
    driver.callback(None, None)
    driver.callback(([0xF0, *[1] * 2000, 0xF7], 0.0), None)
    long = bytes([0xF0, *[1] * 2000, 0xF7])
    assert look() == [Message(before + 1, bytes([0x90, 60, 100])), Message(before + 4, long)]
    assert sender.errors == 2


def test_shutting_says_so(told):
    """What was sounding has ended then."""
    sender, look = told
    driver = Driver("Hex")
    keeper = Keeper(driver, None, sender, clock)
    keeper.look()
    keeper.shut()
    keeper.shut()
    assert without_time(look()) == [(Up, "Hex"), (Down, "stopped")] and driver.open_name is None


def random_messages(told, folder, total, seed):
    """Feed random bytes as messages of any length from the driver's callback to the journal."""
    sender, look = told
    driver = Driver("Hex")
    Keeper(driver, None, sender, clock).look()
    recorder = Recorder(PracticeFolder(folder))
    session = recorder.begin(clock())
    noise = random.Random(seed)
    sent = []
    fed = 0
    while fed < total:
        data = noise.randbytes(noise.choice((0, 1, 2, 3, 3, 3, 3, 4, 9, 600)))
        driver.callback((list(data), noise.random()), None)
        sent.append(hash(data))
        fed += len(data)
        for frame in look():
            recorder.take(frame)
    recorder.end("done", clock())
    assert sender.errors == sender.dropped == 0
    arrived = [hash(record.data) for record in read(session) if isinstance(record, Midi)]
    assert arrived == sent, f"seed {seed}"
    judge = Session(make_cell("two", [(2, 10), (3, 12)]), Rig())
    for record in read(session):
        judge.feed(record)
    judge.finish()
    assert judge.damaged > 0


def test_random_bytes_are_recorded_as_they_are(told, tmp_path):
    """The recorder judges nothing: what makes no sense is kept too, byte for byte, and judging it
    raises nothing."""
    random_messages(told, tmp_path, 100_000, seed=21)


@pytest.mark.long
def test_ten_million_random_bytes_are_recorded_as_they_are(told, tmp_path):
    """The same for longer."""
    random_messages(told, tmp_path, 10_000_000, seed=22)
