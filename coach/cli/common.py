"""What several commands share: folders, paces, ports."""

import argparse
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from coach.cli.terminal import say
from coach.ordinary import expanded

FASTEST = 240.0  # our judgement: beyond it a reply takes longer than the bridges of the holds allow


class Mistakes(ValueError):
    """Several things that are wrong, each told in a line of its own."""

    def __init__(self, mistakes: Iterable[str]) -> None:
        self.mistakes = tuple(mistakes)
        super().__init__("; ".join(self.mistakes))


def folder_of(arguments: argparse.Namespace) -> Path | None:
    """The folder the user names with --jobs, none for the platform's own."""
    return expanded(arguments.jobs) if arguments.jobs else None


def checked_pace(pace: float) -> float:
    """A pace between 0.1 and 240 times real time. ValueError for another."""
    if not 0.1 <= pace <= FASTEST:
        raise ValueError(f"--pace {pace:g}: between 0.1 and {FASTEST:g} times real time")
    return pace


def the_port(named: str | None) -> str:
    """The port to use: the one named, else the only one there is. ValueError that lists them otherwise."""
    if named:
        if named.startswith("socket://") and not re.fullmatch(r"socket://(\[.+\]|[^:/]+):\d{1,5}", named):
            raise ValueError(f"--port {named}: a Wi-Fi adapter is written socket://ADDRESS:PORT")
        return named
    from coach.adapter.errors import AdapterError
    from coach.adapter.ports import list_ports

    ports = list_ports()
    if len(ports) == 1:
        return ports[0].name
    if not ports:
        raise AdapterError("no adapter port found: plug the adapter in or pair it, or name one with --port")
    names = ", ".join(port.name for port in ports)
    raise ValueError(f"several ports: {names}; name one with --port (coach ports tells what answers)")


def job_of(arguments: argparse.Namespace) -> Any:
    """The job that is named with --job, else the open one, none when there is none; with room for another file."""
    from coach.session.ledger import keep_ledger

    store = store_of(arguments)
    job = store.named(arguments.job) if arguments.job else store.open_job()
    for problem in store.all()[1] if job is None else ():
        say(f"coach: {problem}", aside=True)
    if job is not None and not job.is_open:
        raise ValueError(f"{job.record.id}: signed off {job.record.signed_off.when}; coach job new opens another")
    if job is not None:
        job.check_room()
        keep_ledger(job)
    return job


def store_of(arguments: argparse.Namespace, make: bool = True) -> Any:
    """The store of jobs in the user's folder. `make`: the folder when it is missing; else ValueError for one named."""
    from coach.jobs.store import JobStore
    from coach.session.places import data_folder

    named = folder_of(arguments)
    if named is not None and not make and not named.is_dir():
        raise ValueError(f"--jobs {arguments.jobs}: no such folder")
    return JobStore(data_folder(named))


def link_arguments(parser: argparse.ArgumentParser) -> None:
    """How to reach the adapter."""
    parser.add_argument(
        "--port", metavar="PORT", help="/dev/ttyUSB0, /dev/rfcomm0, COM3, socket://192.168.0.10:35000 …"
    )
    parser.add_argument("--baud", type=int, metavar="N", help="the adapter's speed, when it is known")
    parser.add_argument("--protocol", choices=list("123456789"), metavar="1-9", help="the transport, when it is known")
