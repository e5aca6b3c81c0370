"""Texts for the system's service managers, so that the recorder starts with the session and is kept
running."""

from __future__ import annotations

import sys
from pathlib import Path
from xml.sax.saxutils import escape

from ..core.plain_text import clean
from ..errors import BadInput

KINDS = ("systemd", "launchd")
LABEL = "livecheck.recorder"

_SYSTEMD = """\
# ~/.config/systemd/user/livecheck.service
# then: systemctl --user daemon-reload && systemctl --user enable --now livecheck
[Unit]
Description=livecheck records every note that is practised
After=sound.target pipewire.service

[Service]
Type=notify
NotifyAccess=main
ExecStart={command}
ExecReload=/bin/kill -HUP $MAINPID
Restart=on-failure
RestartSec=2
WatchdogSec=30
TimeoutStopSec=30
UMask=0077

[Install]
WantedBy=default.target
"""

_LAUNCHD = """\
<?xml version="1.0" encoding="UTF-8"?>
<!-- ~/Library/LaunchAgents/{label}.plist
     then: launchctl load -w ~/Library/LaunchAgents/{label}.plist -->
<!DOCTYPE plist PUBLIC "-//Apple//DTD PLIST 1.0//EN" \
"http://www.apple.com/DTDs/PropertyList-1.0.dtd">
<plist version="1.0">
<dict>
  <key>Label</key><string>{label}</string>
  <key>ProgramArguments</key>
  <array>
{words}
  </array>
  <key>RunAtLoad</key><true/>
  <key>KeepAlive</key><dict><key>SuccessfulExit</key><false/></dict>
  <key>ProcessType</key><string>Interactive</string>
  <key>Umask</key><integer>63</integer>
  <key>ExitTimeOut</key><integer>30</integer>
</dict>
</plist>
"""


def default_kind() -> str:
    """The service manager of this system."""
    return "launchd" if sys.platform == "darwin" else "systemd"


def print_unit(kind: str, home: Path, words: tuple[str, ...] = ()) -> str:
    """The text of a unit that records into a practice folder.

    kind: one of KINDS. words: further arguments of ``livecheck daemon``, such as ``--port``. Raises
    BadInput for another kind.
    """
    if kind not in KINDS:
        raise BadInput(f"service manager {kind!r} is not known; there are: {', '.join(KINDS)}")
    command = [sys.executable, "-m", "livecheck", "daemon", "--home", str(home.resolve()), *words]
    for word in command:
        if not word.isprintable():
            raise BadInput(f"{clean(word)!r} holds what no line of a unit can")
    if kind == "systemd":
        return _SYSTEMD.format(command=" ".join(_quoted(word) for word in command))
    return _LAUNCHD.format(
        label=LABEL, words="\n".join(f"    <string>{escape(word)}</string>" for word in command)
    )


def _quoted(word: str) -> str:
    """A word as systemd reads it (systemd.service, COMMAND LINES; systemd.unit, specifiers)."""
    word = word.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%").replace("$", "$$")
    return f'"{word}"' if not word or set(word) & set(" \t\"'\\;") else word
