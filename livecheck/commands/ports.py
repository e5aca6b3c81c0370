"""The MIDI ports there are."""

from __future__ import annotations

from argparse import Namespace
from typing import TextIO

from ..daemon.drivers import chosen_api
from ..daemon.ports import plain_name, usable
from .common import print_json
from .midi_system import ask


def run_ports(options: Namespace, out: TextIO, err: TextIO) -> int:
    api = chosen_api(options.driver)
    names = ask("ports", api)
    fit = set(usable(names))
    if options.json:
        told = [{"name": plain_name(name), "usable": at in fit} for at, name in enumerate(names)]
        print_json({"driver": api, "ports": told}, out)
    elif not names:
        print(f"{api} knows no port that sends: plug the converter in and switch it on", file=out)
    else:
        for at, name in enumerate(names):
            remark = "" if at in fit else "  (no converter: passed over)"
            print(plain_name(name) + remark, file=out)
    return 0
