"""What `coach job new`, `change` and `sign-off` do: what was repaired, by which monitor it is judged, the end."""

import argparse
from datetime import datetime
from typing import Any

from coach.cli.common import Mistakes, store_of
from coach.cli.exits import DONE
from coach.cli.rules import verdict_on
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
    store = store_of(arguments, make=False)
    job = store.named(named) if named else store.open_job()
    if job is None:
        raise Mistakes(("no job is open; coach job new opens one", *map(str, store.all()[1])))
    return job


def change(arguments: argparse.Namespace) -> int:
    """Add what is known by now; what is not named stays."""
    job = the_job(arguments, arguments.id)
    if not job.is_open:
        raise ValueError(f"{job.record.id}: signed off {job.record.signed_off.when}; coach job new opens another")
    km = odometer_km(arguments)
    job.repaired(tuple(arguments.code), arguments.part, arguments.note, km, choices(arguments))
    say(f"{job.record.id}: changed.")
    say_unknown(job)
    return DONE


def say_unknown(job: Any) -> None:
    """A code that nobody knows can be judged by the user's own choice; said when it is entered, not after the drive."""
    from coach.inspection.codes import assignment

    for code in job.record.codes:
        if all(assignment(code, kind, job.record.chosen.get(code)) is None for kind in ("spark", "compression")):
            say(
                f"  {code} is in no table: whether its repair is confirmed cannot be said. If you know which monitor"
                f" watches for it: coach job change --monitor {code}=MONITOR"
            )


def sign_off(arguments: argparse.Namespace) -> int:
    """Close the job with what can be said of the repair and, where a rule is named, with its verdict."""
    from msgspec.structs import replace

    from coach.jobs.records import SignOff
    from coach.session.confirm import look_at
    from coach.words.confirmation import outcome_words
    from coach.words.reasons import OUTCOMES

    job = the_job(arguments, arguments.id)
    seen = look_at(job)
    states = ", ".join(f"{one.code} {outcome_words(one)}" for one in seen.confirmations)
    when = datetime.now().astimezone().isoformat(timespec="seconds")
    done = SignOff(when, states, note=arguments.note, incomplete=_incomplete(seen))
    if seen.latest is not None:
        done = replace(done, read_at=seen.latest.read_at)
    if arguments.rules:
        if seen.latest is None or seen.evidence is None:
            raise ValueError(f"{job.record.id}: nothing was read yet, so no rule can judge it")
        judged = verdict_on(seen.latest.car, arguments, seen.evidence.findings)[0]
        rule = judged.rule
        done = replace(
            done, rule=rule.id, verdict=OUTCOMES[judged.outcome], rule_dates=rule.source_date, rule_sure=rule.sure
        )
    job.sign_off(done)
    said = ", ".join(part for part in (states, f"{done.verdict} by {done.rule}" if done.rule else "") if part)
    say(f"{job.record.id}: signed off" + (f", {said}." if said else "."))
    return DONE


def _incomplete(seen: Any) -> tuple[str, ...] | None:
    if seen.evidence is None or not seen.evidence.findings.supported:
        return None
    found: tuple[str, ...] = seen.evidence.findings.in_state("incomplete", continuous=True)
    return found
