"""The review on a terminal and as a page."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser

import numpy as np
import pytest
from ladders import figure, layout, sigmoid
from practices import practised, random_plan

from livecheck.measures.review.answers import make_review
from livecheck.measures.review.sentence import changed, claim, first_words, sentence
from livecheck.report.page import page
from livecheck.report.page_faults import Head
from livecheck.report.review_text import ASCII, noticeable_cv_pct, review_lines


@pytest.fixture(scope="module")
def review():
    rng = np.random.default_rng(5)
    rows = layout(rng, np.arange(90, 181, 7.5), 24, "many")
    faults = [
        ("missed", 5, lambda bpm: 0.99 * sigmoid((bpm - 147) / 4)),
        ("noise", 4, lambda bpm: np.where(bpm > 155, 0.45, 0.01)),
    ]
    tries = figure(rng, rows, faults, 0.4)
    return make_review(replace(tries, cv_sum=4 * tries.n, cv_n=tries.n), "six")


@pytest.mark.parametrize("width", [80, 60, 120])
def test_no_line_is_wider_than_the_terminal(review, width):
    """Sentence, pictures and legends keep to the width."""
    assert max(map(len, review_lines(review, width))) <= width


def test_every_tempo_has_its_row_in_every_picture(review):
    """Fastest on top; clean counts stand beside the shares."""
    lines = review_lines(review)
    for rung in review.by_tempo:
        assert sum(line.startswith(f"{rung.bpm:5.0f} ") for line in lines) == 3
    assert any(f"{review.by_tempo[0].clean} of {review.by_tempo[0].reps}" in line for line in lines)


def test_a_plain_terminal_gets_plain_signs(review):
    """Only ASCII where nothing else can be shown."""
    assert "\n".join(review_lines(review, 80, ASCII)).isascii()


def test_the_noticeable_line_follows_the_interval():
    """6 ms at eight notes a second (125 ms, L-07) is 4.8 % of the interval, times root two for its
    two ends."""
    assert noticeable_cv_pct(120, 4) == pytest.approx(4.8 * 2**0.5, abs=1e-9)


class Reader(HTMLParser):
    """Tags, how they nest, and what the pictures say."""

    def __init__(self):
        super().__init__()
        self.open, self.tags, self.labels, self.attributes = [], [], [], []

    def handle_starttag(self, tag, attributes):
        self.tags.append(tag)
        self.attributes += attributes
        if tag == "svg":
            self.labels.append(dict(attributes).get("aria-label"))
        if tag not in ("meta", "path", "rect", "circle", "polyline", "polygon"):
            self.open.append(tag)

    def handle_startendtag(self, tag, attributes):
        self.tags.append(tag)
        self.attributes += attributes

    def handle_endtag(self, tag):
        if tag in self.open:
            assert self.open.pop() == tag


def read(text):
    reader = Reader()
    reader.feed(text)
    assert reader.open == []
    return reader


def test_the_page_needs_nothing_from_outside(review):
    """No script, no link, no address: one file that opens from disk."""
    text = page(review, "six, one session")
    reader = read(text)
    assert not {"script", "link", "img", "iframe"} & set(reader.tags)
    assert not re.search(r"https?:|url\(|@import|\bsrc=|\bhref=", text)


def test_every_picture_says_in_words_what_it_shows(review):
    """Text alternatives, and the counts behind every point."""
    text = page(review, "six, one session")
    labels = read(text).labels
    assert len(labels) == 4 and all(labels)
    for rung in review.by_tempo:
        assert f"{rung.bpm:.0f} bpm: {rung.clean} of {rung.reps} clean" in text
    assert "prefers-color-scheme:dark" in text and "@media print" in text


def test_on_paper_it_is_black_on_white_and_whole(review):
    """Print rules come last, so that they win: light colours, no picture cut, nothing to be
    unfolded."""
    style = page(review, "six").partition("<style>")[2].partition("</style>")[0]
    dark, last = style.index("prefers-color-scheme:dark"), style.rindex("@media")
    printed = style[style.index("@media print") :]
    assert style[last:].startswith("@media print") and style.index("@media print") > dark
    for rule in (
        "--paper:#fff",
        "break-inside:avoid",
        "details{display:none}",
        "print-color-adjust:exact",
    ):
        assert rule in printed


def test_colours_are_told_apart_from_the_paper(review):
    """Text and signs have a contrast of at least 4.5 to their ground, in light and in dark (the
    formula of WCAG)."""

    def light(colour):
        digits = colour.lstrip("#")
        whole = "".join(2 * digit for digit in digits) if len(digits) == 3 else digits
        parts = [int(whole[i : i + 2], 16) / 255 for i in (0, 2, 4)]
        linear = [
            part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
        ]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    style = page(review, "six").partition("<style>")[2]
    schemes = [
        dict(re.findall(r"--(\w+):(#[0-9a-f]+)", part)) for part in style.split("@media")[:3]
    ]
    for scheme in schemes:
        paper = light(scheme["paper"])
        for name in ("ink", "soft", "blue", "orange"):
            high, low = sorted((paper, light(scheme[name])), reverse=True)
            assert (high + 0.05) / (low + 0.05) >= 4.5, name


def test_a_page_of_very_many_takes_stays_small(review):
    """Three thousand takes are listed one by one in a page of some megabytes at most; more are not
    listed."""
    parts = (*review.parts,) * (3000 // len(review.parts))
    assert len(page(replace(review, parts=parts), "six").encode()) < 2_000_000
    assert "Takes are listed one by one only where" in page(replace(review, parts=()), "six")


def test_every_picture_has_its_numbers_in_a_table(review):
    """For whoever cannot see it: faults by slot, noise by string, evenness; each tempo a row."""
    tables = page(review, "six").split("<summary>The numbers</summary>")[1:]
    assert len(tables) == 3
    for text in tables:
        rows = re.findall(r"<tr><td>(\d+)</td>", text.partition("</table>")[0])
        assert sorted(rows, key=int) == [f"{rung.bpm:.0f}" for rung in review.by_tempo]


def test_a_share_of_few_is_shown_by_its_counts(review):
    """Two of eight, not a quarter (measures.md): on the terminal and on the page."""
    few = review.by_tempo[0]
    few = replace(few, reps=8, clean=6, missed=(0.25, *few.missed[1:]))
    small = replace(review, by_tempo=(few, *review.by_tempo[1:]))
    assert any(line.startswith(f"{few.bpm:5.0f} | 2/8") for line in review_lines(small))
    assert ">2/8</text>" in page(small, "six")


def test_few_repetitions_are_pale_however_large_their_share(review):
    """Seven of seven missed is no darker than a third of the scale, and outlined; a hundred may be
    the darkest."""
    slow = replace(
        review.by_tempo[0], missed=(1.0, *review.by_tempo[0].missed[1:]), noise=(None,) * 6
    )

    def first_cell(reps):
        text = page(replace(review, by_tempo=(replace(slow, reps=reps, clean=0),)), "six")
        cell = text.partition("<title>note 1 at")[2].partition("</g>")[0]
        return (
            float(re.search(r'class="hot" opacity="([\d.]+)"', cell)[1]),
            'class="few"' in cell,
            "Dashed" in text,
        )

    assert first_cell(7) == (0.3, True, True)
    assert first_cell(100) == (1.0, False, False)


def test_players_read_of_notes_everywhere(review):
    """One word for a place in the cell, as on the screen while playing: a note, by its number."""
    shown = "\n".join(
        [*review_lines(review), re.sub(r"<style>.*</style>", "", page(review, "six"))]
    )
    assert "slot" not in shown.lower() and "note 5" in shown.lower()


def test_names_are_only_text(review):
    """A cell's name cannot become markup."""
    assert "<b>" not in page(review, "six <b>bold</b>")


def test_a_page_without_repetitions_says_so():
    """Nothing to draw, one honest sentence."""
    assert "Too few repetitions" in page(make_review(None, "six"), "nothing")


def test_columns_of_notes_stand_under_their_tablature(review):
    """The fret of each note on its string, and its stroke; where frets are not known, dots."""
    head = Head((10, 12, 10, 12, 9, 14), (("down", "up", "down", "up", "hammer", "down"),))
    text = page(review, "six", head).partition("<h2>Which note</h2>")[2].partition("</section>")[0]
    assert re.search(r">14</text>", text) and ">h<title>hammer</title></text>" in text
    assert text.count("⊓<title>down</title>") == 3 and "●" not in text
    plain = page(review, "six").partition("<h2>Which note</h2>")[2].partition("</section>")[0]
    assert plain.count("●") == 6


def test_each_claim_of_the_sentence_is_the_caption_of_a_picture():
    """What goes first, what changes, what is off its place and where it breaks: each stands under
    its own picture, in the same words."""
    rng = np.random.default_rng(3)
    plan = random_plan(rng, "one day", "hammer", "late", "step", "dip")
    found = make_review(practised(rng, plan).tries, "six")
    text = unescape(page(found, "six"))
    captions = " ".join(re.findall(r"<figcaption>(.*?)</figcaption>", text))
    claims = [f"From {one.from_bpm:.0f} bpm on {changed(found, one)}" for one in found.changes]
    first = first_words(found, True) or first_words(found, False)
    claims = [one for one in claims if one in sentence(found)] + [claim(found), first]
    claims += [f"note {one.slot} comes {abs(one.ms):.0f} ms" for one in found.even.slots]
    assert len(claims) >= 4
    for one in claims:
        assert one in captions, one
