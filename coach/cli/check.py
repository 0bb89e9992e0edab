"""`coach check` reads everything once; `coach ports` tells what answers where."""

import argparse
import sys
import time
from dataclasses import replace
from datetime import datetime
from typing import Any, Literal

from coach.cli.common import link_arguments
from coach.cli.exits import COULD_NOT_TELL, DONE, NO_CONNECTION, NOT_READY
from coach.cli.rules import VERDICT_CODES, check_told, rule_arguments, tell, vehicle_by, verdict_on
from coach.cli.screens import look_argument, on_screen
from coach.cli.terminal import print_json, say

CODES = {"complete": DONE, "incomplete": NOT_READY, "fault": NOT_READY, "uncertain": COULD_NOT_TELL}
CONNECT_S = 45.0  # a protocol search may take 30 s, the set-up before it some more
LONGEST_S = 180.0  # our judgement: the slowest car on a slow adapter is read within three minutes


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The commands' arguments."""
    check = commands.add_parser(
        "check",
        help="read the car once: monitors, codes, counters, test results",
        description="Reads everything the car tells once and prints it. Key on; the engine need not run.",
        epilog="example: coach check --port /dev/rfcomm0",
    )
    link_arguments(check)
    rule_arguments(check)
    check.add_argument("--job", metavar="ID", help="the job it belongs to; the open one when left out")
    check.add_argument("--jobs", metavar="DIR", help="where jobs and journals are kept")
    check.add_argument("--screen", action="store_true", help="as a page to scroll on the screen")
    look_argument(check)
    check.add_argument("--json", action="store_true", help="the same as data")
    check.add_argument("--us", action="store_true", help="miles and Fahrenheit")
    check.add_argument("--vin", action="store_true", help="print the VIN in full: it is personal data")
    check.set_defaults(command=run_check)
    ports = commands.add_parser(
        "ports", help="the ports there are, and what answers", epilog="example: coach ports --json"
    )
    ports.add_argument("--json", action="store_true", help="the same as data")
    ports.add_argument("--no-probe", action="store_true", help="list only, open nothing")
    ports.set_defaults(command=run_ports)


def run_check(arguments: argparse.Namespace) -> int:
    """Read everything once. Exit 0 ready, 1 not ready, 3 could not tell, 4 no connection, 5 not inspected there.

    With a rule its verdict decides; without one whether every monitor the car has is complete and no code stands.
    """
    from coach.adapter.source import LiveSource
    from coach.cli.common import job_of, the_port

    check_told(arguments)
    job = job_of(arguments)
    tell(arguments, job)
    source = LiveSource(the_port(arguments.port), baud=arguments.baud, protocol=arguments.protocol, progress=_progress)
    try:
        found = read_once(source, "live")
    finally:
        source.close()
    if found is None:
        return NO_CONNECTION
    found = beside_job(found, arguments, job)
    judged = verdict_on(found.car, arguments) if arguments.rules else None
    print_readout(found, arguments, judged, job)
    if judged is None:
        say_differences(found.car, arguments)
    if job is not None:
        keep(found, job)
    return CODES[found.car.conclude().standing] if judged is None else VERDICT_CODES[judged[0].outcome]


def say_differences(car: Any, arguments: argparse.Namespace) -> None:
    """Without a verdict that tells it: what the user and the car say differently of model year and fuel."""
    from coach.words.two_words import differences

    for line in differences(vehicle_by(car, arguments)[1]):
        say(f"  {line}", aside=True)


def beside_job(found: Any, arguments: argparse.Namespace, job: Any) -> Any:
    """The same read-out, judged beside what is known: what the job's files told of its car, and the user's word.

    Another car than the job's is told as it is, by itself.
    """

    from msgspec.structs import replace as with_word

    from coach.car.known import Known, beside
    from coach.session.folding import known_of
    from coach.session.reading import read_anew

    known = known_of(job) if job is not None else Known()
    if beside(known, found.car.signs) == "another":
        print(
            f"  this is not the car of job {job.record.id}, by its VIN: kept, but it counts for nothing there",
            file=sys.stderr,
        )
        known = Known()
    told = arguments.model_year or known.model_year
    year_now = datetime.fromisoformat(found.began).year if found.began else None
    known = with_word(known, model_year=told, year_now=year_now)
    repaired = job.record.codes if job is not None else ()
    return replace(found, car=read_anew(found.arrivals, found.car.can, known), repaired=repaired)


def keep(found: Any, job: Any) -> None:
    """A job keeps the read-out: the first as the one before, the later ones between."""
    from coach import __version__
    from coach.journal.errors import JournalError
    from coach.journal.records import Context, Header
    from coach.journal.writer import JournalWriter
    from coach.session.for_job import sealed

    kind = "between" if job.files() else "before"
    path = job.new_file(kind, datetime.fromisoformat(found.began))
    header = Header(1, found.source, __version__, found.began, found.adapter, found.protocol, found.car.can)
    try:
        journal = JournalWriter(path, header, Context(), overwrite=True)
    except JournalError:
        if not path.exists():
            job.nothing_written(path)
        raise
    with journal:
        for arrival in found.arrivals:
            journal.write(arrival)
    sealed(job, path)
    say(f"  kept in job {job.record.id} as {path.name}", aside=True)


def print_readout(found: Any, arguments: argparse.Namespace, judged: Any, job: Any = None) -> None:
    """As text or as data, with the verdict behind it where a rule was named."""
    from coach.inspection.before import before_the_drive
    from coach.inspection.findings import findings_of
    from coach.words.clearing import checks_page
    from coach.words.outcomes import headline
    from coach.words.readout import readout_page
    from coach.words.readout_data import readout_document
    from coach.words.units import Units
    from coach.words.verdicts import changes, verdict_document, verdict_page

    if arguments.json:
        document = readout_document(found, arguments.vin)
        document["inspection"] = verdict_document(*judged) if judged is not None else None
        print_json(document)
        return
    units = Units(arguments.us)
    parts = [readout_page(found, units, arguments.vin)]
    if judged is not None:
        first = "".join(f"\n  {line}" for line in changes(judged[0]))
        parts.insert(0, f"{headline(judged[0])} The reasons stand at the end.{first}")
    if found.car.conclude().standing != "complete":
        repaired, codes = (f"{job.record.part} {job.record.note}", job.record.codes) if job is not None else ("", ())
        checks = before_the_drive(findings_of(found.car), found.car.cycle.running, repaired, codes)
        parts.append(f"Before a drive\n{checks_page(checks, units)}")
    if judged is not None:
        parts.append(verdict_page(judged[0], judged[1], findings_of(found.car)))
    page = "\n\n".join(parts)
    if arguments.screen and on_screen(False):
        run_screen(page, look=arguments.look)
    else:
        print(page)


def run_screen(page: str, look: str) -> None:
    """The read-out as a page to scroll."""
    from coach.screen.app import run_check as show

    show(page, look=look)


def _progress(text: str) -> None:
    say(f"  {text}", aside=True)


def read_once(source: Any, label: Literal["live", "simulated"]) -> Any:
    """A whole read-out through a source; none, and the reason on standard error, when the car does not answer."""
    from coach.car.arrivals import LinkChange
    from coach.car.car import Car
    from coach.session.questions import readout
    from coach.session.reading import Questioning, fold_all
    from coach.session.source import label_of
    from coach.words.readout import ReadOut

    car = Car()
    kept: list[Any] = []
    began = datetime.now().astimezone()
    walk: Questioning | None = None
    deadline = time.monotonic() + CONNECT_S
    source.start()
    while walk is None or not walk.done:
        arrivals = source.arrivals(0.2)
        kept += arrivals
        if walk is None and source.info is not None:
            car.can = source.info.can
            walk = Questioning(source, lambda: readout(car))
            fold_all(car, arrivals)
            walk.begin()
            deadline = time.monotonic() + LONGEST_S
            continue
        fold_all(car, arrivals)
        if walk is not None:
            walk.take(arrivals)
        troubles = [a for a in arrivals if isinstance(a, LinkChange) and a.state != "up"]
        if troubles or time.monotonic() > deadline:
            why = troubles[-1].why if troubles else "The car did not answer in time."
            say(f"coach: {why}", aside=True)
            return None
    rest = source.arrivals(0.0)
    kept += rest
    fold_all(car, rest)
    car.end([])
    volts = car.values.get("adapter_v")
    info, when = source.info, began.isoformat(timespec="seconds")
    return ReadOut(car, label_of(info.adapter, label), info.adapter, info.protocol, when, volts, tuple(kept))


def run_ports(arguments: argparse.Namespace) -> int:
    """List ports, and unless told otherwise open each and say what answers."""
    from coach.adapter.ports import list_ports, probe

    rows: list[dict[str, Any]] = []
    for port in list_ports():
        row: dict[str, Any] = {"port": port.name, "description": port.description, "answers": None, "why": None}
        if not arguments.no_probe:
            found = probe(port.name, progress=_progress)
            row["answers"], row["why"] = found.state, found.why or None
            row["adapter"], row["voltage_v"] = found.adapter or None, found.voltage_v
        rows.append(row)
    if arguments.json:
        print_json({"schema": "coach.ports", "version": 1, "ports": rows})
        return DONE if rows else NO_CONNECTION
    words = {
        "car": "the car answers",
        "ignition_off": "the adapter answers, the key is off",
        "no_car": "no car answers",
    }
    for row in rows:
        state = words.get(row["answers"] or "", row["why"] or "not opened")
        say(f"{row['port']:<24} {row['description']:<24} {state}")
    if not rows:
        print("no port found: plug the adapter in, or pair it, then try again", file=sys.stderr)
        return NO_CONNECTION
    return DONE
