"""From records to the screen's model: the one place where the console calls judgment."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol

from ..core.events import Outcome, Record, Stop
from .model import Judged, LogItem, Model


class Judge(Judged, Protocol):
    """``livecheck.session.Session`` as the console uses it."""

    def feed(self, record: Record) -> list[Outcome]: ...
    def tick(self, now_s: float) -> list[Outcome]: ...
    def finish(self) -> list[Outcome]: ...


class Feed:
    """Hands records to judgment and what it finds to the model; gives back the new lines of the
    log."""

    def __init__(self, session: Judge, model: Model) -> None:
        self.session = session
        self.model = model
        self.over = False  # the session's last record was heard
        self._told_s = 0.0
        self._finished = False

    def take(self, records: Iterable[Record]) -> list[LogItem]:
        """Take records in order."""
        lines: list[LogItem] = []
        for record in records:
            self._told_s = max(self._told_s, record.t_s)
            outcomes = self.session.feed(record)
            lines += self._tell(outcomes)
            if isinstance(record, Stop):  # what is pending is told before the end is
                lines += self.finish()
                self.over = True
            lines += self.model.hear(record)
        self.model.look(self.session)
        return lines

    def tick(self, now_s: float | None) -> list[LogItem]:
        """Time went on without a record; a time that was told before is passed over."""
        if now_s is None or now_s <= self._told_s or self.over:
            return []
        self._told_s = now_s
        lines = self._tell(self.session.tick(now_s))
        self.model.pass_time(now_s)
        self.model.look(self.session)
        return lines

    def finish(self) -> list[LogItem]:
        """Nothing more will come: decide what is pending."""
        if self._finished:
            return []
        self._finished = True
        lines = self._tell(self.session.finish())
        self.model.look(self.session)
        return lines

    def _tell(self, outcomes: Iterable[Outcome]) -> list[LogItem]:
        return [line for outcome in outcomes for line in self.model.tell(outcome)]
