"""What today and the week, as JSON objects (formats.md)."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from ..measures.agenda.blocks import Block, Item
from ..measures.agenda.week import Moved, Week
from ..measures.review.limits import Limit


def today_to_dict(day: int, items: Sequence[Item]) -> dict[str, Any]:
    """The day's object; cells in the order in which they are best played, those without a block
    in the day's time last."""
    return {"date": date.fromordinal(day).isoformat(), "cells": [_cell(item) for item in items]}


def _cell(item: Item) -> dict[str, Any]:
    stands = item.standing
    return {
        "name": stands.name,
        "days_since": stands.days_since,
        "secure": limit_to_dict(stands.secure),
        "break": limit_to_dict(stands.broken),
        "question": item.question,
        "block": None if item.block is None else _block(item.block),
        "chosen": item.chosen,
        "learn": _rounded(stands.move.learn, 4),
        "forget": _rounded(stands.move.forget, 4),
    }


def _block(block: Block) -> dict[str, Any]:
    return {
        "kind": block.kind,
        "bpm": _rounded(block.bpm, 1),
        "reps": block.reps,
        "minutes": round(block.minutes, 1),
    }


def limit_to_dict(limit: Limit) -> dict[str, Any]:
    """As ``review`` prints it."""
    return {
        "status": limit.status,
        "bpm": _rounded(limit.bpm, 1),
        "low_bpm": _rounded(limit.low_bpm, 1),
        "high_bpm": _rounded(limit.high_bpm, 1),
    }


def week_to_dict(week: Week) -> dict[str, Any]:
    """The week's object."""
    return {
        "from": date.fromordinal(week.first).isoformat(),
        "to": date.fromordinal(week.last).isoformat(),
        "minutes": round(week.minutes, 1),
        "days": [
            {
                "date": date.fromordinal(day.number).isoformat(),
                "minutes": round(day.minutes, 1),
                "cells": [
                    {"name": name, "minutes": round(minutes, 1), "reps": reps}
                    for name, minutes, reps in day.cells
                ],
            }
            for day in week.days
        ],
        "moved": [_moved(one) for one in week.moved],
        "answered": [{"name": name, "question": question} for name, question in week.answered],
        "open": [{"name": name, "question": question} for name, question in week.open],
        "marks": [
            {"session": session, "time_s": round(time_s, 3), "text": text}
            for session, time_s, text in week.marks
        ],
    }


def _moved(one: Moved) -> dict[str, Any]:
    return {
        "name": one.name,
        "break": limit_to_dict(one.broken),
        "secure": limit_to_dict(one.secure),
        "bpm": None
        if one.by_bpm is None
        else {
            "value": round(one.by_bpm[0], 1),
            "low": round(one.by_bpm[1], 1),
            "high": round(one.by_bpm[2], 1),
        },
        "sure": one.sure,
    }


def _rounded(value: float | None, places: int) -> float | None:
    return None if value is None else round(value, places)
