"""Sittings with several cells in force, and what was really played in them, for the benchmark of
recognition."""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random

from folders import FOLDERS, ROOT, family, shipped

from livecheck.core.cell import Cell
from livecheck.core.events import Midi
from livecheck.core.rig import Rig
from livecheck.files.midifile import read_midi
from livecheck.player.cells import random_cell
from livecheck.player.mixes import draw
from livecheck.player.takes import MIXES, Take, perform

TAKE_MIXES = tuple(name for name in MIXES if name != "wild")
CHANGES = ("alone", "pause", "no pause")
SCENES = tuple(
    f"{kind}, {change}"
    for kind in FOLDERS
    for change in CHANGES
    if (kind, change) != ("rotations", "no pause")
)
"""A rotation that follows without a pause is the same music begun elsewhere: nobody could say that
it was meant."""

UNRELATED = ("noodling", "stranger", "recording")


@dataclass(frozen=True)
class Played:
    """A cell, and when its repetitions began and the last one ended."""

    cell: Cell
    begun: list[float]


@dataclass(frozen=True)
class Sitting:
    what: str
    folder: list[Cell]
    rig: Rig
    records: list[Midi]
    played: list[Played]


def sitting(scene: str, seed: int, wide: bool) -> Sitting:
    """One take of a cell, or two of two cells, one after the other."""
    kind, change = scene.split(", ")
    rng = Random(f"{kind} {change} {seed} {wide}")
    mix = TAKE_MIXES[seed // 2 % len(TAKE_MIXES)]
    habits, how, wishes = draw(mix, rng, wide)
    folder, relatives = FOLDERS[kind](rng, **wishes)
    cell = rng.choice(folder[:relatives])
    if kind == "rotations":
        habits = replace(habits, mid_entry=False)  # where it begins is all that tells them apart
    if change == "no pause":
        habits = replace(habits, noodle_before=0, noodle_after=0, mid_entry=False, end="complete")
    take = perform(cell, habits, how, rng)
    if change == "alone":
        return Sitting(mix, folder, take.rig, take.records, [Played(cell, starts(take, 0.0))])
    others = [one for one in folder[:relatives] if one is not cell] or [
        one for one in folder if one is not cell
    ]
    other = rng.choice(others)
    second = perform(other, replace(habits, reps=max(6, habits.reps)), how, rng)
    if change == "no pause":
        last = take.truth.reps[-1]
        end_s = last.start_s + cell.steps * last.step_s
        cut_s, by_s = end_s - 0.3 * last.step_s, end_s - second.truth.reps[0].start_s
    else:
        cut_s = take.records[-1].t_s
        by_s = cut_s + rng.uniform(2.5, 8.0)
    records = put_back([record for record in take.records if record.t_s <= cut_s], cut_s)
    records += [
        Midi(record.t_s + by_s, record.data)
        for record in second.records
        if record.t_s + by_s > cut_s
    ]
    played = [Played(cell, starts(take, 0.0)), Played(other, starts(second, by_s))]
    return Sitting(mix, folder, take.rig, records, played)


def put_back(records: list[Midi], cut_s: float) -> list[Midi]:
    """A take that was cut, with its wheels put back: a converter does not leave a string bent for
    good."""
    wheels = {
        record.data[0]: record.data
        for record in records
        if len(record.data) == 3 and record.data[0] >> 4 == 14
    }
    return records + [
        Midi(cut_s, bytes((status, 0, 64)))
        for status, data in wheels.items()
        if data[1:] != b"\0\x40"
    ]


def starts(take: Take, by_s: float) -> list[float]:
    return [rep.start_s + by_s for rep in take.truth.reps] + [take.truth.reps[-1].end_s + by_s]


# ---------------------------------------------------------------------------------------- unrelated


def unrelated(scene: str, seed: int, wide: bool) -> Sitting:
    """Play that is none of the cells."""
    return {"noodling": noodled, "stranger": stranger, "recording": recording}[scene](seed, wide)


def noodled(seed: int, wide: bool) -> Sitting:
    """A minute of unrelated notes near a folder's cells, up to two in five of them notes of
    theirs."""
    rng = Random(f"noodling {seed} {wide}")
    habits, how, _ = draw("around", rng, wide)
    folder, relatives = rng.choice((family, FOLDERS["crowd"], shipped))(rng)
    base = rng.choice(folder[:relatives])
    habits = replace(
        habits, reps=1, noodle_after=rng.randint(40, 200), noodle_own=rng.uniform(0.0, 0.4)
    )
    take = perform(base, habits, how, rng)
    begin_s = take.truth.reps[-1].end_s + 0.3
    return Sitting(
        "-", folder, take.rig, [record for record in take.records if record.t_s > begin_s], []
    )


def stranger(seed: int, wide: bool) -> Sitting:
    """A cell that is not in the folder and shares no more than a few notes with any."""
    rng = Random(f"stranger {seed} {wide}")
    habits, how, _ = draw("everything", rng, wide)
    folder, _ = rng.choice((family, FOLDERS["crowd"], shipped))(rng)
    while True:
        cell = random_cell(rng)
        own = {(slot.string, slot.pitch) for slot in cell.slots}
        if all(
            len(own & {(slot.string, slot.pitch) for slot in one.slots}) <= len(own) / 4
            for one in folder
        ):
            take = perform(cell, habits, how, rng)
            return Sitting("-", folder, take.rig, take.records, [])


def recording(seed: int, wide: bool) -> Sitting:
    """Real play that holds no looped figure (tests/data/guitarset)."""
    rng = Random(f"recording {seed} {wide}")
    records = read_midi(ROOT / "tests" / "data" / "guitarset" / "00_BN1-129-Eb_solo.mid")
    folder, _ = family(rng) if seed % 2 else FOLDERS["crowd"](rng)
    return Sitting("-", folder, Rig(channels=(1, 2, 3, 4, 5, 6, 7)), records, [])
