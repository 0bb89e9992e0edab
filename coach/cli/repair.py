"""What `coach job new` and `change` do: what was repaired, by which monitor it is judged, what the user says of it."""

import argparse
from datetime import datetime
from typing import Any

from coach.cli.common import Mistakes, store_of
from coach.cli.exits import DONE
from coach.cli.rules import check_told, tell
from coach.cli.terminal import say


def monitor_argument(parser: argparse.ArgumentParser) -> None:
    """The user's own choice for a code that is in no table."""
    parser.add_argument(
        "--monitor",
        action="append",
        default=[],
        metavar="CODE=MONITOR",
        help="judge a maker's own code (P1135) by this monitor (oxygen_sensor_heater); may be repeated",
    )


def said_arguments(parser: argparse.ArgumentParser) -> None:
    """What the user says of the car itself."""
    parser.add_argument(
        "--unit",
        action="append",
        default=[],
        metavar="ADDRESS=WHAT",
        help="a control unit was taken_out, replaced or reprogrammed (7E9=replaced); may be repeated",
    )
    parser.add_argument(
        "--same-car",
        action="append",
        default=[],
        metavar="FILE",
        help="this file of the job is of the same car although it tells no sign of it; may be repeated",
    )


def choices(arguments: argparse.Namespace) -> dict[str, str]:
    """Monitors by code, as written. ValueError for another form."""
    found = {}
    for text in arguments.monitor:
        code, equals, monitor = text.partition("=")
        if not (code and equals and monitor):
            raise ValueError(f"--monitor {text}: write it as CODE=MONITOR, such as P1135=oxygen_sensor_heater")
        found[code] = monitor
    return found


def odometer_km(arguments: argparse.Namespace) -> float | None:
    """The odometer in kilometres; none when it was not given. ValueError for a figure no car has."""
    from coach.words.units import KM_PER_MILE

    read = arguments.odometer
    if read is None:
        return None
    if not 0 <= read <= 5_000_000:
        raise ValueError(f"--odometer {read:g}: between 0 and 5 million")
    return float(read * KM_PER_MILE if arguments.us else read)


def the_job(arguments: argparse.Namespace, named: str | None) -> Any:
    """The job that was named, else the open one. ValueError when there is none."""
    from coach.session.ledger import keep_ledger

    store = store_of(arguments, make=False)
    job = store.named(named) if named else store.open_job()
    if job is None:
        raise Mistakes(("no job is open; coach job new opens one", *map(str, store.all()[1])))
    keep_ledger(job)
    return job


def change(arguments: argparse.Namespace) -> int:
    """Add what is known by now; what is not named stays."""
    job = the_job(arguments, arguments.id)
    if not job.is_open:
        raise ValueError(f"{job.record.id}: signed off {job.record.signed_off.when}; coach job new opens another")
    km, units, now = odometer_km(arguments), _units(arguments, job), datetime.now().astimezone()
    check_told(arguments)
    job.said_of(now, units, arguments.same_car)  # what cannot be is said before anything is changed
    job.repaired(tuple(arguments.code), arguments.part, arguments.note, km, choices(arguments))
    job.say(now, units, arguments.same_car)
    tell(arguments, job)
    say(f"{job.record.id}: changed.")
    say_unknown(job)
    return DONE


def _units(arguments: argparse.Namespace, job: Any) -> dict[str, str]:
    """What became of control units. ValueError for another form, or for one that never answered in this job."""
    found = {}
    for text in arguments.unit:
        address, equals, became = text.partition("=")
        if not (address and equals and became):
            raise ValueError(f"--unit {text}: write it as ADDRESS=WHAT, such as 7E9=replaced")
        found[address.strip().upper()] = became
    known = {unit for one in job.ledger() if one.brought is not None for unit in one.brought.units}
    strange = next((address for address in found if known and address not in known), None)
    if strange is not None:
        raise ValueError(f"--unit {strange}: none that answered in this job; there are {', '.join(sorted(known))}")
    return found


def say_unknown(job: Any) -> None:
    """A code that nobody knows can be judged by the user's own choice; said when it is entered, not after the drive."""
    from coach.inspection.codes import assignment

    for code in job.record.codes:
        if all(assignment(code, kind, job.record.chosen.get(code)) is None for kind in ("spark", "compression")):
            say(
                f"  {code} is in no table: whether its repair is confirmed cannot be said. If you know which monitor"
                f" watches for it: coach job change --monitor {code}=MONITOR"
            )
