"""The review as a whole: what the sentence says, and that it says no more than is known."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from ladders import figure, layout, sigmoid, simple, table

from livecheck.measures.review.advice import advice
from livecheck.measures.review.answers import make_review
from livecheck.measures.review.sentence import rests_on, sentence


def rise(middle):
    return lambda bpm: 0.002 + 0.99 * sigmoid((bpm - middle) / 4)


@pytest.fixture(scope="module")
def whole():
    """Slot 5 gives way at 147, string 4 sounds above 155; 24 repetitions at 13 tempos."""
    rng = np.random.default_rng(5)
    rows = layout(rng, np.arange(90, 181, 7.5), 24, "many")
    faults = [("missed", 5, rise(147)), ("noise", 4, lambda bpm: np.where(bpm > 155, 0.45, 0.01))]
    return make_review(figure(rng, rows, faults, 0.4), "six")


def test_the_sentence_says_it_all(whole):
    """Secure, break with its interval, first to go, and the string that begins to sound."""
    text = sentence(whole)
    assert re.match(r"Secure up to 13\d bpm; breaks at 14", text)
    assert re.search(
        r"First to go: note 5 on string 5 is missed, from 1[34]\d bpm on \(9\d in 100 sure\)\.",
        text,
    )
    assert re.search(r"From 15\d bpm on string 4 sounds\.", text)
    assert rests_on(whole).startswith("Rests on 312 repetitions in ")


@pytest.mark.parametrize(
    ("counts", "text"),
    [
        (
            [(100, 12, 12), (120, 12, 12)],
            "Secure at every tempo tried, up to 120 bpm; the break is not reached.",
        ),
        ([(100, 0, 12), (120, 0, 12)], "Breaks below 100 bpm, the slowest tempo tried."),
        ([(100, 1, 1), (120, 1, 1)], "Too few repetitions to say where it breaks (2)."),
        (
            [(100, 20, 20), (110, 20, 20), (120, 0, 20)],
            "Secure up to 110 bpm; breaks between 110 and 120.",
        ),
        (
            [(100, 4, 4), (110, 4, 4)],
            "Clean at every tempo tried, up to 110 bpm (8 of 8); the break is not reached.",
        ),
        (
            [(100, 5, 5), (110, 5, 5), (120, 0, 5)],
            "Clean up to 110 bpm; breaks between 110 and 120.",
        ),
        (
            [(120, 12, 12)],
            "12 of 12 clean at 120 bpm, the only tempo tried; the break is not reached.",
        ),
        (
            [(120, 7, 12)],
            "7 of 12 clean at 120 bpm, the only tempo tried; one tempo does not say where it "
            "breaks.",
        ),
        ([(120, 1, 12)], "1 of 12 clean at 120 bpm, the only tempo tried: it breaks below."),
        (
            [(100, 0, 12), (120, 1, 12), (140, 12, 12)],
            "Cleaner fast than slow (12 of 12 at 140 bpm, 0 of 12 at 100);",
        ),
    ],
)
def test_what_is_not_known_is_said(counts, text):
    """Not reached, below, too few, and a gap without a tempo inside (S-04, S-05)."""
    assert sentence(make_review(simple(counts), "six")).startswith(text)


def sounds(struck):
    """String 4 makes noise from 155 on, a share of it as full notes."""
    rng = np.random.default_rng(4)
    rows = layout(rng, np.arange(90, 181, 7.5), 24, "many")
    faults = [("missed", 5, rise(147)), ("noise", 4, lambda bpm: np.where(bpm > 155, 0.45, 0.01))]
    tries = figure(rng, rows, faults, 0.4)
    full = np.round(tries.noise * struck)
    return sentence(make_review(replace(tries, struck=full, brushed=tries.noise - full), "six"))


@pytest.mark.parametrize(
    ("struck", "word"), [(1.0, "sounds full"), (0.0, "is brushed"), (0.5, "sounds")]
)
def test_a_string_is_called_struck_or_brushed_where_that_is_known(struck, word):
    """Mostly full notes, mostly soft short sounds, or as many of both."""
    text = sounds(struck)
    assert re.search(rf"From 15\d bpm on string 4 {word}\.", text)


def test_what_is_no_fault_is_told_apart_from_what_goes_first():
    """Slot 3 softens before slot 5 gives way: the sentence does not leave open why the later one is
    the first to go."""
    rng = np.random.default_rng(4)
    rows = layout(rng, np.arange(90, 181, 7.5), 24, "many")
    tries = figure(rng, rows, [("missed", 5, rise(155))], 0.4, ("attack", 3, 120.0, -0.4))
    text = sentence(make_review(tries, "six"))
    assert re.search(
        r"From 1[12]\d bpm on note 3 comes softer; it stays secure up to 1\d\d\. First to go: note "
        r"5 ",
        text,
    )
    assert "slot" not in text


def test_secure_and_break_are_said_to_mean_something(whole):
    """Nine in ten and one half (measures.md), beside the sentence; not where neither is told."""
    assert rests_on(whole).endswith(
        "Secure: nine in ten repetitions are clean; break: half of them are."
    )
    assert "Secure" not in rests_on(make_review(simple([(100, 1, 1), (120, 1, 1)]), "six"))


def test_cleaner_fast_than_slow_is_no_break_anywhere():
    """Where the fastest tempo is all clean, no limit lies below the slowest: values and sentence
    agree."""
    review = make_review(simple([(100, 0, 12), (120, 1, 12), (140, 12, 12)]), "six")
    assert (review.secure.status, review.broken.status, review.curve) == (
        "too_few",
        "too_few",
        None,
    )
    assert review.cleaner_fast is not None and review.cleaner_fast.bpm == 140
    assert advice(review).startswith("Ten repetitions at each of five tempos")
    partly = make_review(simple([(100, 30, 40), (120, 30, 40), (140, 40, 40)]), "six")
    assert (partly.secure.status, partly.broken.status) == ("too_few", "above_range")
    assert sentence(partly).startswith(
        "Cleaner fast than slow (40 of 40 at 140 bpm, 30 of 40 at 100); what is secure cannot be "
        "told yet; the break is"
    )
    falling = make_review(simple([(100, 0, 12), (120, 0, 12)]), "six")
    assert (falling.broken.status, falling.cleaner_fast) == ("below_range", None)


def test_an_awkward_range_is_no_part_of_what_is_secure():
    """Clumsy between 105 and 125, or slow only: secure up to where it breaks, but not there."""
    rng = np.random.default_rng(11)
    rows = layout(rng, np.arange(90, 181, 7.5), 30, "many")
    inside = [
        ("missed", 5, rise(160)),
        ("missed", 2, lambda bpm: np.where((bpm > 105) & (bpm < 125), 0.5, 0.01)),
    ]
    text = sentence(make_review(figure(rng, rows, inside, 0.4), "six"))
    assert " but for an awkward range; breaks at 1" in text and re.search(
        r"\(clean \d+ of \d+\): smooth above it \(\d+ of \d+ just above\) and slower", text
    )
    slow = [("missed", 5, rise(165)), ("missed", 2, lambda bpm: np.where(bpm < 112, 0.5, 0.01))]
    text = sentence(make_review(figure(rng, rows, slow, 0.4), "six"))
    assert (
        " but for slow tempos; breaks at 1" in text
        and "Awkward up to 1" in text
        and "smooth above (" in text
    )


def test_what_would_sharpen_it():
    """Faster where nothing broke, more where there is little, between the ends where the interval
    is wide."""
    clean = make_review(simple([(100, 12, 12), (120, 12, 12)]), "six")
    assert (
        advice(clean)
        == "Ten repetitions each at 126 and 132 bpm, after a rest and if nothing hurts, would show "
        "whether it breaks there."
    )
    assert advice(make_review(None, "six")).startswith("Ten repetitions at each of five tempos")
    rough = make_review(
        simple(
            [(bpm, round(4 * s), 4) for bpm, s in zip(range(100, 181, 10), np.linspace(1, 0, 9))]
        ),
        "x",
    )
    assert advice(rough).startswith("Twenty repetitions between ") and advice(rough).endswith(
        "sharpen the break."
    )


def test_who_is_secure_nowhere_is_sent_slower():
    """Six in ten at the slowest, none at the fastest: what is secure lies below, and that is asked
    for before the break is sharpened."""
    tries = simple([(140, 18, 30), (148, 9, 30), (156, 2, 30), (164, 0, 30)])
    assert advice(make_review(tries, "x")).startswith(
        "Twenty repetitions below 140 bpm, at 126 and"
    )


def test_nothing_at_all_is_too_few():
    """No repetitions: everything says so, nothing fails."""
    review = make_review(None, "six")
    assert (review.secure.status, review.broken.status, review.by_tempo) == (
        "too_few",
        "too_few",
        (),
    )


def test_few_takes_say_nothing_about_good_and_bad_days():
    """Two takes through the whole ladder: the answer says on how little it rests."""
    bpm = np.tile(np.arange(100, 181, 10.0), 2)
    clean = np.round(12 * sigmoid((140 - bpm) / 5))
    review = make_review(table(np.repeat([0, 1], 9), bpm, np.full(18, 12), clean), "six")
    assert "good and bad days" in rests_on(review)
