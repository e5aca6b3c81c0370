"""How long has been played since the last rest, over all sessions: a rest is a silence of five
minutes, whichever sessions lie about it."""

from __future__ import annotations

from datetime import datetime

from ..core.events import Midi
from ..core.playing import PlayingTime, is_note
from ..errors import BadInput
from .journal_reader import read
from .library import PracticeFolder

REACH_S = 3 * 3600.0
"""Sessions that began earlier than this are not looked at: nobody plays so long without a rest that
another hour of it would change what is said."""
MOST = 12  # sessions


def unrested(practice: PracticeFolder, now: datetime, but: str | None = None) -> PlayingTime:
    """Play in the sessions before now, the one named ``but`` left out; times count from now and are
    negative."""
    playing = PlayingTime()
    for path in practice.own_paths()[-MOST:]:
        if path.name == but or not _recent(path.name, now):
            continue
        try:
            reading = read(path)
            records = list(reading)
            head = reading.head
            began = datetime.fromisoformat(head.wall) if head is not None else None
        except (BadInput, ValueError):
            continue
        if began is None:
            continue
        offset_s = (began - now).total_seconds()
        if -offset_s > REACH_S:
            continue
        for record in records:
            if isinstance(record, Midi) and is_note(record.data) and record.t_s + offset_s <= 0.0:
                playing.note(record.t_s + offset_s)
    playing.pass_time(0.0)
    playing.seconds = 0.0
    return playing


def _recent(name: str, now: datetime) -> bool:
    """Whether a session's name says that it began within reach; where it says nothing, too."""
    try:
        began = datetime.strptime(name[:19], "%Y-%m-%dT%H-%M-%S")
    except ValueError:
        return True
    return abs((now.replace(tzinfo=None) - began).total_seconds()) <= REACH_S + 3600.0
