"""The week on one page: prints on one sheet, opens on a telephone, needs no script."""

from __future__ import annotations

from html import escape

from ..files.values import date_of
from ..measures.agenda.week import Week
from .agenda_text import NOTHING_PLAYED, day_name, nothing_played, week_parts

STYLE = """
:root{color-scheme:light dark;--paper:#fff;--ink:#1b1b1b;--soft:#5c5c5c;--bar:#0072b2}
@media(prefers-color-scheme:dark){:root{--paper:#141414;--ink:#ececec;--soft:#a8a8a8;--bar:#56b4e9}}
@media print{:root{--paper:#fff;--ink:#000;--soft:#444;--bar:#0072b2}*{print-color-adjust:exact}
body{font-size:10pt!important;margin:0!important}@page{size:A4;margin:15mm}}
body{background:var(--paper);color:var(--ink);font:16px/1.45 system-ui,sans-serif;max-width:42rem;
margin:1.5rem auto;padding:0 1rem}
h1{font-size:1.3rem;margin:0}h2{font-size:1.05rem;margin:1.4rem 0 .3rem}
.soft{color:var(--soft)}ul{margin:.3rem 0;padding-left:1.2rem}li{overflow-wrap:anywhere}
table{border-collapse:collapse;width:100%;table-layout:fixed}td{padding:.15rem .4rem .15rem 0;
vertical-align:top;overflow-wrap:anywhere}td:first-child{width:6.4rem;white-space:nowrap}\
td.n{width:4rem;text-align:right}
.bar{display:block;height:.7rem;background:var(--bar);min-width:1px}
"""

MOST_LINES, LONGEST = 10, 200
"""Lines of a list, and characters of one, that fit on one sheet beside the others."""


def week_page(week: Week) -> str:
    """The page as HTML text."""
    first, last = (date_of(day) for day in (week.first, week.last))
    title = f"Practice, {first} to {last}"
    most = max((day.minutes for day in week.days), default=0.0) or 1.0
    rows = "".join(
        f"<tr><td>{day_name(day.number)}</td>"
        f'<td class="n">{day.minutes:.0f} min</td>'
        f"<td>{_bar(day.minutes / most)}"
        f'<span class="soft">{escape(", ".join(_cell(*one) for one in day.cells))}</span></td></tr>'
        for day in week.days
    )
    told = f"<p>{NOTHING_PLAYED}</p>" if nothing_played(week) else ""
    told += "".join(f"<h2>{head}</h2><ul>{_listed(lines)}</ul>" for head, lines in week_parts(week))
    return (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" '
        f'content="width=device-width,initial-scale=1"><title>{title}</title>'
        f"<style>{STYLE}</style></head><body><main><h1>{title}</h1>"
        f'<p class="soft">{week.minutes:.0f} minutes, rests included</p>'
        f"<table>{rows}</table>{told}</main></body></html>\n"
    )


def _bar(share: float) -> str:
    """A bar; none for a day on which nothing was played."""
    return f'<span class="bar" style="width:{100 * share:.0f}%"></span>' if share else ""


def _listed(lines: list[str]) -> str:
    """As items; those beyond what fits on one sheet are counted."""
    kept = lines if len(lines) <= MOST_LINES else lines[: MOST_LINES - 1]
    items = [f"<li>{escape(_cut(line))}</li>" for line in kept]
    if len(kept) < len(lines):
        items.append(f'<li class="soft">and {len(lines) - len(kept)} more</li>')
    return "".join(items)


def _cut(line: str) -> str:
    return line if len(line) <= LONGEST else line[: LONGEST - 1].rstrip() + "…"


def _cell(name: str, minutes: float, reps: int) -> str:
    return f"{name} {minutes:.0f} min, {reps} repetitions"
