"""The recorder's small parts: options, sleep, the lock, units, drivers that are missing."""

from __future__ import annotations

import builtins
import io
import os
import plistlib
import shlex
import shutil
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from livecheck.control import state_folder
from livecheck.daemon import drivers
from livecheck.daemon.lock import Lock
from livecheck.daemon.options import Options, cells_line, from_arguments, to_arguments
from livecheck.daemon.suspend import SuspendCheck, asleep_ns
from livecheck.daemon.units import print_unit
from livecheck.errors import BadInput, NoDevice

texts = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=20)


@given(
    st.builds(
        Options,
        home=st.just(Path("here")),
        driver=st.none() | st.sampled_from(["alsa", "jack"]),
        port=st.none() | texts,
        rig=st.none() | st.dictionaries(texts, texts | st.integers()),
        cells=st.lists(st.dictionaries(texts, texts | st.booleans())).map(tuple),
        source=st.none() | st.lists(texts, min_size=1).map(tuple),
        silence_s=st.none() | st.floats(1, 10_000),
        at_once=st.booleans(),
        need_port=st.booleans(),
        export=st.booleans(),
    )
)
def test_options_reach_a_child_as_they_are(options):
    """Whatever a rig or port is called."""
    assert from_arguments(["--child", *to_arguments(options)], io.BytesIO(cells_line(options))) == (
        options,
        True,
    )


def test_a_port_on_the_command_line_goes_before_the_rig_s():
    """The nearer word counts."""
    rig = {"port": "Hex"}
    assert Options(Path("."), rig=rig).wanted_port == "Hex"
    assert Options(Path("."), rig=rig, port="USB").wanted_port == "USB"
    assert Options(Path(".")).wanted_port is None


def test_sleep_is_noticed_once_and_a_clock_being_set_is_none():
    """Two clocks that differ by sleep alone are compared; under two seconds it is none."""
    slept = iter([5, 5, 5 + 3_500_000_000, 5 + 3_500_000_000, 6 + 3_500_000_000])
    check = SuspendCheck(lambda: next(slept))
    assert [check.slept_s() for _ in range(4)] == [0.0, 3.5, 0.0, 0.0]
    assert SuspendCheck(lambda: None).slept_s() == 0.0


@pytest.mark.skipif(sys.platform != "linux", reason="reads Linux's clocks")
def test_this_computer_tells_how_long_it_slept():
    """The two clocks can be read here."""
    slept_ns = asleep_ns()
    assert slept_ns is not None and slept_ns > -1_000_000


def test_the_lock_is_free_as_soon_as_its_holder_dies(tmp_path):
    """And it names the holder; its file stays."""
    holder = subprocess.Popen(
        [
            sys.executable,
            "-c",
            "import sys; from pathlib import Path; from livecheck.daemon.lock import Lock\n"
            "lock = Lock(Path(sys.argv[1])); print('held', flush=True); sys.stdin.read()",
            str(tmp_path),
        ],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    holder.stdout.readline()
    with pytest.raises(BadInput, match=f"process {holder.pid}"):
        Lock(tmp_path)
    holder.kill()
    holder.communicate()
    with Lock(tmp_path):
        path = state_folder(tmp_path) / "lock"
        assert path.read_text() == f"{os.getpid()}\n" and stat.S_IMODE(path.stat().st_mode) == 0o600
    with Lock(tmp_path):
        pass


def test_a_program_started_while_the_lock_is_held_does_not_keep_it(tmp_path):
    """Readers and exporters outlive nothing."""
    with Lock(tmp_path):
        child = subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE)
    with Lock(tmp_path):
        child.kill()
        child.communicate()


@pytest.mark.parametrize("home", ["plain", "with a space", 'odd " % $ name'])
def test_the_systemd_unit_starts_the_daemon_in_its_folder(home):
    """With the readiness, watchdog and stop that the recorder speaks (systemd.service(5),
    systemd.unit(5))."""
    text = print_unit("systemd", Path("/srv") / home, ("--port", "Hex 1"))
    lines = dict(line.split("=", 1) for line in text.splitlines() if "=" in line)
    assert (lines["Type"], lines["WatchdogSec"], lines["Restart"]) == ("notify", "30", "on-failure")
    command = shlex.split(lines["ExecStart"].replace("$$", "$").replace("%%", "%"))
    assert command == [
        sys.executable, "-m", "livecheck", "daemon", "--home", f"/srv/{home}", "--port", "Hex 1"
    ]  # fmt: skip


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="needs systemd-analyze")
@pytest.mark.parametrize("home", ["plain", 'odd " % $ na;me'])
def test_systemd_finds_no_fault_in_the_unit(tmp_path, home):
    """Its own checker says nothing; a key that it does not know it would name."""
    folder = tmp_path / home
    folder.mkdir()
    unit = tmp_path / "livecheck.service"
    environment = {**os.environ, "XDG_RUNTIME_DIR": str(tmp_path)}
    told = []
    for text in (
        print_unit("systemd", folder),
        print_unit("systemd", folder).replace("WatchdogSec", "WatchdogSex"),
    ):
        unit.write_text(text, "utf-8")
        command = ["systemd-analyze", "verify", "--user", str(unit)]
        done = subprocess.run(command, capture_output=True, text=True, env=environment)
        told.append(done.stdout + done.stderr)
        assert done.returncode == 0, told
    assert told[0] == "" and "WatchdogSex" in told[1]


def test_the_launchd_agent_is_a_property_list_that_starts_the_daemon():
    """Read back by Python's own reader of property lists."""
    agent = plistlib.loads(print_unit("launchd", Path("/srv/a & b"), ("--port", "<Hex>")).encode())
    assert agent["ProgramArguments"][3:] == ["daemon", "--home", "/srv/a & b", "--port", "<Hex>"]
    assert (
        agent["RunAtLoad"] is True
        and agent["KeepAlive"] == {"SuccessfulExit": False}
        and agent["Umask"] == 0o077
    )


def test_an_unknown_service_manager_is_told():
    """With those there are."""
    with pytest.raises(BadInput, match="there are: systemd, launchd"):
        print_unit("cron", Path("."))


@pytest.fixture
def without(monkeypatch):
    """Make the drivers' bindings fail to import."""
    real = builtins.__import__

    def fail(error):
        def fake(name, *rest, **more):
            if name in ("rtmidi", "rtmidi2"):
                raise error
            return real(name, *rest, **more)

        monkeypatch.setattr(builtins, "__import__", fake)

    return fail


@pytest.mark.parametrize(
    ("error", "line"),
    [
        (
            ModuleNotFoundError("No module named 'rtmidi'"),
            "no MIDI driver is installed: pip install ",
        ),
        (
            ImportError("libjack.so.0: cannot open shared object file"),
            "the MIDI driver needs the system library libjack: install it (Debian: apt install "
            "libjack-jackd2-0)",
        ),
        (
            ImportError("libasound.so.2: cannot open shared object file"),
            "the MIDI driver needs the system library libasound: install it (Debian: apt install "
            "libasound2)",
        ),
        (
            ImportError("undefined symbol: x"),
            "the MIDI driver cannot be loaded: undefined symbol: x",
        ),
    ],
)
def test_a_missing_driver_or_library_is_told_with_its_remedy(without, error, line):
    """NoDevice with one line."""
    without(error)
    with pytest.raises(NoDevice) as caught:
        drivers.Input("jack")
    assert str(caught.value).startswith(line) and "\n" not in str(caught.value)


def test_without_an_alsa_sequencer_jack_is_the_driver(monkeypatch):
    """On Linux; an unnamed API would pick ALSA and fail though JACK runs."""
    monkeypatch.setattr(drivers.sys, "platform", "linux")
    monkeypatch.setattr(drivers.os.path, "exists", lambda path: False)
    assert drivers.chosen_api(None) == "jack"
    with pytest.raises(NoDevice, match="sudo modprobe snd-seq, or use --driver jack"):
        drivers.Input("alsa")
    monkeypatch.setattr(drivers.os.path, "exists", lambda path: True)
    assert drivers.chosen_api(None) == "alsa" and drivers.chosen_api("jack") == "jack"
    monkeypatch.setattr(drivers.os, "access", lambda path, mode: False)
    with pytest.raises(NoDevice, match="group audio"):
        drivers.Input("alsa")


def test_an_unknown_driver_is_told():
    """With those there are."""
    with pytest.raises(BadInput, match="there are: alsa, jack, core, mm"):
        drivers.chosen_api("oss")
