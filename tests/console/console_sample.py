"""Repetitions and played records for the console's tests, made by hand so that every figure on the
screen is known."""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence

from livecheck.console.model import Model
from livecheck.core.cell import Cell, make_cell
from livecheck.core.events import (
    HIT,
    MISSED,
    NOISE,
    WRONG,
    Evenness,
    Extra,
    Link,
    Midi,
    Note,
    Record,
    RepDone,
    Repetition,
    SlotResult,
    Stop,
    UseCells,
    UseRig,
)
from livecheck.core.rig import Rig

CELL = make_cell(
    "six across a skip",
    [
        (2, 13, "down"),
        (2, 10, "up"),
        (3, 12, "down"),
        (3, 10, "up"),
        (5, 12, "down"),
        (5, 10, "pull", 2),
        1,
    ],
    tempo_bpm=100,
    variants={"hammered": {5: "hammer"}},
)


def long_cell(slots: int) -> Cell:
    """A cell of so many slots that walks over the strings."""
    return make_cell(
        f"{slots} slots",
        [(1 + index // 3 % 6, 5 + index % 3) for index in range(slots)],
        tempo_bpm=120,
    )


def repetition(
    rep: int = 1,
    verdicts: str = "hit hit hit hit hit hit",
    *,
    cell: Cell = CELL,
    bpm: float | None = 100.0,
    strings: Sequence[int] = (),
    kind: str = NOISE,
    deviations_ms: Sequence[float] = (),
    cv_pct: float | None = 4.1,
    audible: bool | None = False,
    pause_s: float = 0.0,
    complete: bool = True,
    take: int = 1,
    start_s: float | None = None,
) -> Repetition:
    """A finished repetition; ``strings`` sounded besides, one extra each."""
    told = verdicts.split()
    begins = 1.2 * (rep - 1) if start_s is None else start_s
    slots = []
    for slot, verdict in zip(cell.slots, told):
        at = begins + 0.15 * slot.start
        note = (
            None
            if verdict == MISSED
            else Note(at, slot.string, slot.pitch, slot.pitch, 80, end_s=at + 0.14)
        )
        deviation = deviations_ms[slot.number - 1] if deviations_ms and note is not None else None
        slots.append(SlotResult(slot.number, verdict, note, at, deviation))
    extras = tuple(
        Extra(Note(begins + 0.1, string, 50, 50, 30, end_s=begins + 0.15), kind)
        for string in strings
    )
    hits = told.count(HIT)
    clean = complete and hits == len(told) and (not extras or kind not in (NOISE, "stray"))
    rate = None if bpm is None else bpm / 60 * cell.grid
    evenness = Evenness(cv_pct, None, None, audible)
    return Repetition(
        rep=rep, take=take, cell=cell, start_s=begins, end_s=begins + 1.2, complete=complete,
        pause_s=pause_s, tempo_bpm=bpm, notes_per_s=rate, slots=tuple(slots), extras=extras,
        accuracy=hits / len(told), clean=clean, evenness=evenness,
    )  # fmt: skip


def filled(reps: Iterable[Repetition], cell: Cell = CELL) -> Model:
    """A model that was told these repetitions through a linked converter."""
    model = Model()
    model.hear(UseCells(0.0, (cell,)))
    model.hear(Link(0.0, True, "Hex"))
    for rep in reps:
        model.tell(RepDone(rep))
    return model


def random_reps(cell: Cell, count: int, seed: int) -> list[Repetition]:
    """Repetitions with every kind of fault."""
    chance = random.Random(seed)
    reps = []
    for rep in range(1, count + 1):
        told = chance.choices([HIT, WRONG, MISSED], [8, 1, 1], k=len(cell.slots))
        complete = chance.random() < 0.9
        if not complete:
            told = told[: chance.randint(1, len(told))]
        reps.append(
            repetition(
                rep,
                " ".join(told),
                cell=cell,
                bpm=chance.choice([None, 61.7, 133.3, 312.9]),
                strings=chance.choices(range(1, 7), k=chance.choice([0, 0, 1, 14])),
                deviations_ms=[chance.gauss(0, 30) for _ in cell.slots],
                cv_pct=chance.choice([None, 3.2, 104.7]),
                audible=chance.choice([None, True, False]),
                pause_s=chance.choice([0.0, 0.0, 12.3]),
                complete=complete,
                take=1 + rep // 10,
            )
        )
    return reps


def session_records(
    reps: int = 3, missing: Sequence[tuple[int, int]] = (), stop: bool = True
) -> list[Record]:
    """Records of CELL played evenly at 100 bpm on the default rig; ``missing`` holds (repetition,
    slot) pairs."""
    records: list[Record] = [UseRig(0.0, Rig()), UseCells(0.0, (CELL,)), Link(0.1, True, "Hex")]
    for rep in range(1, reps + 1):
        for slot in CELL.slots:
            if (rep, slot.number) in missing:
                continue
            at = 1.0 + 0.15 * ((rep - 1) * CELL.steps + slot.start)
            records.append(Midi(at, bytes([0x90 + slot.string - 1, slot.pitch, 80])))
            records.append(Midi(at + 0.12, bytes([0x80 + slot.string - 1, slot.pitch, 0])))
    if stop:
        records.append(Stop(records[-1].t_s + 3.0, "asked to"))
    return records
