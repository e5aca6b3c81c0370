"""What every part of the review's page is made of: sections and tables."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape


def section(title: str, picture: str, caption: str, more: str = "") -> str:
    """A picture with its claim as the caption, and the numbers behind it."""
    return (
        f"<section><h2>{escape(title)}</h2>"
        f"<figure>{picture}<figcaption>{escape(caption)}</figcaption></figure>{more}</section>"
    )


def numbers(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """What a drawing shows as a table, for whoever cannot see it."""
    return f"<details><summary>The numbers</summary>{table(head, rows)}</details>"


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A table of texts."""
    top = "".join(f'<th scope="col">{escape(name)}</th>' for name in head)
    body = "".join(
        "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows
    )
    return f"<table><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>"


def percent(value: float) -> str:
    """A share as it stands at an axis."""
    return f"{100 * value:.0f} %"
