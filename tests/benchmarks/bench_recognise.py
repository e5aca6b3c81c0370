"""Which of several cells is being played: how often, how soon and how rarely wrongly it is told.

  python tests/benchmarks/bench_recognise.py                          the development takes
  python tests/benchmarks/bench_recognise.py --first 3000000 --wide  takes that nothing was tuned on
  python tests/benchmarks/bench_recognise.py --scene "rhythms, pause" --errors 5 --ceiling
  python tests/benchmarks/bench_recognise.py --speed  what a note costs with 30 cells in force

A take is right where the cell played is told before its third repetition is over and no other one
is told until the next cell begins; for a change of cell only the second one is counted. The ceiling
is what anybody could reach who is told when the cell begins: which cell explains the notes of the
first three repetitions best, and those of all.
"""

from __future__ import annotations

import argparse
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from random import Random
from time import perf_counter

from folders import crowd
from sittings import SCENES, UNRELATED, Played, Sitting, sitting, unrelated

from livecheck.core.candidate import Candidate
from livecheck.core.cell import Cell
from livecheck.core.decode import Decoder
from livecheck.core.events import CellTold, Note, UseCells
from livecheck.session import Session

IN_TIME = 3  # repetitions
TICK_S, MOST_TICKS = 0.02, 500
GROUPS = ("alone", "pause", "no pause", "unrelated")


@dataclass
class Result:
    """What came of one cell played, or of play that is none."""

    right: bool
    how: str = ""  # late, none or wrong
    soon: float | None = None  # repetitions until it was told
    decidable: tuple[bool, bool] | None = None  # by three repetitions, by all
    why: str = field(default="", repr=False)


def told(this: Sitting) -> list[tuple[float, Cell | None]]:
    """What was told, and when."""
    session = Session(None, this.rig)
    session.feed(UseCells(0.0, tuple(this.folder)))
    cells: list[tuple[float, Cell | None]] = []
    t_s = 0.0
    for record in this.records:
        for _ in range(MOST_TICKS):  # as a console does between two messages
            if t_s + TICK_S >= record.t_s:
                break
            t_s += TICK_S
            cells += [(t_s, one.cell) for one in session.tick(t_s) if isinstance(one, CellTold)]
        t_s = record.t_s
        cells += [(t_s, one.cell) for one in session.feed(record) if isinstance(one, CellTold)]
    return cells + [(t_s, one.cell) for one in session.finish() if isinstance(one, CellTold)]


def judge(job: tuple[str, int, bool, bool]) -> Result:
    """The take that a scene is about: the only one, or the one after the change."""
    scene, seed, wide, ceiling = job
    if scene in UNRELATED:
        names = [cell.name for _, cell in told(unrelated(scene, seed, wide)) if cell is not None]
        return Result(not names, "wrong" if names else "", why=f"{seed}: {names}")
    this = sitting(scene, seed, wide)
    cells = told(this)
    last = this.played[-1]
    since_s = last.begun[0] if len(this.played) > 1 else float("-inf")
    found = [(t_s, one) for t_s, one in cells if one is not None and t_s >= since_s]
    how, soon = "none", None
    if found:
        soon = repetition(last.begun, found[0][0])
        how = (
            "wrong"
            if any(one is not last.cell for _, one in found)
            else "late"
            if soon > IN_TIME
            else ""
        )
    names = [(round(t_s, 1), cell and cell.name) for t_s, cell in cells]
    why = f"{seed} {this.what}: played {[one.cell.name for one in this.played]}, told {names}"
    return Result(not how, how, soon, decidable(this, last) if ceiling else None, why)


def repetition(begun: list[float], t_s: float) -> float:
    """How many repetitions had passed at a time, the one under way in part."""
    for number, (begin_s, end_s) in enumerate(zip(begun, begun[1:])):
        if t_s < end_s:
            return number + max(0.0, (t_s - begin_s) / (end_s - begin_s))
    return float(len(begun))


# ------------------------------------------------------------------------------------------ ceiling


def decidable(this: Sitting, played: Played) -> tuple[bool, bool]:
    """Does the cell explain the notes better than all that are not the same music: of three
    repetitions, of all?"""
    begun = played.begun
    notes = [note for note in decoded(this) if not note.gated and begun[0] - 0.03 <= note.onset_s]
    first = [note for note in notes if note.onset_s < begun[min(IN_TIME, len(begun) - 1)]]
    return best(this.folder, first, played.cell), best(this.folder, notes, played.cell)


def best(folder: list[Cell], notes: list[Note], cell: Cell) -> bool:
    candidates = [Candidate(one) for one in folder]
    totals = [0.0] * len(folder)
    for note in notes:
        leader = candidates[max(range(len(folder)), key=totals.__getitem__)]
        for at, one in enumerate(candidates):
            one.same_hands(leader)
            one.note(note)
            totals[at] += one.gain
    own = next(one.music for one in candidates if one.cell is cell)
    rivals = [total for total, one in zip(totals, candidates) if one.music != own]
    return not rivals or max(
        total for total, one in zip(totals, candidates) if one.music == own
    ) > max(rivals)


def decoded(this: Sitting) -> list[Note]:
    lowest = {
        (string, pitch + cell.capo)
        for cell in this.folder
        for string, pitch in enumerate(cell.tuning, 1)
    }
    decoder = Decoder(
        this.rig, lowest, {(slot.string, slot.pitch) for cell in this.folder for slot in cell.slots}
    )
    notes: list[Note] = []

    def release(until_s: float) -> None:
        while decoder.due_s is not None and decoder.due_s <= until_s:
            note = decoder.release()[1]
            if note is not None:
                notes.append(note)

    for record in this.records:
        release(record.t_s)
        decoder.feed(record.t_s, record.data)
    release(float("inf"))
    return notes


# -------------------------------------------------------------------------------------------- speed


def speed(takes: int) -> None:
    """µs a note, decoding and all, with so many cells in force."""
    for count in (1, 9, 30):
        spent, notes = 0.0, 0
        for seed in range(takes):
            this = sitting("crowd, pause", seed, True)
            folder = this.folder
            while len(folder) < count:
                folder = folder + crowd(Random(f"more {seed} {len(folder)}"))[0]
            cells = [one.cell for one in this.played] + [
                one for one in folder if one not in this.played
            ]
            session = Session(None, this.rig)
            session.feed(UseCells(0.0, tuple(cells[:count])))
            begun = perf_counter()
            for record in this.records:
                session.feed(record)
            session.finish()
            spent += perf_counter() - begun
            notes += sum(record.data[0] >> 4 == 9 and record.data[2] > 0 for record in this.records)
        print(f"{count:3d} cells: {1e6 * spent / notes:7.1f} µs a note")


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--first", type=int, default=0, help="seed of the first take of each scene")
    parser.add_argument("--takes", type=int, default=104, help="of each scene")
    parser.add_argument("--wide", action="store_true", help="wider ranges of tempo and faults")
    parser.add_argument("--scene", choices=SCENES + UNRELATED, action="append")
    parser.add_argument("--errors", type=int, default=0, help="show so many of each scene")
    parser.add_argument("--ceiling", action="store_true")
    parser.add_argument("--speed", action="store_true")
    options = parser.parse_args()
    if options.speed:
        speed(options.takes)
        return
    total: dict[str, Counter[str]] = {group: Counter() for group in GROUPS}
    print(
        f"{'scene':22s} {'takes':>5s} {'right %':>8s}  late none wrong   told after, repetitions: "
        "median, 95 %"
    )
    with ProcessPoolExecutor(2) as pool:
        for scene in options.scene or SCENES + UNRELATED:
            jobs = [
                (scene, options.first + at, options.wide, options.ceiling)
                for at in range(options.takes)
            ]
            results = list(pool.map(judge, jobs, chunksize=4))
            count = Counter(one.how for one in results)
            count.update(takes=len(results), right=sum(one.right for one in results))
            if options.ceiling and scene in SCENES:
                for at, name in enumerate(("three", "all")):
                    count[name] = sum(
                        one.decidable is not None and one.decidable[at] for one in results
                    )
            total[scene.split(", ")[1] if scene in SCENES else "unrelated"] += count
            soon = sorted(one.soon for one in results if one.soon is not None)
            spread = (
                f"{soon[len(soon) // 2]:.2f}, {soon[int(0.95 * len(soon))]:.2f}"
                if scene in SCENES
                else ""
            )
            print(f"{scene:22s} {figures(count)}   {spread}", flush=True)
            for one in [one for one in results if not one.right][: options.errors]:
                print(f"    {one.how}: {one.why}")
    for group in GROUPS:
        if total[group]:
            print(f"{'all, ' + group:22s} {figures(total[group])}")


def figures(count: Counter[str]) -> str:
    takes = count["takes"]
    line = (
        f"{takes:5d} {100 * count['right'] / takes:8.2f}  {count['late']:4d} {count['none']:4d} "
        f"{count['wrong']:5d}"
    )
    if "three" in count:
        line += (
            f"   ceiling {100 * count['three'] / takes:.2f} in three, "
            f"{100 * count['all'] / takes:.2f} in all"
        )
    return line


if __name__ == "__main__":
    main()
