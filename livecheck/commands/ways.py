"""Ways: are there several ways of playing in what was practised, and in what do they differ?"""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from shlex import quote
from typing import TextIO

from ..core.cell import AS_WRITTEN
from ..files.heard import Heard, heard_in, heard_of
from ..files.paths import path_of
from ..files.waynames import give_name, names_of, path_in
from ..files.ways_report import Place, ways_to_dict
from ..measures.ways.features import Features, put_together
from ..measures.ways.find import Ways, find_ways
from ..report.ways_text import ways_lines
from .choice import Choice, practice_folder
from .common import print_json, width_of
from .judging import is_midi, take_of
from .played import Way, one_way, title_of, ways_of


@dataclass(frozen=True, slots=True)
class Found:
    """The ways in what was chosen: by row of the features ``places``; ``every``: all
    repetitions."""

    ways: Ways
    names: list[str]
    features: Features | None
    places: list[Place]
    every: list[Place]


def run_ways(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice = Choice.of(options)
    chosen = one_way(choice, ways_of(choice, err), err)
    found = found_of(choice, chosen, options.name)
    if options.json:
        print_json(
            ways_to_dict(found.ways, chosen[0].played.cell, found.names, found.places, found.every),
            out,
        )
        return 0
    print(title_of(chosen), file=out)
    examples = [[_replay(found.places[row], choice) for row in way.rows] for way in found.ways.ways]
    lines = ways_lines(found.ways, found.names, examples, width_of(out))
    print(*lines, sep="\n", file=out)
    return 0


def found_of(choice: Choice, chosen: Sequence[Way], name: Sequence[str] | None = None) -> Found:
    """The ways in all that was chosen, with the names they have. name: a way and the name that it
    is given first."""
    features, places, every = heard_together(choice, chosen)
    ways = find_ways(features)
    path = names_path(choice, chosen[0].played.cell)
    if name is not None:
        give_name(ways, path, *name)
    return Found(ways, names_of(ways, path), features, places, every)


def _replay(place: Place, choice: Choice) -> str:
    """The command that shows a repetition again."""
    session, rep = place
    if is_midi(path_of(session)):
        return f"{session}: repetition {rep}"
    home = f" --home {quote(choice.home)}" if choice.home else ""
    return f"livecheck replay {quote(session)} --from-rep {rep}{home}"


def names_path(choice: Choice, cell: str) -> Path:
    """Where the names of a cell's ways are kept."""
    return path_in(practice_folder(choice).root, cell)


def heard_together(
    choice: Choice, chosen: Sequence[Way]
) -> tuple[Features | None, list[Place], list[Place]]:
    """The features of all that was chosen, where each row was played, and all repetitions."""
    tables: list[Features] = []
    rows: list[Place] = []
    every: list[Place] = []
    read: dict[str, list[Heard]] = {}
    for number, way in enumerate(chosen):
        if way.source not in read:
            read[way.source] = _heard(choice, way.source)
        for one in read[way.source]:
            played = way.played
            if (one.figure, one.variant, one.rig) == (played.figure, played.variant, played.rig):
                every += [(way.source, rep) for rep in one.reps]
                if one.features is not None:
                    tables.append(one.features.of(number, way.day))
                    rows += [(way.source, int(rep)) for rep in one.features.rep]
    every.sort(key=lambda place: [way.source for way in chosen].index(place[0]))
    return put_together(tables) if tables else None, rows, every


def _heard(choice: Choice, source: str) -> list[Heard]:
    variant = choice.variant if choice.variant != AS_WRITTEN else None
    path = path_of(source)
    if is_midi(path):
        return heard_in(take_of(replace(choice, variant=variant), source).records)
    folder = practice_folder(choice).session(source)
    if choice.rig is not None:
        own = replace(choice, cells=(), variant=None)
        return heard_in(take_of(own, str(folder)).records)
    found = heard_of(Path(folder))
    if not found and choice.cell is not None:  # recorded without any cell
        return heard_in(take_of(replace(choice, variant=variant), str(folder)).records)
    return found
