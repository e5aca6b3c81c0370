"""Whole takes: reproducible, fully labelled, and told by the rules of formats.md."""

from __future__ import annotations

import json
from collections import Counter
from random import Random

import pytest

from livecheck.core.cell import make_cell
from livecheck.core.rig import Gate
from livecheck.files.config import load_cell, load_rig
from livecheck.files.midifile import read_midi
from livecheck.player.demo import CELL, demo_rig, demo_take
from livecheck.player.guitarist import play
from livecheck.player.habits import Conversion, Habits
from livecheck.player.takes import MIXES, make_take, perform, rig_for, take_of, write_take

SEEDS = range(6)
SIX = make_cell("six", [(2, 13), (2, 10), (3, 12), (3, 10), (5, 12), (5, 10)])
DRY = Conversion(jitter_ms=0.0, jitter_periods=0.0, sends_rpn=False)


def note_ons(take):
    channels = {channel - 1 for channel in take.rig.channels}
    return [
        at
        for at, record in enumerate(take.records)
        if record.data[0] >> 4 == 9 and record.data[2] and record.data[0] & 15 in channels
    ]


@pytest.mark.parametrize("mix", MIXES)
def test_the_same_seed_gives_the_same_take(mix):
    """A take is its seed, mix and width, and nothing else."""
    one, again, other = make_take(3, mix), make_take(3, mix), make_take(4, mix)
    assert (one.records, one.truth, one.rig) == (again.records, again.truth, again.rig)
    assert one.records != other.records
    assert make_take(3, mix, wide=True).records != one.records


@pytest.mark.parametrize("mix", MIXES)
def test_every_sounded_note_is_labelled_once(mix):
    """Each note-on of a string has one entry, each bend-alone note one more; no two share a slot of
    the truth."""
    for seed in SEEDS:
        take = make_take(seed, mix)
        told = [note.record for note in take.truth.notes if note.by == "note"]
        assert told == note_ons(take)
        places = [
            (note.label.rep, note.label.slot)
            for note in take.truth.notes
            if note.label.slot is not None
        ]
        assert len(places) == len(set(places))


@pytest.mark.parametrize("mix", MIXES)
def test_repetitions_list_their_slots(mix):
    """Complete: all slots. Broken off: up to the last that sounded. Each slot listed was heard or
    is missed."""
    for seed in SEEDS:
        take = make_take(seed, mix)
        reps = take.truth.reps
        assert [rep.rep for rep in reps] == list(range(1, len(reps) + 1))
        for rep in reps:
            assert rep.notes
            assert len(rep.verdicts) == (len(take.cell.slots) if rep.complete else max(rep.notes))
            for slot, verdict in enumerate(rep.verdicts, 1):
                assert (verdict == "missed") == (slot not in rep.notes)
            assert rep.end_s > rep.start_s - 0.05
        starts = [rep.start_s for rep in reps]
        assert starts == sorted(starts)


@pytest.mark.parametrize("mix", MIXES)
def test_few_notes_have_more_than_one_right_label(mix):
    """Where the messages cannot decide is the exception."""
    notes = [note for seed in range(12) for note in make_take(seed, mix).truth.notes]
    assert sum(len(note.labels) > 1 for note in notes) < 0.04 * len(notes)


def test_nothing_under_the_gate_is_a_slot():
    """A note softer than the gate is an artefact, whoever played it."""
    takes = [make_take(seed, "everything") for seed in range(20)]
    soft = [
        note.label.verdict
        for take in takes
        for note in take.truth.notes
        if note.by == "note" and take.records[note.record].data[2] < take.rig.gate.velocity
    ]
    assert len(soft) > 20 and set(soft) == {"artefact"}


def test_corrected_onsets_of_a_jitterless_rig_are_those_played():
    """Taking the rig's delay off an arrival gives back the stroke, but for the bytes' time on the
    cable (C-06)."""
    take = perform(SIX, Habits(reps=30), DRY, Random(1))
    for note in take.truth.notes:
        late_s = note.onset_s - take.rig.delay.seconds(note.string, note.pitch) - note.played_s
        assert 0.0009 < late_s < 0.003


def test_breaking_off_lists_the_slots_up_to_the_last_and_the_next_one_is_complete():
    """A restart from slot 1 at another time than due: the one before is broken off, nothing of it
    is missed."""
    take = perform(
        SIX, Habits(reps=60, break_off=0.4, break_pause=0.5, break_earlier=0.0), DRY, Random(2)
    )
    broken = [rep for rep in take.truth.reps[:-1] if not rep.complete]
    assert len(broken) > 10
    for rep in broken:
        assert rep.missed == []
        following = take.truth.reps[rep.rep]
        step = rep.step_s
        due = rep.due_s[1] + 6 * step
        assert abs(following.start_s - due) > 0.5 * step


def test_a_restart_from_an_earlier_slot_misses_the_slots_before_it():
    """Play that begins inside the figure is a repetition whose first slots are missed."""
    take = perform(SIX, Habits(reps=80, break_off=0.5, break_earlier=1.0), DRY, Random(2))
    inside = [rep for rep in take.truth.reps if rep.entry > 1 and rep.complete]
    assert inside
    for rep in inside:
        assert rep.verdicts[: rep.entry - 1] == ("missed",) * (rep.entry - 1)
        assert rep.start_s == take.truth.notes[rep.notes[rep.entry]].onset_s


def test_a_stumble_is_one_complete_repetition_with_its_pause():
    """The player stopped and went on with the next slot: nothing missed, 0.3 to 2 s beyond the
    step."""
    take = perform(SIX, Habits(reps=60, stumble=0.4), DRY, Random(3))
    stumbled = [rep for rep in take.truth.reps if rep.pause_s]
    assert len(stumbled) > 10
    assert all(rep.complete and rep.clean and 0.3 <= rep.pause_s <= 2.0 for rep in stumbled)


def test_noodling_lies_outside():
    """Unrelated notes before the first repetition and long after the last belong to none."""
    take = perform(
        SIX, Habits(reps=5, noodle_before=12, noodle_after=12, noodle_own=0.0), DRY, Random(4)
    )
    first = take.truth.reps[0].start_s
    before = [note for note in take.truth.notes if note.onset_s < first]
    assert len(before) > 5
    assert all(note.label.rep is None and note.label.slot is None for note in before)
    beat_s = take.truth.reps[-1].step_s * SIX.grid
    late = [
        note for note in take.truth.notes if note.onset_s > take.truth.reps[-1].end_s + 1.5 * beat_s
    ]
    assert late
    assert all(note.label.rep is None for note in late)


def test_clean_means_complete_all_hit_no_noise_no_stray():
    """Artefacts do not spoil a repetition (formats.md)."""
    for seed in range(12):
        take = make_take(seed, "fast")
        for rep in take.truth.reps:
            extras = [
                n.label.verdict
                for n in take.truth.notes
                if n.label.rep == rep.rep and n.label.slot is None
            ]
            own = rep.complete and set(rep.verdicts) == {"hit"} and not set(extras) - {"artefact"}
            assert rep.clean == own


def test_a_higher_gate_turns_soft_notes_into_artefacts():
    """The rig decides what can be a slot: the same performance loses its soft notes behind a higher
    gate."""
    habits = Habits(reps=40, soft=0.3)
    performance = play(SIX, habits, Random(5), Gate(5, 25.0))

    def verdicts(gate):
        take = take_of(SIX, rig_for(SIX, DRY, gate), habits, DRY, performance, Random(6))
        softest = min(
            take.records[note.record].data[2]
            for note in take.truth.notes
            if note.label.slot is not None
        )
        return Counter(note.label.verdict for note in take.truth.notes), softest

    low, softest_low = verdicts(Gate(5, 25.0))
    high, softest_high = verdicts(Gate(40, 25.0))
    assert softest_low < 40 <= softest_high
    assert low["artefact"] == 0
    assert high["artefact"] == low["hit"] - high["hit"] > 30


def test_a_written_take_reads_back(tmp_path):
    """The file holds the same notes to the millisecond; cell and rig load equal; the truth counts
    the same notes."""
    take = make_take(1, "everything")
    write_take(take, tmp_path / "take")
    records = read_midi(tmp_path / "take" / "take.mid")
    sounded = [record for record in records if record.data[0] >> 4 == 9 and record.data[2]]
    played = [record for record in take.records if record.data[0] >> 4 == 9 and record.data[2]]
    assert [record.data for record in sounded] == [record.data for record in played]
    assert max(abs(a.t_s - b.t_s) for a, b in zip(sounded, played)) <= 0.00051
    assert load_cell(tmp_path / "take" / "cell.yaml") == take.cell
    assert load_rig(tmp_path / "take" / "rig.yaml") == take.rig
    truth = json.loads((tmp_path / "take" / "truth.json").read_text(encoding="utf-8"))
    assert len(truth["notes"]) == len(take.truth.notes)


@pytest.mark.parametrize("seconds", [5.0, 20.0, 60.0])
def test_the_demo_lasts_about_as_long_as_asked(seconds):
    """A scenario of its own length, through one rig, climbing from below the cell's tempo to above
    it."""
    take = demo_take(seconds=seconds)
    assert (take.cell, take.rig) == (CELL, demo_rig(CELL))
    assert 0.4 * seconds < take.records[-1].t_s < 1.15 * seconds
    if seconds == 60.0:
        steps = [rep.step_s for rep in take.truth.reps]
        assert max(steps) / min(steps) > 1.7
        assert any(not rep.complete for rep in take.truth.reps)
        assert sum(rep.clean for rep in take.truth.reps) > 10
