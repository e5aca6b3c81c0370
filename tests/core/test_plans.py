"""Every plan that can be played, against an enumeration of another kind, and what a plan asks of
the hand."""

from __future__ import annotations

from itertools import islice, product
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from livecheck.core.cell import Cell, make_cell
from livecheck.core.picking import round_of, strokes_of
from livecheck.core.plan import reps_to_all, reps_to_beat, starts, string_changes
from livecheck.core.plans import Plan, Plans, Wanted, as_variant

OTHER = {"down": "up", "up": "down"}


# ---------------------------------------------------------------------- an independent enumeration


def every_plan(cell: Cell) -> dict[tuple[str, ...], list[tuple[str, ...]]]:
    """By brute force: each choice of picked and slurred notes, each beginning, played for eight
    repetitions by a hand that simply goes on. First repetition → all eight."""
    now = strokes_of(cell, 1)
    goes_on = cell.picking == "alternate" and None in cell.written_in(cell.variant)
    choices = []
    for at, slot in enumerate(cell.slots):
        before = cell.slots[at - 1]
        if now[at] in ("slide", "tap"):
            choices.append([now[at]])
        elif before.string == slot.string and before.fret != slot.fret:
            choices.append(["pick", "hammer" if slot.fret > before.fret else "pull"])
        else:
            choices.append(["pick"])
    found = {}
    for kinds in product(*choices):
        if "pick" not in kinds:
            continue
        for begin in OTHER:
            hand, reps = begin, []
            for _ in range(8):
                if not goes_on:
                    hand = begin
                rep = []
                for kind in kinds:
                    rep.append(hand if kind == "pick" else kind)
                    hand = OTHER[hand] if kind == "pick" else hand
                reps.append(tuple(rep))
            found[reps[0]] = reps
    return found


def changes_of(cell: Cell, reps: list[tuple[str, ...]]) -> list[dict[str, object]]:
    """The changes of one whole round, read off the written-out repetitions (the later ones, in
    which no beginning is felt any more)."""
    period = 1 if reps[4] == reps[5] else 2
    flat = [(slot, stroke) for rep in reps for slot, stroke in zip(cell.slots, rep)]
    first = 4 * len(cell.slots)
    told = []
    for at in range(first, first + period * len(cell.slots)):
        (here, before), (there, after) = flat[at], flat[at + 1]
        if here.string == there.string:
            continue
        strokes = [stroke for _, stroke in flat[: at + 1] if stroke in OTHER]
        open_here = (cell.tuning[here.string - 1], -here.string)
        open_there = (cell.tuning[there.string - 1], -there.string)
        higher = open_there > open_here
        side = None
        if (before, after) == ("down", "up"):
            side = "outside" if higher else "inside"
        if (before, after) == ("up", "down"):
            side = "inside" if higher else "outside"
        told.append(
            {
                "rep": (at - first) // len(cell.slots) + 1,
                "from_slot": here.number,
                "to_slot": there.number,
                "before": before,
                "after": after,
                "toward": "higher" if higher else "lower",
                "side": side,
                "skipped": tuple(
                    string
                    for string in range(1, len(cell.tuning) + 1)
                    if (here.string < string < there.string)
                    or (there.string < string < here.string)
                ),
                "leaves": strokes[-1] if strokes else None,
            }
        )
    return told


def lets_through(
    wanted: Wanted, reps: list[tuple[str, ...]], changes: list[dict[str, object]]
) -> bool:
    slurs = sum(stroke in ("hammer", "pull") for stroke in reps[0])
    return (
        (wanted.leave is None or all(one["leaves"] == wanted.leave for one in changes))
        and (not wanted.same_start or reps[0] == reps[1])
        and wanted.slurs in (None, slurs)
        and not (wanted.no_inside and any(one["side"] == "inside" for one in changes))
        and not any(
            one["skipped"] and one["leaves"] == wanted.no_skip_under
            for one in changes
            if wanted.no_skip_under
        )
    )


def random_cell(rng: Random, longest: int = 9) -> Cell:
    """Few strings and frets, so that much can be slurred; now and then strokes written in part,
    slides, taps, another tuning."""
    strings = rng.sample(range(1, 7), rng.randint(1, 3))
    some = (None, None, None, "down", "up", "hammer", "pull", "slide", "tap")
    strokes = [rng.choice(some) if rng.random() < 0.3 else None for _ in range(longest)]
    if rng.random() < 0.3:
        strokes = [rng.choice(("down", "up", "hammer", "pull")) for _ in range(longest)]
    places = [
        (rng.choice(strings), rng.choice((5, 7, 8)), strokes[at])
        for at in range(rng.randint(1, longest))
    ]
    return make_cell(
        "x",
        places,
        tuning=rng.choice(
            [(64, 59, 55, 50, 45, 40), (64, 59, 67, 62, 57, 52), (64, 64, 55, 55, 45, 40)]
        ),
        picking=rng.choice((None, "repeat")),
        begin=rng.choice(("down", "up")),
    )


def random_wanted(rng: Random) -> Wanted:
    return Wanted(
        leave=rng.choice((None, None, "down", "up")),
        same_start=rng.random() < 0.3,
        slurs=rng.choice((None, None, 0, 1, 2, 3)),
        no_inside=rng.random() < 0.3,
        no_skip_under=rng.choice((None, None, "down", "up")),
    )


@pytest.mark.parametrize("seed", range(150))
def test_all_plans_and_no_others_are_told(seed):
    """The search against the brute enumeration, with and without filters: strokes, seam, slurs,
    leaves, count."""
    rng = Random(seed)
    cell = random_cell(rng)
    brute = every_plan(cell)
    today = [strokes_of(cell, rep) for rep in range(1, 9)]
    plans = Plans(cell)
    told = list(plans)
    assert len(told) == plans.count and told[0].strokes == today[0] and told[0].differs == ()
    assert {plan.strokes for plan in told} == brute.keys() | {today[0]}
    assert len({plan.strokes for plan in told}) == len(told)
    reps_by_strokes = {**brute, today[0]: today}
    for plan in told:
        check(cell, plan, reps_by_strokes[plan.strokes], today[0])

    wanted = random_wanted(rng)
    if wanted.anything:
        return
    some = Plans(cell, wanted)
    told = list(some)
    expected = {
        strokes
        for strokes, reps in brute.items()
        if lets_through(wanted, reps, changes_of(cell, reps))
    }
    if brute.get(today[0], today) == today and lets_through(wanted, today, changes_of(cell, today)):
        picked = [stroke for stroke in today[0] if stroke in OTHER]
        if all(one != other for one, other in zip(picked, picked[1:])) and is_plan(cell, today):
            expected.add(today[0])
            assert told[0].strokes == today[0]
    assert {plan.strokes for plan in told} == expected
    assert len(told) == some.count == len(expected)


def is_plan(cell: Cell, reps: list[tuple[str, ...]]) -> bool:
    """Whether strokes go over the seam as the cell's picking has it."""
    picked = [stroke for stroke in reps[0] if stroke in OTHER]
    goes_on = cell.picking == "alternate" and None in cell.written
    turned = goes_on and len(picked) % 2 == 1
    return reps[1] == (tuple(OTHER.get(one, one) for one in reps[0]) if turned else reps[0])


def check(cell: Cell, plan: Plan, reps: list[tuple[str, ...]], today: tuple[str, ...]) -> None:
    assert plan.same_start == (reps[0] == reps[1])
    assert plan.slurs == sum(stroke in ("hammer", "pull") for stroke in reps[0])
    assert list(plan.leaves) == [one["leaves"] for one in changes_of(cell, reps)]
    assert list(plan.differs) == [
        number for number, two in enumerate(zip(reps[0], today), 1) if two[0] != two[1]
    ]


@pytest.mark.parametrize("seed", range(150, 250))
def test_every_string_change_is_told_as_it_is(seed):
    """Against repetitions written out: stroke before and after, direction, side, strings in the
    way, the stroke after which the hand leaves."""
    cell = random_cell(Random(seed), 12)
    reps = [strokes_of(cell, rep) for rep in range(1, 9)]
    fields = (
        "rep", "from_slot", "to_slot", "before", "after", "toward", "side", "skipped", "leaves"
    )  # fmt: skip
    told = [{name: getattr(one, name) for name in fields} for one in string_changes(cell)]
    first = round_of(cell).start
    if (4 - first + 1) % len(round_of(cell)):  # begin where the round does
        reps = reps[1:]
    assert told == changes_of(cell, reps)


@pytest.mark.parametrize("seed", range(250, 330))
def test_a_plan_written_as_a_variant_has_its_strokes_in_every_repetition(seed):
    """Whatever the cell has written; what alternates goes on turning round."""
    rng = Random(seed)
    cell = random_cell(rng, 7)
    for plan in Plans(cell):
        if not plan.differs:
            continue
        begin, strokes = as_variant(cell, plan)
        again = make_cell(
            "x",
            [(slot.string, slot.fret, stroke) for slot, stroke in zip(cell.slots, cell.written)],
            tuning=cell.tuning,
            picking=cell.picking,
            begin=cell.begin,
            variants={"v": strokes},
            begins={"v": begin} if begin else {},
        ).with_variant("v")
        reps = every_plan(cell)[plan.strokes]
        assert [strokes_of(again, rep) for rep in range(1, 9)] == reps


# ----------------------------------------------------------------------------------- worked by hand


def test_an_odd_figure_is_inside_once_and_outside_once():
    """sources.md L-06 (derived): in an odd figure each change is outside in one repetition and
    inside in the next."""
    odd = make_cell("odd", [(1, 8), (1, 5), (2, 8), (2, 6), (2, 5)])
    changes = string_changes(odd)
    assert [(one.rep, one.from_slot, one.side, one.leaves) for one in changes] == [
        (1, 2, "outside", "up"),
        (1, 5, "outside", "down"),
        (2, 2, "inside", "down"),
        (2, 5, "inside", "up"),
    ]


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(1, 6), min_size=1, max_size=11))
def test_l_06_for_any_figure(strings):
    """sources.md L-06: with an odd number of picked notes every change has both sides in turn, with
    an even number it has one."""
    cell = make_cell("any", [(string, 5) for string in strings])
    by_slot: dict[int, list[str | None]] = {}
    for change in string_changes(cell):
        by_slot.setdefault(change.from_slot, []).append(change.side)
    for sides in by_slot.values():
        assert sorted(map(str, sides)) == (
            ["inside", "outside"] if len(strings) % 2 else [str(sides[0])]
        )


@pytest.mark.parametrize(
    ("steps", "grid", "beat", "both"),
    [
        (5, 4, 4, 4),
        (6, 4, 2, 2),
        (7, 4, 4, 4),
        (8, 4, 1, 1),
        (9, 4, 4, 4),
        (10, 4, 2, 2),
        (5, 3, 3, 6),
        (8, 3, 3, 3),
    ],
)
def test_beat_and_stroke_agree_again(steps, grid, beat, both):
    """sources.md L-04 and L-05 (derived), counted along: the first repetition that begins on a beat
    with a down stroke again."""
    cell = make_cell("run", [(1, 5 + at % 3) for at in range(steps)], grid=grid)
    assert (reps_to_beat(cell), reps_to_all(cell)) == (beat, both)
    told = list(starts(cell))
    assert len(told) == both and told[0] == (1, "down", 1, 0)
    again = [
        rep
        for rep in range(1, 40)
        if rep * steps % grid == 0 and strokes_of(cell, rep + 1)[0] == "down"
    ]
    assert again[0] == both
    assert all((stroke, step) != ("down", 0) for _, stroke, _, step in told[1:])


def test_grid_wise_and_stroke_wise_are_two_readings():
    """sources.md L-01 and L-02: alternation here counts strokes; a rest turns nothing."""
    rest = make_cell("rest", [(1, 5), (1, 7), 1])
    assert strokes_of(rest, 2) == ("down", "up") and len(round_of(rest)) == 1


def test_a_beginning_that_never_returns_is_not_counted():
    """An up stroke written third: from the second repetition on all are alike, and the changes are
    those of that round."""
    cell = make_cell("x", [(1, 5), (2, 5), (1, 7, "up"), (2, 7)])
    assert round_of(cell) == range(2, 3)
    assert [(one.rep, one.before) for one in string_changes(cell)] == [
        (1, "up"),
        (1, "down"),
        (1, "up"),
        (1, "down"),
    ]


def test_nothing_picked_is_told_first_and_once():
    """A tapped cell's own plan is no plan of the search; it stands first without filters, and what
    is left to pick besides taps follows."""
    tapped = make_cell("x", [(1, 15, "tap"), (1, 8, "pull"), (3, 14, "tap"), (3, 7, "pull")])
    told = list(Plans(tapped))
    assert told[0].strokes == ("tap", "pull", "tap", "pull") and told[0].leaves == (None, None)
    assert {plan.strokes for plan in told[1:]} == {
        ("tap", "down", "tap", "up"),
        ("tap", "up", "tap", "down"),
        ("tap", "down", "tap", "pull"),
        ("tap", "up", "tap", "pull"),
        ("tap", "pull", "tap", "down"),
        ("tap", "pull", "tap", "up"),
    }
    assert all(plan.slurs > 1 or plan.leaves[0] for plan in Plans(tapped, Wanted(leave="up")))


def test_a_hammer_from_nowhere_only_where_asked_for():
    """On a string that did not sound before; an open string cannot be hammered."""
    cell = make_cell("x", [(1, 5), (2, 7), (3, 0)])
    assert Plans(cell).count == 2
    told = {plan.strokes for plan in Plans(cell, Wanted(from_nowhere=True))}
    assert ("down", "hammer", "up") in told and all(strokes[2] != "hammer" for strokes in told)


def test_a_long_cell_is_counted_whole_and_told_in_part():
    """Sixty-four notes on one string: 2 × (2^64 − 1) plans, each note slurred or picked; the first
    hundred are as good as in a short one."""
    cell = make_cell("long", [(1, 5 + at % 4) for at in range(64)])
    plans = Plans(cell)
    assert plans.count == 2 * (2**64 - 1)
    told = list(islice(plans, 100))
    assert len({plan.strokes for plan in told}) == 100 and told[0].slurs == 0
    assert Plans(cell, Wanted(slurs=63)).count == 2 * 64
