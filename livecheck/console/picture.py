"""A frame of the screen as a picture (SVG), for the manual."""

from __future__ import annotations

import io

from rich.console import Console

from .lines import Frame
from .model import Model
from .palette import FULL, PICTURE_THEME, Signs
from .view import screen_lines

_FORMAT = """\
<svg class="rich-terminal" viewBox="0 0 {width} {height}" xmlns="http://www.w3.org/2000/svg">
<style>
.{unique_id}-matrix {{ font-family: "DejaVu Sans Mono", "Menlo", "Consolas", monospace; font-size: {char_height}px;
  line-height: {line_height}px; font-variant-east-asian: full-width; }}
.{unique_id}-title {{ font-size: 18px; font-family: sans-serif; }}
{styles}
</style>
<defs>
<clipPath id="{unique_id}-clip-terminal">
<rect x="0" y="0" width="{terminal_width}" height="{terminal_height}"/>
</clipPath>
{lines}
</defs>
<rect width="{width}" height="{height}" fill="#16181a"/>
<g transform="translate({terminal_x}, {terminal_y})" clip-path="url(#{unique_id}-clip-terminal)">
{backgrounds}
<g class="{unique_id}-matrix">
{matrix}
</g>
</g>
</svg>
"""


def picture(
    model: Model, width: int = 80, height: int = 24, *, far: bool = False, signs: Signs = FULL, title: str = "livecheck"
) -> str:
    """SVG text of one frame; the same model gives the same text."""
    console = Console(
        file=io.StringIO(), record=True, width=width, height=height, force_terminal=True, color_system="truecolor",
        legacy_windows=False, _environ={},
    )  # fmt: skip
    console.print(Frame(screen_lines(model, width, height, signs, far)), end="")
    return console.export_svg(title=title, theme=PICTURE_THEME, code_format=_FORMAT, unique_id="livecheck")
