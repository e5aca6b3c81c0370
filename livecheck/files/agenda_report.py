"""What today and the week, as JSON objects (formats.md)."""

from __future__ import annotations

from typing import Any

from ..measures.agenda.blocks import Block, known
from ..measures.agenda.day import Day, Item, Turn
from ..measures.agenda.now import State
from ..measures.agenda.questions import Question
from ..measures.agenda.week import Moved, Week
from .review_report import limit_to_dict
from .values import date_of, rounded


def today_to_dict(number: int, day: Day) -> dict[str, Any]:
    """The day's object; cells in the order in which they are best played, those without a block
    in the day's time last."""
    return {
        "date": date_of(number),
        "cells": [_cell(item) for item in day.items],
        "turns": [_turn(turn) for turn in day.turns],
        "minutes": round(day.minutes, 1),
    }


def _turn(turn: Turn) -> dict[str, Any]:
    return {
        "name": turn.standing.name,
        "about": turn.question.about,
        "block": _block(turn.block),
        "rest_after": turn.rest_after,
    }


def _cell(item: Item) -> dict[str, Any]:
    stands, state = item.standing, item.standing.state
    return {
        "name": stands.name,
        "days_since": stands.days_since,
        "secure": limit_to_dict(stands.secure),
        "break": limit_to_dict(stands.broken),
        "state": None if state is None else _state(state),
        "known": state is not None and known(state),
        "question": item.question,
        "block": None if item.block is None else _block(item.block),
        "chosen": item.chosen,
        "waits": item.waits,
        "open": [_question(one) for one in item.open],
        "learn": None if state is None else rounded(state.learn, 4),
        "forget": None if state is None else rounded(state.forget, 4),
    }


def _state(state: State) -> dict[str, Any]:
    own = state.own
    ends = {"value": own.bpm, "low": own.low_bpm, "high": own.high_bpm}
    return {name: round(bpm, 1) for name, bpm in ends.items()}


def _question(one: Question) -> dict[str, Any]:
    return {
        "about": one.about,
        "question": one.text,
        "block": None if one.block is None else _block(one.block),
        "nats": round(one.gain, 3),
        "why": one.why,
    }


def _block(block: Block) -> dict[str, Any]:
    told: dict[str, Any] = {
        "kind": block.kind,
        "bpm": rounded(block.bpm, 1),
        "reps": block.reps,
        "minutes": round(block.minutes, 1),
        "tempos": [round(bpm, 1) for bpm in block.tempos],
    }
    if block.notes:
        told["notes"] = list(block.notes)
    if block.names:
        told["ways"] = list(block.names)
    return told


def week_to_dict(week: Week) -> dict[str, Any]:
    """The week's object."""
    return {
        "from": date_of(week.first),
        "to": date_of(week.last),
        "minutes": round(week.minutes, 1),
        "days": [
            {
                "date": date_of(day.number),
                "minutes": round(day.minutes, 1),
                "cells": [
                    {"name": name, "minutes": round(minutes, 1), "reps": reps}
                    for name, minutes, reps in day.cells
                ],
            }
            for day in week.days
        ],
        "moved": [_moved(one) for one in week.moved],
        "answered": [
            {"name": one.name, "question": one.question, "answer": one.answer}
            for one in week.answered
        ],
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
        "since": None if one.since is None else date_of(one.since),
        "bpm": None
        if one.by_bpm is None
        else {
            "value": round(one.by_bpm[0], 1),
            "low": round(one.by_bpm[1], 1),
            "high": round(one.by_bpm[2], 1),
        },
        "sure": one.sure,
    }
