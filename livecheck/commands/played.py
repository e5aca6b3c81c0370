"""Which repetitions a review is about: sessions by name, number or date, MIDI files, and of them
one way of playing."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from shlex import quote
from typing import TextIO

from ..core.cell import AS_WRITTEN
from ..errors import BadInput
from ..files.index import Judged, Played, day_of, judged_sessions, played_in
from ..files.journal_reader import read
from ..files.lines import file_number
from ..files.paths import path_of
from ..files.values import date_of
from ..measures.review.packed import joined
from ..measures.review.table import Tries
from ..report.outlet import raw
from .choice import Choice, cell_of, plain, practice_folder
from .judging import MIDI_ENDINGS, take_of

_BAR = 30


@dataclass(frozen=True, slots=True)
class Way:
    """One way of playing in one session (or MIDI file): its table, and where it is from."""

    played: Played
    source: str
    sitting: int
    day: int

    @property
    def variant(self) -> str:
        return self.played.variant or AS_WRITTEN


def ways_of(choice: Choice, err: TextIO) -> list[Way]:
    """Everything played in what was chosen. Raises BadInput where nothing was."""
    if choice.sessions and (choice.last is not None or choice.since or choice.until):
        raise BadInput("name sessions, or choose them by --last, --since and --until, but not both")
    judged = _judged(choice, err)
    broken = [name for name, one in judged if not one.whole]
    if broken:
        count = f"{len(broken)} sessions are" if len(broken) > 1 else f"session {broken[0]} is"
        print(
            f"livecheck: {count} not whole; `livecheck sessions check` says what is missing",
            file=err,
        )
    ways = [
        Way(played, name, sitting, one.day)
        for sitting, (name, one) in enumerate(judged)
        for played in one.played
    ]
    if not ways:
        if any(not one.celled for _, one in judged):
            if choice.cell is not None:
                _raise_if_no_cell(choice, choice.cell)
            raise BadInput("no cell was chosen in what was recorded; say what was played by --cell")
        raise BadInput("nothing was played there that makes a repetition")
    return ways


def _judged(choice: Choice, err: TextIO) -> list[tuple[str, Judged]]:
    chosen = _chosen(choice)
    saved = {name: one for name, one in chosen if one is not None}
    found: dict[Path, Judged] = {}
    if choice.rig is None:
        folders = list(dict.fromkeys(saved.values()))
        found = dict(judged_sessions(folders, _bar(err)))
    judged = []
    for name, folder in chosen:
        if folder is None or choice.rig is not None:
            judged.append(
                (
                    name,
                    _anew(
                        choice,
                        name if folder is None else str(folder),
                        choice.cell,
                        folder is None,
                    ),
                )
            )
        elif folder not in found:
            if choice.sessions:
                _raise_why(folder)
            print(
                f"livecheck: {name}: cannot be read, or a newer program wrote it; left out",
                file=err,
            )
        elif not found[folder].celled and choice.cell is not None and _is_cell(choice, choice.cell):
            judged.append((name, _anew(choice, str(folder), choice.cell, True)))
        else:
            judged.append((name, found[folder]))
    return judged


def _is_cell(choice: Choice, name: str) -> bool:
    """Whether a name is that of a cell that can be read. A name that only sessions know judges
    nothing that has no cell.

    Raises BadInput where it is a file that cannot be read.
    """
    try:
        _raise_if_no_cell(choice, name)
    except BadInput:
        if os.path.exists(path_of(name)):
            raise
        return False
    return True


def _raise_if_no_cell(choice: Choice, name: str) -> None:
    cell_of(replace(choice, variant=None), name)


def _raise_why(folder: Path) -> None:
    """Read what could not be read once more, for its BadInput."""
    for _ in read(folder):
        pass


def _anew(choice: Choice, name: str, cell: str | None, instead: bool) -> Judged:
    """Judge without the index. instead: with the cell that is named, not those that were
    recorded."""
    variant = choice.variant if instead and choice.variant != AS_WRITTEN else None
    cells = (cell,) if instead and cell else ()
    take = take_of(replace(choice, cells=cells, variant=variant), name)
    played, celled = played_in(take.records)
    head = take.account.head if take.account is not None else None
    return Judged(day_of(head.wall if head else ""), celled, take.trouble() is None, tuple(played))


def _chosen(choice: Choice) -> list[tuple[str, Path | None]]:
    """Names, and folders of sessions; None for a file to be judged by itself."""
    if choice.sessions:
        chosen: list[tuple[str, Path | None]] = []
        for name in dict.fromkeys(choice.sessions):
            path = path_of(name)
            if path.suffix.lower() in MIDI_ENDINGS or os.path.isfile(path):
                if not os.path.exists(path):
                    raise BadInput(f"{name}: no such file")
                if choice.cell is None and file_number(path) is None:
                    raise BadInput(
                        f"{name}: a MIDI file does not say what was to be played; name the cell by "
                        "--cell"
                    )
                chosen.append((name, None))
            else:
                folder = practice_folder(choice).session(name)
                chosen.append((folder.name, folder))
        return chosen
    practice = practice_folder(choice)
    paths = practice.session_paths()
    names = {path.name for path in paths}
    # else they would count twice
    paths = [path for path in paths if f"{path.name}-salvaged" not in names]
    if not paths:
        raise BadInput(f"{practice.recordings} holds no sessions yet")
    own = set(practice.own_paths())
    paths = [path for path in paths if path in own]
    if not paths:
        raise BadInput(only_demos(choice))
    since, until = choice.since or "", choice.until or ""
    fitting = [
        path
        for path in paths
        if path.name >= since and (not until or path.name[: len(until)] <= until)
    ]
    if not fitting:
        raise BadInput(
            f"no session then; they go from {paths[0].name[:10]} to {paths[-1].name[:10]}"
        )
    return [(path.name, path) for path in fitting[-(choice.last or len(fitting)) :]]


def only_demos(choice: Choice) -> str:
    """What to say where the player has no session of his own, but demos."""
    command = choice.command or "livecheck review"
    if command.endswith(" ways") and choice.cell is not None:
        command += f" {quote(choice.cell)}"
    elif command.endswith(" compare"):
        command += " …"  # the option that says what with what
    return (
        f"{practice_folder(choice).recordings} holds only demos; `{command} last` looks at the last"
    )


def _bar(err: TextIO) -> Callable[[int, int], None] | None:
    """A progress bar, on a terminal only."""
    if not err.isatty():
        return None

    def told(done: int, of: int) -> None:
        full = _BAR * done // of
        end = "\r" + " " * (_BAR + 40) + "\r" if done == of else ""
        raw(err).write(
            f"\rjudging sessions [{'#' * full}{'.' * (_BAR - full)}] {done} of {of}{end}"
        )
        err.flush()

    return told


# ------------------------------------------------------------------------------- one way of playing


def of_cell(choice: Choice, ways: Sequence[Way], name: str) -> list[Way]:
    """Those of one cell, by its name or its file. Raises BadInput that says which cells there
    are."""
    wanted = {plain(name)}
    try:
        wanted.add(plain(cell_of(replace(choice, variant=None), name).name))
    except BadInput:
        if os.path.exists(path_of(name)):
            raise
    found = [way for way in ways if plain(way.played.cell) in wanted]
    if not found:
        raise BadInput(
            f"cell {name!r} was not played there; there is: {', '.join(counted(ways, _cell))}"
        )
    return found


def of_variant(ways: Sequence[Way], name: str) -> list[Way]:
    """Those of one variant. Raises BadInput that says which there are."""
    found = [way for way in ways if way.variant == name]
    if not found:
        raise BadInput(
            f"variant {name!r} was not played there; there is: {', '.join(counted(ways, _variant))}"
        )
    return found


def most_played(ways: Sequence[Way], key: Callable[[Way], str]) -> list[Way]:
    """Those of the key with the most repetitions."""
    best = next(iter(_sums(ways, key)))
    return [way for way in ways if key(way) == best]


def one_figure(choice: Choice, ways: Sequence[Way], err: TextIO) -> list[Way]:
    """One cell's: the one asked for, else the one practised last; what else there is, is told."""
    named = choice.cell
    ways = of_cell(choice, ways, named) if named is not None else _last_of(ways, err)
    figures = len(_sums(ways, lambda way: way.played.figure))
    if figures > 1:
        print(
            f"livecheck: {ways[0].played.cell!r} was written in {figures} ways over time; "
            "this is about the one most played",
            file=err,
        )
    return most_played(ways, lambda way: way.played.figure)


def one_way(choice: Choice, ways: Sequence[Way], err: TextIO) -> list[Way]:
    """One cell's in one variant: those asked for, else those most played; what else there is, is
    told."""
    ways = one_figure(choice, ways, err)
    if choice.variant is not None:
        return of_variant(ways, choice.variant)
    return _chosen_of(ways, _variant, "variants", "--variant", err)


def _last_of(ways: Sequence[Way], err: TextIO) -> list[Way]:
    """The cell of the last session; of several in it the one most played there."""
    last = max(way.sitting for way in ways)
    if last == min(way.sitting for way in ways):
        return _chosen_of(ways, _cell, "cells", "--cell", err)
    found = counted(ways, _cell)
    name = next(iter(_sums([way for way in ways if way.sitting == last], _cell)))
    if len(found) > 1:
        print(
            f"livecheck: cells: {', '.join(found)}; {name!r} was practised last, --cell chooses "
            "another",
            file=err,
        )
    return [way for way in ways if way.played.cell == name]


def _chosen_of(
    ways: Sequence[Way], key: Callable[[Way], str], what: str, option: str, err: TextIO
) -> list[Way]:
    found = counted(ways, key)
    if len(found) > 1:
        print(
            f"livecheck: {what}: {', '.join(found)}; {option} chooses another than the first",
            file=err,
        )
    return most_played(ways, key)


def _cell(way: Way) -> str:
    return way.played.cell


def _variant(way: Way) -> str:
    return way.variant


def _sums(ways: Iterable[Way], key: Callable[[Way], str]) -> dict[str, int]:
    """Repetitions by key, the most first."""
    sums: dict[str, int] = {}
    for way in ways:
        sums[key(way)] = sums.get(key(way), 0) + way.played.reps
    return dict(sorted(sums.items(), key=lambda item: -item[1]))


def counted(ways: Iterable[Way], key: Callable[[Way], str]) -> list[str]:
    """Names with their repetitions, the most first."""
    return [f"{name} ({reps})" for name, reps in _sums(ways, key).items()]


def table_of(ways: Sequence[Way]) -> Tries:
    """One table of all."""
    return joined(
        [way.played.table for way in ways], [way.sitting for way in ways], [way.day for way in ways]
    )


def title_of(ways: Sequence[Way]) -> str:
    """What the repetitions are of, in words."""
    played, sources = ways[0].played, list(dict.fromkeys(way.source for way in ways))
    name = played.cell + (f", {played.variant}" if played.variant else "")
    days = sorted({way.day for way in ways if way.day})
    if len(sources) == 1:
        return f"{name}: {sources[0]}"
    told = f"{name}: {len(sources)} sessions"
    if not days:
        return told
    ends = [date_of(day) for day in (days[0], days[-1])]
    return f"{told}, {ends[0]}" + (f" to {ends[1]}" if ends[1] != ends[0] else "")
