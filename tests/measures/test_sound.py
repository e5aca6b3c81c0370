"""Strokes against the plan and strings touched, repetition by repetition."""

from __future__ import annotations

from random import Random

from played import note, repetition

from livecheck.core.cell import make_cell
from livecheck.core.events import RepDone, Repetition, UseCells, UseRig
from livecheck.measures.noise.passed_over import STRUCK, gravest, read_passages, read_quiet
from livecheck.measures.profile import LEAST_COUNT, attack_profile
from livecheck.measures.sound import HABITS_EVERY, KEPT, WINDOW, RepSound, SoundMemory
from livecheck.measures.strokes.attack import HAMMERED, PICKED, read_attacks
from livecheck.player.habits import Conversion, Habits
from livecheck.player.takes import perform
from livecheck.session import Session

CELL = make_cell("four", [(2, 13), (2, 10, "pull"), (5, 12), (5, 10)])
CROSSING = make_cell("crossing", [(1, 12), (3, 10), (1, 10), (4, 12), (2, 10), (5, 12)])


def played(rep: int, levels: tuple[int, ...] = (90, 55, 90, 90), **more: object):
    rng = Random(rep)
    velocities = [round(rng.gauss(level, 5)) for level in levels]
    return repetition(  # type: ignore[arg-type]
        CELL, rep, start_s=rep * 0.5, velocities=velocities, **more
    )


def sound_of(memory: SoundMemory, rep: Repetition) -> RepSound:
    """Heard and asked for at once."""
    memory.hear(rep)
    return memory[rep.rep]


def test_each_repetition_is_told_by_itself() -> None:
    """As planned: nothing; then one soft pick, and a string struck on the way."""
    memory = SoundMemory()
    for rep in range(1, 20):
        assert sound_of(memory, played(rep)) == RepSound()
    heard = sound_of(
        memory, played(20, (90, 55, 90, 50), extras=[note(10.0 + 1.5 * 0.125, 3, 60, 85, 0.2)])
    )
    assert [(one.slot, one.told) for one in heard.against_plan] == [(4, HAMMERED)]
    assert heard.touched == {3: STRUCK}


def test_the_first_repetitions_say_nothing_of_strokes() -> None:
    """Too few notes to know two levels by."""
    memory = SoundMemory()
    assert sound_of(memory, played(1, (90, 55, 50, 90))).against_plan == ()


def test_a_slot_at_its_usual_level_is_not_called_against_the_plan() -> None:
    """Strings that a converter weighs differently look like two kinds of stroke in few notes; the
    line keeps quiet."""
    uneven = make_cell("uneven", [(2, 13), (2, 10), (5, 12), (5, 10)])
    memory = SoundMemory()
    for rep in range(1, 15):
        velocities = [round(Random(rep).gauss(level, 4)) for level in (100, 60, 95, 100)]
        heard = sound_of(memory, repetition(uneven, rep, start_s=rep * 0.5, velocities=velocities))
        assert heard.against_plan == ()
    assert memory.attacks is not None and any(
        memory.attacks.against_plan(rep) for rep in range(1, 15)
    )


def test_a_slot_that_comes_otherwise_as_a_rule_is_called_once_it_was_heard_often() -> None:
    """Note 4 is planned picked and comes hammered, also where it is soft for a hammered one; not
    where it is loud."""
    memory = SoundMemory()
    told = {
        rep: sound_of(memory, played(rep, (90, 55, 90, 55))).against_plan
        for rep in range(1, HABITS_EVERY + 6)
    }
    assert not any(told[rep] for rep in range(1, HABITS_EVERY))
    for rep in range(HABITS_EVERY, HABITS_EVERY + 6):
        assert [(one.slot, one.told) for one in told[rep]] == [(4, HAMMERED)]
    assert sound_of(memory, played(HABITS_EVERY + 6, (90, 55, 90, 92))).against_plan == ()


def test_another_cell_begins_anew() -> None:
    """What was learned of one cell's strokes is not taken to another's."""
    memory = SoundMemory()
    for rep in range(1, 30):
        memory.hear(played(rep))
    other = make_cell("other", [(2, 13), (2, 10), (3, 12), (3, 10)])
    memory.hear(repetition(other, 30, start_s=15.0))
    assert memory.attacks is not None and memory.attacks.why == "too few notes (4)"


def test_memory_stays_bounded() -> None:
    """However long a sitting lasts, only the last repetitions are looked back on."""
    memory = SoundMemory()
    for rep in range(1, KEPT + 30):
        memory.hear(played(rep))
    assert memory.attacks is not None
    assert len(memory.attacks.struck) == WINDOW * len(CELL.slots)
    assert list(memory) == list(range(30, KEPT + 30)) and memory.get(29) is None


def test_it_does_not_matter_when_a_repetition_is_asked_for() -> None:
    """At once, or long after, when notes that were sounding have ended: the same strokes and
    strings are told."""
    take = perform(
        CROSSING,
        Habits(notes_per_s=9.0, reps=32, clipped=0.3, brushed=0.2, ringing=0.2, soft=0.1),
        Conversion(ghost=0.02, overlapped=0.5),
        Random(5),
    )
    session, at_once, later = Session(), SoundMemory(), SoundMemory()
    session.feed(UseRig(0.0, take.rig))
    session.feed(UseCells(0.0, (CROSSING,)))
    told: list[RepSound] = []
    for outcome in (one for record in take.records for one in session.feed(record)):
        if isinstance(outcome, RepDone):
            told.append(sound_of(at_once, outcome.repetition))
            later.hear(outcome.repetition)
    assert (
        len(told) > 28
        and any(one.touched for one in told)
        and any(one.against_plan for one in told)
    )
    assert list(later.values()) == told


def test_strings_are_read_only_where_something_happened_and_nothing_is_missed_by_that() -> None:
    """The same is told as when the whole window is read for each repetition."""
    take = perform(
        CROSSING,
        Habits(notes_per_s=7.0, reps=28, clipped=0.1, brushed=0.05, ringing=0.15),
        Conversion(overlapped=0.4),
        Random(6),
    )
    session, memory, reps = Session(), SoundMemory(), []
    for record in (UseRig(0.0, take.rig), UseCells(0.0, (CROSSING,)), *take.records):
        for outcome in session.feed(record):
            if isinstance(outcome, RepDone):
                reps.append(outcome.repetition)
                window = reps[-WINDOW:]
                whole = gravest([*read_passages(window, last=1), *read_quiet(window, last=1)])
                assert sound_of(memory, outcome.repetition).touched == whole
    assert len(reps) > 24


def test_the_attack_profile_counts_and_averages_by_slot() -> None:
    """Slot 4 is planned picked and comes hammered; the interval holds its mean."""
    reps = [played(rep, (90, 55, 90, 55)) for rep in range(1, 25)]
    profile = attack_profile(read_attacks(reps))
    assert [(one.slot, one.planned, one.count) for one in profile] == [
        (1, PICKED, 24), (2, HAMMERED, 24), (3, PICKED, 24), (4, PICKED, 24),
    ]  # fmt: skip
    assert [one.against_plan for one in profile] == [False, False, False, True]
    assert profile[3].hammered >= 22
    assert profile[3].low < profile[3].mean < profile[3].high  # type: ignore[operator]
    assert attack_profile(read_attacks(reps[: LEAST_COUNT - 1]))[0].mean is None
