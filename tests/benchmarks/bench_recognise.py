"""Which of several cells is being played: how often, how soon and how rarely wrongly it is told.

    python tests/benchmarks/bench_recognise.py                          the development takes
    python tests/benchmarks/bench_recognise.py --set report --takes 40  takes that nothing was tuned on
    python tests/benchmarks/bench_recognise.py --scene family --errors 5

Folders of cells are made hard on purpose: a drawn cell, others made from it by changing one or two slots, its rhythm,
its place on the neck or its length, and a few strangers; or the shipped cells. A take is right where the cell played is
told before its third repetition is over and no other one is ever told.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from random import Random

from livecheck.core.cell import Cell, make_cell
from livecheck.core.events import CellTold, Midi, UseCells
from livecheck.core.recognise import music
from livecheck.core.rig import Rig
from livecheck.files.config import load_cell
from livecheck.files.midifile import read_midi
from livecheck.player.cells import LAST_FRET, is_its_own_rotation, random_cell
from livecheck.player.mixes import draw
from livecheck.player.takes import MIXES, Take, perform
from livecheck.session import Session

ROOT = Path(__file__).resolve().parents[2]
FIRST_SEED = {"dev": 0, "report": 1_000_000}
TAKE_MIXES = tuple(name for name in MIXES if name != "wild")
SCENES = ("family", "shipped", "pause", "no pause", "noodling", "stranger", "recording")
IN_TIME = 3  # repetitions


@dataclass
class Result:
    """What came of a take, or of two one after the other."""

    scene: str
    what: str
    right: int  # takes told rightly
    takes: int = 1
    soon: list[float] = field(default_factory=list)  # repetitions until the last cell told of each take
    why: str = ""


# ------------------------------------------------------------------------------------------------------- folders


def places_of(cell: Cell) -> list[tuple[int, int, str | None, int] | int]:
    """What ``make_cell`` is given to make this cell."""
    places: list[tuple[int, int, str | None, int] | int] = []
    at = 0
    for slot in cell.slots:
        if slot.start > at:
            places.append(slot.start - at)
        places.append((slot.string, slot.fret, slot.stroke, slot.length))
        at = slot.start + slot.length
    return [*places, cell.steps - at] if cell.steps > at else places


def remade(cell: Cell, name: str, places: list[tuple[int, int, str | None, int] | int]) -> Cell:
    return make_cell(name, places, grid=cell.grid, tuning=cell.tuning, capo=cell.capo)


def changed(cell: Cell, rng: Random) -> Cell:
    """Another cell that shares notes with this one."""
    places = places_of(cell)
    sounding = [at for at, place in enumerate(places) if not isinstance(place, int)]
    way = rng.choice(("one slot", "one slot", "two slots", "rhythm", "moved", "half", "longer"))
    if way in ("one slot", "two slots"):
        for at in rng.sample(sounding, min(len(sounding), 1 if way == "one slot" else 2)):
            string, fret, _, length = places[at]  # type: ignore[misc]
            fret += rng.choice((-3, -2, -1, 1, 2, 3))
            places[at] = (string, min(max(fret, 0), LAST_FRET - cell.capo), "down", length)
    elif way == "rhythm":
        at = rng.choice(sounding)
        string, fret, stroke, length = places[at]  # type: ignore[misc]
        places[at] = (string, fret, stroke, length + 1)
    elif way == "moved":
        by = rng.choice((-2, -1, 1, 2))
        places = [
            place if isinstance(place, int) else (place[0], max(place[1] + by, 0), *place[2:]) for place in places
        ]
    elif way == "half" and len(sounding) >= 4:
        places = places[: sounding[len(sounding) // 2]]
    else:
        places = [*places, *(places[at] for at in rng.sample(sounding, min(len(sounding), 2)))]
    return remade(cell, way, places)


def family(cell: Cell, rng: Random, **wishes: float) -> list[Cell]:
    """A folder around a cell; no two of them give the same music."""
    folder = [cell]
    heard = {music(cell)}
    while len(folder) < 6:
        one = changed(rng.choice(folder), rng)
        if len(one.slots) >= 2 and not is_its_own_rotation(one) and music(one) not in heard:
            heard.add(music(one))
            folder.append(one)
    while len(folder) < 9:
        one = random_cell(rng, **wishes)  # type: ignore[arg-type]
        if len(one.tuning) == len(cell.tuning) and music(one) not in heard:
            heard.add(music(one))
            folder.append(one)
    return [replace(one, name=f"{number} {one.name}") for number, one in enumerate(folder)]


@cache
def shipped() -> tuple[Cell, ...]:
    return tuple(load_cell(path) for path in sorted((ROOT / "configs" / "cells").glob("*.yaml")))


# --------------------------------------------------------------------------------------------------------- takes


def played(
    scene: str, seed: int, wide: bool
) -> tuple[str, list[Cell], Rig, list[Midi], list[tuple[Cell, list[float]]]]:
    """(mix, folder, rig, records, what was played: each cell with the times at which its repetitions began)."""
    rng = Random(f"{scene} {seed} {'wide' if wide else 'usual'}")
    mix = TAKE_MIXES[seed % len(TAKE_MIXES)]
    habits, how, wishes = draw(mix, rng, wide)
    if scene == "shipped":
        folder = list(shipped())
        cell = rng.choice(folder)
    else:
        folder = family(random_cell(rng, **wishes), rng, **wishes)  # type: ignore[arg-type]
        cell = rng.choice(folder[:6])
    take = perform(cell, habits, how, rng)
    if scene in ("family", "shipped"):
        return mix, folder, take.rig, take.records, [(cell, starts(take, 0.0))]
    if scene == "no pause":
        habits = replace(habits, noodle_before=0, noodle_after=0, mid_entry=False, end="complete")
        take = perform(cell, habits, how, rng)
    other = rng.choice([one for one in folder[:6] if one is not cell])
    second = perform(other, replace(habits, reps=max(6, habits.reps)), how, rng)
    last = take.truth.reps[-1]
    if scene == "no pause":
        cut_s = last.start_s + cell.steps * last.step_s - 0.3 * last.step_s
        by_s = last.start_s + cell.steps * last.step_s - second.truth.reps[0].start_s
    else:
        cut_s = take.records[-1].t_s
        by_s = cut_s + rng.uniform(2.5, 8.0)
    records = [record for record in take.records if record.t_s <= cut_s]
    moved = [Midi(record.t_s + by_s, record.data) for record in second.records if record.t_s + by_s > cut_s]
    return mix, folder, take.rig, records + moved, [(cell, starts(take, 0.0)), (other, starts(second, by_s))]


def starts(take: Take, by_s: float) -> list[float]:
    return [rep.start_s + by_s for rep in take.truth.reps] + [take.truth.reps[-1].end_s + by_s]


def noodled(seed: int, wide: bool) -> tuple[list[Cell], Rig, list[Midi]]:
    """A minute of unrelated notes near a folder's cells, up to two in five of them notes of theirs."""
    rng = Random(f"noodling {seed} {wide}")
    habits, how, _ = draw("around", rng, wide)
    folder = family(random_cell(rng), rng) if rng.random() < 0.7 else list(shipped())
    base = rng.choice(folder[:6])
    habits = replace(habits, reps=1, noodle_after=rng.randint(40, 200), noodle_own=rng.uniform(0.0, 0.4))
    take = perform(base, habits, how, rng)
    begin_s = take.truth.reps[-1].end_s + 0.3
    return folder, take.rig, [record for record in take.records if record.t_s > begin_s]


def stranger(seed: int, wide: bool) -> tuple[list[Cell], Rig, list[Midi]]:
    """A cell that is not in the folder and shares no more than a few notes with any."""
    rng = Random(f"stranger {seed} {wide}")
    habits, how, _ = draw("everything", rng, wide)
    folder = family(random_cell(rng), rng) if rng.random() < 0.7 else list(shipped())
    while True:
        cell = random_cell(rng)
        own = {(slot.string, slot.pitch) for slot in cell.slots}
        if all(len(own & {(slot.string, slot.pitch) for slot in one.slots}) <= len(own) / 4 for one in folder):
            take = perform(cell, habits, how, rng)
            return folder, take.rig, take.records


def recording(seed: int, wide: bool) -> tuple[list[Cell], Rig, list[Midi]]:
    """Real play that holds no looped figure (tests/data/guitarset)."""
    rng = Random(f"recording {seed} {wide}")
    records = read_midi(ROOT / "tests" / "data" / "guitarset" / "00_BN1-129-Eb_solo.mid")
    folder = family(random_cell(rng), rng) if seed else list(shipped())
    return folder, Rig(channels=(1, 2, 3, 4, 5, 6, 7)), records


# ------------------------------------------------------------------------------------------------------- judging


def told(folder: Sequence[Cell], rig: Rig, records: Sequence[Midi]) -> list[tuple[float, Cell | None]]:
    """What was told, and when."""
    session = Session(None, rig)
    session.feed(UseCells(0.0, tuple(folder)))
    cells: list[tuple[float, Cell | None]] = []
    t_s = 0.0
    for record in records:
        t_s = record.t_s
        cells += [(t_s, one.cell) for one in session.feed(record) if isinstance(one, CellTold)]
    return cells + [(t_s, one.cell) for one in session.finish() if isinstance(one, CellTold)]


def one(job: tuple[str, int, bool]) -> Result:
    scene, seed, wide = job
    if scene in ("noodling", "stranger", "recording"):
        make = {"noodling": noodled, "stranger": stranger, "recording": recording}[scene]
        folder, rig, records = make(seed, wide)
        cells = told(folder, rig, records)
        names = [cell.name for _, cell in cells if cell is not None]
        return Result(scene, "-", int(not names), why=", ".join(names))
    mix, folder, rig, records, truth = played(scene, seed, wide)
    cells = told(folder, rig, records)
    result = Result(scene, mix, 0, len(truth))
    ends = [begun[0] for _, begun in truth[1:]] + [float("inf")]
    before_s = float("-inf")
    for (cell, begun), end_s in zip(truth, ends):
        found = [(t_s, one) for t_s, one in cells if one is not None and before_s <= t_s < end_s]
        before_s = end_s
        if found:
            result.soon.append(repetition(begun, found[-1][0]))
            result.right += all(one is cell for _, one in found) and repetition(begun, found[0][0]) <= IN_TIME
    names = [(round(t_s, 1), cell and cell.name) for t_s, cell in cells]
    begun = [[round(t_s, 1) for t_s in times[:5]] for _, times in truth]
    result.why = f"played {[cell.name for cell, _ in truth]}, told {names}, began {begun}"
    return result


def repetition(begun: Sequence[float], t_s: float) -> float:
    """How many repetitions had passed at a time, the one under way in part."""
    for number, (begin_s, end_s) in enumerate(zip(begun, begun[1:])):
        if t_s < end_s:
            return number + max(0.0, (t_s - begin_s) / (end_s - begin_s))
    return float(len(begun))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--set", choices=FIRST_SEED, default="dev")
    parser.add_argument("--takes", type=int, default=130, help="of each scene")
    parser.add_argument("--scene", choices=SCENES, action="append")
    parser.add_argument("--skip", type=int, default=0, help="so many takes before")
    parser.add_argument("--errors", type=int, default=0)
    options = parser.parse_args()
    wide, first = options.set == "report", FIRST_SEED[options.set] + options.skip
    print(f"{'scene':10s} {'takes':>6s} {'right %':>8s} {'false %':>8s}   repetitions until told: median, 95 %, most")
    with ProcessPoolExecutor(2) as pool:
        for scene in options.scene or SCENES:
            jobs = [(scene, first + number, wide) for number in range(options.takes)]
            results = list(pool.map(one, jobs, chunksize=4))
            right = sum(result.right for result in results)
            takes = sum(result.takes for result in results)
            share = 100.0 * right / takes
            soon = sorted(value for result in results for value in result.soon)
            if scene in ("noodling", "stranger", "recording"):
                print(f"{scene:10s} {takes:6d} {'-':>8s} {100 - share:8.2f}")
            else:
                spread = (
                    f"{soon[len(soon) // 2]:.2f}, {soon[int(0.95 * len(soon))]:.2f}, {soon[-1]:.2f}" if soon else "-"
                )
                print(f"{scene:10s} {takes:6d} {share:8.2f} {'-':>8s}   {spread}")
            wrong = [(job, result) for job, result in zip(jobs, results) if result.right < result.takes]
            if options.errors:
                print("   by mix:", dict(Counter(result.what for _, result in wrong)))
            for job, result in wrong[: options.errors]:
                print(f"   seed {job[1]} {result.what}: {result.why}")


if __name__ == "__main__":
    main()
