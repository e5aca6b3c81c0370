"""Hands and feet on real ports: a pedal with a port of its own, what it asks for in `listen` and
`climb`, and how it is learned."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from jack import Guitar, Server, eventually, guitar, jack_server
from test_climb_port import PATIENCE_S, Sitting, picks, sitting

from livecheck.core.events import Cue, Foot, FootLink, Mark, UseCells
from livecheck.errors import BadInput

pytestmark = pytest.mark.jack

PRESS, RELEASE = bytes((0xB5, 64, 127)), bytes((0xB5, 64, 0))


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with jack_server() as running:
        yield running


def count(one: Sitting, kind: type) -> int:
    try:
        return sum(isinstance(record, kind) for record in one.records())
    except (ValueError, BadInput):
        return 0


def press(foot: Guitar, times: int = 1) -> None:
    foot.play([(0.15 * at, data) for at in range(times) for data in (PRESS, RELEASE)])


def test_listen_obeys_a_pedal_at_its_own_port_and_says_when_it_is_gone(
    server: Server, tmp_path: Path
) -> None:
    """One press: the next variant; two: the end; each answered by its sound; what it sends is
    kept beside the notes."""
    words = ["listen", "--plain", "--cue-port", "robot synth:", "--pedal-port", "guitar:"]
    words += ["--pedal", "control 64=next-variant", "--pedal", "2x control 64=stop"]
    with (
        guitar(server) as foot,
        sitting(server, tmp_path, "six-over-four", ["climb", "--help"]) as idle,
    ):
        idle.climb.communicate()
        idle.climb = idle.started(
            words[0],
            Path(__file__).parents[1] / "configs/cells/six-over-four.yaml",
            *("--driver", "jack", "--port", "robot:"),
            *words[1:],
        )
        eventually(lambda: count(idle, FootLink) >= 1, PATIENCE_S)
        foot.unplug()
        eventually(lambda: count(idle, FootLink) >= 2, PATIENCE_S)
        foot.plug()
        eventually(lambda: count(idle, FootLink) >= 3, PATIENCE_S)
        press(foot)
        eventually(lambda: count(idle, Cue) >= 1 and count(idle, UseCells) >= 2, PATIENCE_S)
        mark = idle.started("mark", "kept")  # a session without notes or marks is not
        assert mark.wait(PATIENCE_S) == 0
        mark.communicate()
        press(foot, 2)
        out, err = idle.climb.communicate(timeout=PATIENCE_S)
        records = idle.records()
    assert (idle.climb.returncode, err) == (0, ""), out
    cells = [record for record in records if isinstance(record, UseCells)]
    assert cells[0].cells[0].variant is None and cells[-1].cells[0].variant is not None
    assert [one.word for one in records if isinstance(one, Cue)] == ["next", "end"]
    assert [one.up for one in records if isinstance(one, FootLink)][:3] == [True, False, True]
    assert sum(isinstance(one, Foot) for one in records) == 6
    assert "lost: guitar:Hex out was unplugged" in out and "from now on: " in out


def test_listen_obeys_gestures_where_it_is_told_to(server: Server, tmp_path: Path) -> None:
    """The open low string three times: the click goes up, and its notes are judged as nothing."""
    with guitar(server) as hand:
        words = ["listen", "--plain", "--gestures", "--click", "100", "--port", "guitar:"]
        with sitting(server, tmp_path, "six-over-four", words) as one:
            eventually(lambda: count(one, UseCells) >= 1, PATIENCE_S)
            hand.play([(1.2 + at, data) for at, data in picks()])
            eventually(lambda: count(one, Cue) >= 1, PATIENCE_S)
            stop = one.started("ask", "stop")
            assert stop.wait(PATIENCE_S) == 0
            stop.communicate()
            out, _ = one.climb.communicate(timeout=PATIENCE_S)
            score = one.started("score", "last", "--json")
            told = json.loads(score.communicate(timeout=PATIENCE_S)[0])
    assert one.climb.returncode == 0 and "click at 105 bpm" in out
    assert told["reps"] == [] and told["outside"] == []


def test_climb_goes_on_to_another_variant_in_the_same_session(
    server: Server, tmp_path: Path
) -> None:
    """Each climb is told by itself; marks are in the session."""
    words = ["climb", "--json", "--start", "170", "--reps", "2", "--rule", "free"]
    with sitting(server, tmp_path, "six-over-four", words, reps=2) as one:
        one.in_block(1)

        def ask(action: str) -> None:
            process = one.started("ask", action)
            assert process.wait(PATIENCE_S) == 0
            process.communicate()

        ask("mark")
        ask("next-variant")
        eventually(lambda: count(one, UseCells) >= 2, PATIENCE_S)
        seen = len(one.blocks())
        eventually(lambda: len(one.blocks()) > seen + 1, PATIENCE_S)
        ask("stop")
        told, err = one.told()
        records = one.records()
    assert told["variant"] is not None and len(told["blocks"]) >= 1, err
    (before,) = told["earlier"]
    assert before["variant"] is None and before["why"] == "the player went on to another one"
    assert [record.text for record in records if isinstance(record, Mark)] == ["by hand"]


def test_a_switch_is_learned_by_pressing_it(server: Server, tmp_path: Path) -> None:
    """It is kept with its port; a converter's settings are passed over; nothing pressed: status
    2."""
    with (
        guitar(server) as foot,
        sitting(server, tmp_path, "six-over-four", ["climb", "--help"]) as one,
    ):
        learn = one.started(
            *("pedal", "learn", "up", "--driver", "jack", "--port", "guitar:", "--twice", "--json")
        )
        assert learn.stderr is not None
        assert "Press it now" in learn.stderr.readline()
        foot.play([(0.0, b"\xb0\x65\x7f"), (0.05, b"\xb0\x06\x7f"), (0.1, PRESS)])
        told = json.loads(learn.communicate(timeout=PATIENCE_S)[0])
        waits = one.started(
            *("pedal", "learn", "--driver", "jack", "--port", "guitar:", "--seconds", "1")
        )
        _, err = waits.communicate(timeout=PATIENCE_S)
    assert told["switch"] == "2x control 64 channel 6" and told["action"] == "up"
    text = (tmp_path / "configs/settings.yaml").read_text("utf-8")
    assert "2x control 64 channel 6: up" in text and "pedal_port: " in text
    assert waits.returncode == 2 and "no control or program change came" in err


def test_the_sound_card_without_its_extra_is_told_before_anything_begins(
    server: Server, tmp_path: Path
) -> None:
    """Status 3 and one line; where a card does play here, the climb begins."""
    words = ["climb", "--json", "--blocks", "1", "--reps", "1", "--start", "300", "--rule", "free"]
    with sitting(server, tmp_path, "six-over-four", words, reps=1) as one:
        one.climb.kill()
        one.climb.communicate()
        one.climb = one.started(
            *("climb", "six-over-four", "--json", "--blocks", "1", "--reps", "1", "--start", "300"),
            *("--driver", "jack", "--port", "robot:", "--click-port", "sound card"),
        )
        _, err = one.climb.communicate(timeout=PATIENCE_S)
    assert one.climb.returncode in (0, 3)
    if one.climb.returncode == 3:
        assert "sound card" in err and "name a MIDI output" in err and err.count("\n") == 1
