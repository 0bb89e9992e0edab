"""`coach job`, `coach clear`: one repair from the first read-out to the sign-off."""

import argparse
import json
import sys
from datetime import datetime
from typing import Any

from coach.cli.common import link_arguments, store_of
from coach.cli.exits import COULD_NOT_TELL, DONE, NOT_READY


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The commands' arguments."""
    job = commands.add_parser("job", help="one repair: open, list, show, sign off")
    actions = job.add_subparsers(required=True, metavar="ACTION")
    new = actions.add_parser(
        "new", help="open a job", epilog="example: coach job new --code P0135 --part 'front sensor'"
    )
    new.add_argument("--code", action="append", default=[], metavar="CODE", help="a repaired code; may be repeated")
    new.add_argument("--part", default="", metavar="TEXT", help="what was replaced or mended")
    new.add_argument("--note", default="", metavar="TEXT")
    new.add_argument("--odometer", type=float, metavar="N", help="kilometres, or miles with --us")
    new.set_defaults(command=_new)
    listed = actions.add_parser("list", help="every job")
    listed.set_defaults(command=_list)
    shown = actions.add_parser("show", help="one job: files, monitors, whether the repair is confirmed")
    shown.add_argument("id", nargs="?", metavar="ID", help="the open one when left out")
    shown.add_argument("--json", action="store_true", help="the same as data")
    shown.set_defaults(command=_show)
    signed = actions.add_parser("sign-off", help="close a job")
    signed.add_argument("id", nargs="?", metavar="ID", help="the open one when left out")
    signed.add_argument("--note", default="", metavar="TEXT")
    signed.set_defaults(command=_sign_off)
    for parser in (new, listed, shown, signed):
        parser.add_argument("--us", action="store_true", help="miles and Fahrenheit")
        parser.add_argument("--jobs", metavar="DIR", help="where jobs and journals are kept")
    _add_clear(commands)


def _add_clear(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    clear = commands.add_parser(
        "clear",
        help="clear codes and monitors, after the read-out is saved and a word is typed",
        description="Saves the read-out, says what is lost and what stays, asks for a typed word, clears, verifies.",
        epilog="example: coach clear --port /dev/rfcomm0",
    )
    link_arguments(clear)
    clear.add_argument("--job", metavar="ID", help="the job it belongs to; the open one when left out")
    clear.add_argument("--jobs", metavar="DIR", help="where jobs and journals are kept")
    clear.set_defaults(command=_clear)


# ---------------------------------------------------------------- jobs


def the_job(arguments: argparse.Namespace, named: str | None) -> Any:
    """The job that was named, else the open one. ValueError when there is none."""
    store = store_of(arguments)
    job = store.named(named) if named else store.open_job()
    if job is None:
        raise ValueError("no job is open; coach job new opens one")
    return job


def _new(arguments: argparse.Namespace) -> int:
    from coach.words.units import KM_PER_MILE

    odometer = arguments.odometer
    km = odometer * KM_PER_MILE if odometer is not None and arguments.us else odometer
    now = datetime.now().astimezone()
    job = store_of(arguments).new(now, tuple(arguments.code), arguments.part, arguments.note, km)
    print(f"{job.record.id}: open. coach check reads the car into it; coach clear and coach drive go on with it.")
    return DONE


def _list(arguments: argparse.Namespace) -> int:
    from coach.words.jobs import jobs_page

    jobs, damaged = store_of(arguments).all()
    print(jobs_page(jobs))
    for problem in damaged:
        print(f"coach: {problem}", file=sys.stderr)
    return DONE


def _show(arguments: argparse.Namespace) -> int:
    from coach.session.confirm import look_at
    from coach.words.jobs import job_document, job_page
    from coach.words.units import Units

    seen = look_at(the_job(arguments, arguments.id))
    if arguments.json:
        print(json.dumps(job_document(seen), ensure_ascii=False, indent=1))
    else:
        print(job_page(seen, Units(arguments.us)))
    return _confirmed(seen)


def _confirmed(seen: Any) -> int:
    """0 when every repaired code is confirmed, 1 when one is not or came back, 3 when nothing can be said."""
    states = {one.outcome for one in seen.confirmations}
    if not states or "cannot_say" in states:
        return COULD_NOT_TELL
    return DONE if states == {"confirmed"} else NOT_READY


def _sign_off(arguments: argparse.Namespace) -> int:
    from coach.jobs.records import SignOff
    from coach.session.confirm import look_at

    job = the_job(arguments, arguments.id)
    states = ", ".join(f"{one.code} {one.outcome.replace('_', ' ')}" for one in look_at(job).confirmations)
    job.sign_off(SignOff(datetime.now().astimezone().isoformat(timespec="seconds"), states, arguments.note))
    print(f"{job.record.id}: signed off" + (f", {states}." if states else "."))
    return DONE


# ---------------------------------------------------------------- clear


def _clear(arguments: argparse.Namespace) -> int:
    from coach.cli.clear import run

    return run(arguments)
