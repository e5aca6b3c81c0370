"""The review's page in a real browser without a screen, where one is there."""

from __future__ import annotations

import re
import shutil
import subprocess

import numpy as np
import pytest
from practices import practised, random_plan

from livecheck.measures.review.answers import make_review
from livecheck.report.page import page

BROWSER = next(
    filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None
)
needs_browser = pytest.mark.skipif(BROWSER is None, reason="there is no chromium here")

PROBE = """<script>window.faults=[];window.addEventListener("error",e=>faults.push(e.message));
window.addEventListener("load",()=>{const root=document.documentElement;
const told=[...document.querySelectorAll("figure")].map(f=>{const s=f.querySelector("svg"),\
b=s.getBoundingClientRect();
return \
s.getAttribute("aria-label")&&f.querySelector("figcaption").textContent&&b.width>100&&b.height>40});
document.body.dataset.seen=JSON.stringify([innerWidth,root.scrollWidth,told.length,\
told.every(Boolean),
getComputedStyle(document.body).backgroundColor,faults])})</script></head>"""


@pytest.fixture(scope="module")
def text():
    rng = np.random.default_rng(3)
    plan = random_plan(rng, "progress", "hammer", "step", "one note")
    return page(make_review(practised(rng, plan).tries, "six"), "six, many days")


def seen(text, tmp_path, width, dark):
    """What the page says of itself in a window of a width. A narrow one is a frame, since the
    browser's own window has a least width."""
    (tmp_path / "page.html").write_text(text.replace("</head>", PROBE), "utf-8")
    (tmp_path / "outer.html").write_text(
        f'<iframe id="f" src="page.html" style="width:{width}px;height:4000px;border:0"></iframe>'
        "<script>f.onload=()=>setTimeout(()=>{"
        "document.body.append(f.contentDocument.body.dataset.seen)},0)</script>",
        "utf-8",
    )
    scheme = ["--blink-settings=preferredColorScheme=0"] if dark else []
    told = subprocess.run(
        [BROWSER, "--headless", "--no-sandbox", "--disable-gpu", "--allow-file-access-from-files",
         f"--user-data-dir={tmp_path / 'profile'}", *scheme, "--virtual-time-budget=4000",
         "--dump-dom",
         (tmp_path / "outer.html").as_uri()],
        capture_output=True, text=True, timeout=120, check=False,
    ).stdout  # fmt: skip
    found = re.search(r"\[(\d+),(\d+),(\d+),(true|false),\"([^\"]+)\",\[(.*?)\]\]", told)
    assert found, told[-500:]
    return found


@needs_browser
@pytest.mark.parametrize("width", [390, 768, 1200])
@pytest.mark.parametrize("dark", [False, True])
def test_the_page_shows_every_figure_and_runs_over_nowhere(text, tmp_path, width, dark):
    """No error, no wider than its window, each figure there with its words, light and dark."""
    inner, scroll, figures, whole, ground, faults = seen(text, tmp_path, width, dark).groups()
    assert int(inner) == width and int(scroll) <= width
    assert int(figures) == text.count("<figure>") >= 4 and whole == "true" and not faults
    assert ground == ("rgb(20, 20, 20)" if dark else "rgb(255, 255, 255)")
