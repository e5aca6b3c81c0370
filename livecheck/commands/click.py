"""The click of a session: what the recorder is told of it, and how it was played to."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..core.cell import Cell
from ..core.events import Click, RepDone
from ..daemon.ports import matcher
from ..errors import BadInput
from ..files.journal_reader import read
from ..measures.against_click import against_click
from ..report.click_text import click_lines
from .judging import judged


@dataclass(frozen=True, slots=True, kw_only=True)
class ClickAsked:
    """The click that is asked for: a tempo of our own, or another program's clock, or none."""

    bpm: float | None = None
    port: str | None = None
    clock: bool = False
    follow: str | None = None
    accent: str | None = None
    subdivide: int | None = None
    bars: tuple[int, int] | None = None

    @classmethod
    def of(cls, options: Namespace) -> ClickAsked:
        """What was typed."""
        return cls(
            bpm=options.click,
            port=options.click_port,
            clock=options.clock,
            follow=options.follow_clock,
            accent=options.accent,
            subdivide=options.subdivide,
            bars=options.bars,
        )

    @property
    def more(self) -> list[str]:
        """Options typed that say more of a click of our own."""
        typed = {
            "click-port": self.port,
            "clock": self.clock,
            "accent": self.accent,
            "subdivide": self.subdivide,
            "bars": self.bars,
        }
        return [name for name, value in typed.items() if value]


def click_commands(asked: ClickAsked, cells: tuple[Cell, ...]) -> list[dict[str, Any]]:
    """What the recorder is told of the click. Raises BadInput where the options do not go
    together."""
    more = asked.more
    if asked.follow is not None:
        if asked.bpm is not None or more:
            raise BadInput(
                f"--follow-clock: the click is another's; leave --{(more or ['click'])[0]} out"
            )
        matcher(asked.follow)
        return [{"command": "follow-clock", "port": asked.follow}]
    if asked.bpm is None:
        if more:
            raise BadInput(f"--{more[0]} needs --click BPM")
        return []
    if asked.accent == "repetition" and len(cells) != 1:
        raise BadInput("--accent repetition needs one cell: of several it is not known which comes")
    port = asked.port or ""
    matcher(port)
    on, off = asked.bars or (0, 0)
    schedule = {
        "bpm": asked.bpm,
        "accent": asked.accent or "count-in",
        "subdivide": asked.subdivide or 1,
        "sounding": on,
        "silent": off,
        "clock": asked.clock,
        "steps": cells[0].steps,
        "grid": cells[0].grid,
    }
    return [{"command": "click", "port": port, "schedule": schedule}]


def click_of(session: Path) -> list[str]:
    """How a session was played against its click, in lines; none where it holds no click."""
    records = list(read(session))
    clicks = [record for record in records if isinstance(record, Click)]
    if not clicks:
        return []
    _, outcomes = judged(records)
    reps = [one.repetition for one in outcomes if isinstance(one, RepDone)]
    return click_lines(against_click(reps, clicks))
