"""What is true of every take, whatever is played: asked with the hypothesis library on takes of the
stage.

Few examples and a fixed order, so that the run is quick and gives the same answer each time; a
failure names the take.
"""

from __future__ import annotations

import json
import random
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st
from stage import CLASSES, a_take

from livecheck.core.cell import Cell
from livecheck.core.events import ExtraTold, Midi, Outcome, RepDone
from livecheck.core.rig import Delay, Rig
from livecheck.files.report import score
from livecheck.session import Session

FEW = settings(max_examples=12, derandomize=True, deadline=None, database=None)
TAKES = st.builds(a_take, st.sampled_from(CLASSES), st.integers(1, 10_000), st.booleans())


def written(cell: Cell, session: Session, outcomes: list[Outcome]) -> str:
    """The score object, to the byte."""
    return json.dumps(score(cell, outcomes, session.counts), sort_keys=True)


def judged(cell: Cell, rig: Rig, records: list[Midi]) -> str:
    session = Session(cell, rig)
    return written(cell, session, session.feed_all(records))


def labels(cell: Cell, rig: Rig, records: list[Midi]) -> list[tuple]:
    """(repetition's place, label, order of the note) without any time: what happened, in order."""
    told = []
    outcomes = Session(cell, rig).feed_all(records)
    for outcome in outcomes:
        if isinstance(outcome, RepDone):
            rep = outcome.repetition
            for slot in rep.slots:
                told.append(
                    (
                        rep.rep,
                        rep.complete,
                        slot.slot,
                        slot.verdict,
                        slot.note and slot.note.onset_s,
                    )
                )
            told += [
                (rep.rep, rep.complete, 0, extra.kind, extra.note.onset_s) for extra in rep.extras
            ]
        elif isinstance(outcome, ExtraTold) and outcome.rep is None:
            told.append((0, False, 0, outcome.extra.kind, outcome.extra.note.onset_s))
    onsets = sorted({one[4] for one in told if one[4] is not None})
    order = {onset: i for i, onset in enumerate(onsets)}
    return sorted((*one[:4], -1 if one[4] is None else order[one[4]]) for one in told)


@FEW
@given(TAKES, st.integers(0, 10**6))
def test_any_split_and_any_ticks_give_the_same_bytes(take, seed):
    """Time passing between two notes is no event of its own."""
    rng = random.Random(seed)
    whole = Session(take.cell, take.rig)
    whole_outcomes = whole.feed_all(take.records)
    session, outcomes, now = Session(take.cell, take.rig), [], 0.0
    for record in take.records:
        for tick in sorted(rng.uniform(now, record.t_s) for _ in range(rng.choice((0, 0, 1, 4)))):
            outcomes += session.tick(tick)
        if rng.random() < 0.2:
            outcomes += session.tick(record.t_s)
        outcomes += session.feed(record)
        now = record.t_s
    for wait in (0.01, 0.3, 1.0, 5.0, 60.0)[: rng.randint(0, 5)]:
        outcomes += session.tick(now + wait)
    outcomes += session.finish()
    assert written(take.cell, session, outcomes) == written(take.cell, whole, whole_outcomes)
    assert [repr(one) for one in outcomes] == [repr(one) for one in whole_outcomes]


@FEW
@given(TAKES)
def test_every_note_on_of_a_string_is_told_exactly_once(take):
    """As a slot's note, an extra, or outside, in the announcements and in the finished repetitions
    alike."""
    outcomes = Session(take.cell, take.rig).feed_all(take.records)
    reps = [outcome.repetition for outcome in outcomes if isinstance(outcome, RepDone)]
    in_reps = [slot.note for rep in reps for slot in rep.slots if slot.note]
    in_reps += [extra.note for rep in reps for extra in rep.extras]
    outside = [o.extra.note for o in outcomes if isinstance(o, ExtraTold) and o.rep is None]
    sent = sorted(
        (record.t_s, take.rig.string_of((record.data[0] & 15) + 1), record.data[1])
        for record in take.records
        if record.data[0] >> 4 == 9 and record.data[2]
    )
    told = sorted(
        (note.onset_s, note.string, note.key) for note in in_reps + outside if note.by == "note"
    )
    assert told == sent
    announced = [
        o.note for o in outcomes if not isinstance(o, RepDone) and getattr(o, "note", None)
    ]
    announced += [o.extra.note for o in outcomes if isinstance(o, ExtraTold)]
    assert sorted(map(id, announced)) == sorted(map(id, in_reps + outside))


@FEW
@given(TAKES)
def test_slots_stand_in_order_one_entry_each(take):
    """All of a complete repetition; of a broken one the first so many, the last of which
    sounded."""
    outcomes = Session(take.cell, take.rig).feed_all(take.records)
    reps = [outcome.repetition for outcome in outcomes if isinstance(outcome, RepDone)]
    assert [rep.rep for rep in reps] == list(range(1, len(reps) + 1))
    for rep in reps:
        count = len(take.cell.slots) if rep.complete else len(rep.slots)
        assert [slot.slot for slot in rep.slots] == list(range(1, count + 1))
        assert rep.complete or rep.slots[-1].verdict != "missed"
        hits = sum(slot.verdict == "hit" for slot in rep.slots)
        assert rep.accuracy == hits / len(rep.slots)
        assert all(extra.note.onset_s >= rep.start_s for extra in rep.extras)
        onsets = [slot.note.onset_s for slot in rep.slots if slot.note is not None]
        assert onsets and (not rep.clean or (rep.complete and hits == count))


@FEW
@given(TAKES, st.integers(1, 4000))
def test_a_shift_in_time_changes_no_verdict(take, quarters):
    """Shifted by quarters of a second, exactly representable."""
    by = quarters / 4
    moved = [Midi(record.t_s + by, record.data) for record in take.records]
    assert labels(take.cell, take.rig, moved) == labels(take.cell, take.rig, take.records)


@FEW
@given(
    st.sampled_from(("plain", "hand")),
    st.integers(1, 10_000),
    st.sampled_from((0.94, 0.97, 1.03, 1.05, 1.08)),
)
def test_a_little_faster_or_slower_changes_no_verdict(name, seed, factor):
    """Gates and holds are in milliseconds and do not scale, hence little; nor does the delay, hence
    none."""
    take = a_take(name, seed)
    rig = replace(take.rig, delay=Delay())
    scaled = [Midi(record.t_s * factor, record.data) for record in take.records]
    assert labels(take.cell, rig, scaled) == labels(take.cell, rig, take.records)


@FEW
@given(TAKES, st.sampled_from((-3, -1, 2, 5)))
def test_transposed_with_its_cell_a_take_keeps_its_verdicts(take, by):
    """All notes and the whole tuning so many semitones higher; the delay taken as constant, since a
    period is not."""
    rig = replace(take.rig, delay=Delay(fixed_ms=6.0))
    cell = replace(
        take.cell,
        tuning=tuple(pitch + by for pitch in take.cell.tuning),
        slots=tuple(replace(slot, pitch=slot.pitch + by) for slot in take.cell.slots),
    )
    moved = [
        Midi(
            one.t_s,
            bytes((one.data[0], one.data[1] + by, one.data[2]))
            if one.data[0] >> 4 in (8, 9)
            else one.data,
        )
        for one in take.records
    ]
    assert labels(cell, rig, moved) == labels(take.cell, rig, take.records)


@FEW
@given(TAKES, st.randoms(use_true_random=False))
def test_other_channels_for_the_strings_change_nothing(take, rng):
    """The rig says which channel is which string; any order will do."""
    channels = rng.sample(range(1, 17), len(take.rig.channels))
    new = dict(zip(take.rig.channels, channels))
    moved = [
        Midi(one.t_s, bytes((one.data[0] & 0xF0 | new[(one.data[0] & 15) + 1] - 1, *one.data[1:])))
        for one in take.records
    ]
    rig = replace(take.rig, channels=tuple(channels))
    assert judged(take.cell, rig, moved) == judged(take.cell, take.rig, take.records)


@FEW
@given(st.sampled_from(("plain", "hand", "strings", "dirty", "fast")), st.integers(1, 10_000))
def test_the_guitar_turned_over_changes_nothing_but_the_names_of_strings(name, seed):
    """Strings numbered from the other side: no rule may depend on a string's number but the order
    of passing over."""
    take = a_take(name, seed)
    count = len(take.cell.tuning)
    rig = replace(take.rig, delay=Delay(fixed_ms=5.0))
    turned_rig = replace(rig, channels=tuple(reversed(rig.channels)))
    cell = replace(
        take.cell,
        tuning=tuple(reversed(take.cell.tuning)),
        slots=tuple(replace(slot, string=count + 1 - slot.string) for slot in take.cell.slots),
        quiet=tuple(sorted(count + 1 - string for string in take.cell.quiet)),
    )
    assert labels(cell, turned_rig, take.records) == labels(take.cell, rig, take.records)


@FEW
@given(
    TAKES,
    st.lists(
        st.tuples(st.integers(1, 6), st.integers(0, 15), st.floats(0.02, 0.5)),
        min_size=1,
        max_size=30,
    ),
)
def test_noise_long_after_the_take_changes_nothing_before_it(take, noise):
    """Thirty seconds later."""
    t = take.records[-1].t_s + 30.0
    begin, more = t, []
    for string, fret, wait in noise:
        channel = take.rig.channels[string - 1] - 1
        pitch = take.cell.tuning[string - 1] + fret
        more += [
            Midi(t, bytes((0x90 | channel, pitch, 70))),
            Midi(t + wait * 0.9, bytes((0x80 | channel, pitch, 64))),
        ]
        t += wait
    # a note that never ended is ended by whatever comes next on its string, so it is ended here in
    # both
    sounded = sorted({one.data[:2] for one in take.records if one.data[0] >> 4 == 9})
    quiet = [Midi(begin - 15.0, bytes((0x80 | on & 15, key, 64))) for on, key in sounded]
    before = json.loads(judged(take.cell, take.rig, take.records + quiet))
    after = json.loads(judged(take.cell, take.rig, take.records + quiet + more))
    assert after["reps"][: len(before["reps"])] == before["reps"]
    assert after["outside"][: len(before["outside"])] == before["outside"]


STATUSES = (0x80, 0x90, 0x91, 0x92, 0x94, 0xE1, 0xE2, 0xB1)
MESSAGES = st.lists(
    st.tuples(
        st.one_of(st.floats(0, 0.3), st.just(0.0), st.floats(0, 20)),
        st.one_of(
            st.tuples(st.sampled_from(STATUSES), st.integers(0, 127), st.integers(0, 127)),
            st.tuples(st.just(0x91), st.sampled_from((72, 69)), st.integers(0, 127)),
            st.tuples(st.just(0x92), st.sampled_from((67, 65)), st.integers(0, 127)),
        ).map(bytes)
        | st.binary(min_size=0, max_size=8),
    ),
    max_size=120,
)  # fmt: skip


@settings(FEW, max_examples=100)
@given(MESSAGES)
def test_no_message_makes_it_fall_over(messages):
    """What cannot be decoded is counted; the contract holds for whatever is left."""
    from hand import SIX

    t, records = 0.0, []
    for wait, data in messages:
        t += wait
        records.append(Midi(t, data))
    session = Session(SIX, Rig())
    told = score(SIX, session.feed_all(records), session.counts)
    for rep in told["reps"]:
        assert [slot["slot"] for slot in rep["slots"]] == list(range(1, len(rep["slots"]) + 1))
    assert judged(SIX, Rig(), records) == json.dumps(told, sort_keys=True)
