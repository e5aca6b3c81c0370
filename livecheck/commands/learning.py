"""What is typed of how a figure is to be learned, for `cell learn` from a file and at the
guitar."""

from __future__ import annotations

import re
from argparse import Namespace
from collections.abc import Iterable
from dataclasses import dataclass

from ..core.events import Record
from ..core.pitch import STANDARD_TUNING, pitch_of
from ..core.rig import Rig
from ..core.tunings import TUNINGS, tuning_named
from ..errors import BadInput
from ..files.cellfile import FINEST_GRID, HIGHEST_CAPO
from ..measures.learn.answer import Learned, learn

MOST_STRINGS = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Learning:
    """How what is heard is to be written down. ``start``: the note, as heard, that comes first."""

    rig: Rig | None
    tuning: tuple[int, ...]
    capo: int = 0
    grid: int = 4
    start: int = 1

    @classmethod
    def of(cls, options: Namespace, rig: Rig | None) -> Learning:
        """What was typed. Raises BadInput."""
        if not 0 <= options.capo <= HIGHEST_CAPO:
            raise BadInput(f"--capo {options.capo}: a capo can lie at fret 0 to {HIGHEST_CAPO}")
        if options.grid > FINEST_GRID:
            raise BadInput(f"--grid {options.grid}: a beat can have 1 to {FINEST_GRID} steps")
        tuning = tuning_of(options.tuning, rig)
        return cls(
            rig=rig, tuning=tuning, capo=options.capo, grid=options.grid, start=options.start
        )

    def learn(self, records: Iterable[Record]) -> Learned:
        """The figure in records. Raises BadInput where it has no such note to start at."""
        try:
            return learn(
                records,
                self.rig,
                tuning=self.tuning,
                capo=self.capo,
                grid=self.grid,
                start=self.start,
            )
        except ValueError as error:
            raise BadInput(f"--start {self.start}: {error}") from error


def tuning_of(text: str | None, rig: Rig | None) -> tuple[int, ...]:
    """Open strings as typed, by their notes or a tuning's name; else the rig's, else standard.

    >>> tuning_of("drop D", None)
    (64, 59, 55, 50, 45, 38)
    >>> tuning_of("E4,B3,G3", None)
    (64, 59, 55)
    """
    if text is None:
        return rig.tuning if rig is not None and rig.tuning is not None else STANDARD_TUNING
    if (known := tuning_named(text)) is not None:
        return known
    try:
        tuning = tuple(pitch_of(name) for name in re.split(r"[,\s]+", text.strip(" ,[]")))
    except ValueError as error:
        names = ", ".join(f"'{name}'" for name in TUNINGS)
        raise BadInput(
            f"--tuning: {error}; write the open strings from string 1 on, as in "
            f"E4,B3,G3,D3,A2,D2, or one of {names}"
        ) from error
    if len(tuning) > MOST_STRINGS:
        raise BadInput(f"--tuning: {len(tuning)} strings are too many; at most {MOST_STRINGS}")
    return tuning
