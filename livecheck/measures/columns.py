"""The figures of a repetition, one row each: its key, its value, and how it is written.

The one place that knows them all. The score's JSON, the tables for spreadsheets, the screen and the
plain lines draw from it, so that a new figure is a function, a row here, and its line in
formats.md.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ..core.events import HIT, Repetition

Value = str | int | float | bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One figure of a repetition.

    key: in JSON and in tables; group: the JSON object it stands in, where not in the repetition's
    own; places: decimals that are kept; json, table: is it there? head, unit, width: on the screen,
    width 0 where it has no column; text: as it is read, None where it cannot be said.
    """

    key: str
    of: Callable[[Repetition], Value]
    places: int | None = None
    group: str | None = None
    json: bool = True
    table: bool = True
    head: str = ""
    unit: str = ""
    width: int = 0
    text: Callable[[Repetition], str | None] = lambda _: None

    def value(self, rep: Repetition) -> Value:
        """The figure, rounded as it is kept; None where it cannot be said."""
        value = self.of(rep)
        if self.places is None or not isinstance(value, float):
            return value
        return round(value, self.places)


def _figure(of: Callable[[Repetition], float | None]) -> Callable[[Repetition], str | None]:
    """One decimal, as figures are read on the screen and in plain lines."""

    def text(rep: Repetition) -> str | None:
        value = of(rep)
        return None if value is None else f"{value:.1f}"

    return text


def _tempo(rep: Repetition) -> float | None:
    return rep.tempo_bpm


def _rate(rep: Repetition) -> float | None:
    return rep.notes_per_s


def _cv(rep: Repetition) -> float | None:
    return rep.evenness.cv_pct


TEMPO = Column(
    key="tempo_bpm", of=_tempo, places=3, head="tempo", unit="bpm", width=7, text=_figure(_tempo)
)
RATE = Column(
    key="notes_per_s", of=_rate, places=4, head="notes", unit="/s", width=6, text=_figure(_rate)
)
RIGHT = Column(
    key="accuracy",
    of=lambda rep: rep.accuracy,
    places=4,
    head="right",
    unit="%",
    width=5,
    text=lambda rep: f"{100 * rep.accuracy:.0f}" if rep.complete else None,
)
UNEVEN = Column(
    key="cv_pct",
    of=_cv,
    places=3,
    group="evenness",
    head="uneven",
    unit="%",
    width=7,
    text=_figure(_cv),
)

COLUMNS = (
    Column(key="rep", of=lambda rep: rep.rep),
    Column(key="take", of=lambda rep: rep.take, json=False),
    Column(key="cell", of=lambda rep: rep.cell.name, json=False),
    Column(key="variant", of=lambda rep: rep.cell.variant, json=False),
    Column(key="start_s", of=lambda rep: rep.start_s, places=6),
    Column(key="end_s", of=lambda rep: rep.end_s, places=6),
    Column(key="complete", of=lambda rep: rep.complete),
    Column(key="pause_s", of=lambda rep: rep.pause_s, places=4),
    TEMPO,
    RATE,
    Column(key="slots", of=lambda rep: len(rep.slots), json=False),  # the JSON lists them whole
    Column(key="hits", of=lambda rep: sum(slot.verdict == HIT for slot in rep.slots), json=False),
    RIGHT,
    Column(key="clean", of=lambda rep: rep.clean),
    UNEVEN,
    Column(key="npvi", of=lambda rep: rep.evenness.npvi, places=3, group="evenness"),
    Column(key="worst_ms", of=lambda rep: rep.evenness.worst_ms, places=2, group="evenness"),
    Column(key="audible", of=lambda rep: rep.evenness.audible, group="evenness"),
)
"""In the order of the tables for spreadsheets."""

SCREEN = (UNEVEN, TEMPO, RATE, RIGHT)
"""Those with a column on the screen, in the order in which they stand there."""
