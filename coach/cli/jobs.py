"""`coach job`, `coach clear`: one repair from the first read-out to the sign-off."""

import argparse
from datetime import datetime
from typing import Any

from coach.cli.common import link_arguments, store_of
from coach.cli.exits import COULD_NOT_TELL, DONE, NOT_READY
from coach.cli.repair import change, choices, monitor_argument, odometer_km, said_arguments, say_unknown, the_job
from coach.cli.rules import check_told, rule_arguments, tell, told_arguments
from coach.cli.sign_off import sign_off
from coach.cli.terminal import print_json, say


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
    monitor_argument(new)
    told_arguments(new)
    new.set_defaults(command=_new)
    changed = actions.add_parser(
        "change",
        help="add what is known of the repair by now",
        epilog="example: coach job change --monitor P1135=oxygen_sensor_heater --note 'connector cleaned too'",
    )
    changed.add_argument("id", nargs="?", metavar="ID", help="the open one when left out")
    changed.add_argument("--code", action="append", default=[], metavar="CODE", help="one more repaired code")
    changed.add_argument("--part", metavar="TEXT", help="what was replaced or mended")
    changed.add_argument("--note", metavar="TEXT")
    changed.add_argument("--odometer", type=float, metavar="N", help="kilometres, or miles with --us")
    monitor_argument(changed)
    said_arguments(changed)
    told_arguments(changed)
    changed.set_defaults(command=change)
    listed = actions.add_parser("list", help="every job")
    listed.add_argument("--json", action="store_true", help="the same as data")
    listed.set_defaults(command=_list)
    shown = actions.add_parser("show", help="one job: files, monitors, whether the repair is confirmed")
    shown.add_argument("id", nargs="?", metavar="ID", help="the open one when left out")
    shown.add_argument("--json", action="store_true", help="the same as data")
    shown.set_defaults(command=_show)
    signed = actions.add_parser("sign-off", help="close a job")
    signed.add_argument("id", nargs="?", metavar="ID", help="the open one when left out")
    signed.add_argument("--note", default="", metavar="TEXT")
    signed.add_argument("--anyway", action="store_true", help="close it although the repair is not confirmed")
    rule_arguments(signed)
    signed.set_defaults(command=sign_off)
    for parser in (new, changed, listed, shown, signed):
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


def _new(arguments: argparse.Namespace) -> int:
    now, km = datetime.now().astimezone(), odometer_km(arguments)
    chosen = choices(arguments)
    check_told(arguments)
    job = store_of(arguments).new(now, tuple(arguments.code), arguments.part, arguments.note, km, chosen=chosen)
    tell(arguments, job)
    say(f"{job.record.id}: open. coach check reads the car into it; coach clear and coach drive go on with it.")
    if not job.record.codes:
        print("No code is named, so no repair can be confirmed; coach job change --code P0135 adds one.")
    say_unknown(job)
    return DONE


def _list(arguments: argparse.Namespace) -> int:
    from coach.words.jobs import jobs_document, jobs_page

    jobs, damaged = store_of(arguments, make=False).all()
    if arguments.json:
        told = jobs_document(jobs, tuple(str(problem) for problem in damaged))
        print_json(told)
    else:
        print(jobs_page(jobs, len(damaged)))
    for problem in damaged:
        say(f"coach: {problem}", aside=True)
    return DONE


def _show(arguments: argparse.Namespace) -> int:
    from coach.jobs.errors import JobError
    from coach.session.confirm import look_at
    from coach.session.kept_rule import kept_verdict, kept_words
    from coach.words.jobs import job_document, job_page
    from coach.words.two_words import differences
    from coach.words.units import Units
    from coach.words.verdicts import short_lines, verdict_document

    seen = look_at(the_job(arguments, arguments.id))
    judged, on = None, datetime.now().date().isoformat()
    told = kept_words(seen, on)
    lines = differences(told) if told is not None else ()
    try:
        judged = kept_verdict(seen, on)
        lines = short_lines(*judged) if judged is not None else lines
    except JobError as error:
        say(f"coach: {error}", aside=True)
    if arguments.json:
        print_json(job_document(seen, verdict_document(*judged) if judged is not None else None))
    else:
        print(job_page(seen, Units(arguments.us), lines))
    return _confirmed(seen)


def _confirmed(seen: Any) -> int:
    """0 when every repaired code is confirmed, 1 when one is not or came back, 3 when nothing can be said."""
    states = {one.outcome for one in seen.confirmations}
    if not states or "cannot_say" in states:
        return COULD_NOT_TELL
    return DONE if states == {"confirmed"} else NOT_READY


# ---------------------------------------------------------------- clear


def _clear(arguments: argparse.Namespace) -> int:
    from coach.cli.clear import run

    return run(arguments)
