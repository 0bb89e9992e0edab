"""`coach job sign-off`: the end of a job, and what has to be said before a repair that is not confirmed is closed."""

import argparse
import sys
from datetime import datetime
from typing import Any

from coach.cli.exits import DONE, NOT_READY
from coach.cli.repair import the_job
from coach.cli.rules import check_told, tell, verdict_on
from coach.cli.terminal import ask, say


def sign_off(arguments: argparse.Namespace) -> int:
    """Close the job with what can be said of the repair and, where a rule is named or kept, with its verdict.

    Exit 1, and nothing is written, where the repair is not confirmed and the user does not want it all the same.
    """
    from coach.jobs.store import check_text
    from coach.session.confirm import look_at

    check_told(arguments)
    check_text(arguments.note)
    job = the_job(arguments, arguments.id)
    if not job.is_open:
        raise ValueError(f"{job.record.id}: signed off already, {job.record.signed_off.when}")
    tell(arguments, job, keep=False)
    seen = look_at(job)
    confirmed = {one.outcome for one in seen.confirmations} == {"confirmed"}
    done, said = _sign_off(arguments, seen, anyway=not confirmed)
    if not confirmed and not _wanted(arguments, seen):
        return NOT_READY
    tell(arguments, job)
    job.sign_off(done)
    say(f"{job.record.id}: signed off" + (f", {said}." if said else "."))
    return DONE


def _sign_off(arguments: argparse.Namespace, seen: Any, anyway: bool) -> tuple[Any, str]:
    """The record of the end, and in words what it says."""
    from msgspec.structs import replace

    from coach.jobs.records import SignOff
    from coach.words.confirmation import outcome_words
    from coach.words.outcomes import outcome_said
    from coach.words.two_words import differences

    states = ", ".join(f"{one.code} {outcome_words(one)}" for one in seen.confirmations)
    when = datetime.now().astimezone().isoformat(timespec="seconds")
    done = SignOff(when, states, note=arguments.note, incomplete=_incomplete(seen), anyway=anyway)
    if seen.latest is not None:
        done = replace(done, read_at=seen.latest.read_at)
    if not arguments.rules:
        return done, states
    if seen.latest is None or seen.evidence is None:
        raise ValueError(f"{seen.job.record.id}: nothing was read yet, so no rule can judge it")
    judged, told = verdict_on(seen.latest.car, arguments, seen.evidence.findings)
    for line in differences(told):
        say(line)
    rule = judged.rule
    done = replace(done, rule=rule.id, verdict=outcome_said(judged), rule_dates=rule.source_date, rule_sure=rule.sure)
    return done, ", ".join(part for part in (states, f"{done.verdict} by {done.rule}") if part)


def _wanted(arguments: argparse.Namespace, seen: Any) -> bool:
    """Whether a job whose repair is not confirmed is closed all the same: what is missing is said first."""
    from coach.words.jobs import unconfirmed_lines

    for line in unconfirmed_lines(seen):
        say(line)
    if arguments.anyway:
        return True
    if not sys.stdin.isatty():
        say("coach: not signed off; --anyway closes the job all the same", aside=True)
        return False
    try:
        return ask("Sign it off all the same? Type yes, or enter to leave it open. ").strip().lower() in ("y", "yes")
    except EOFError:
        return False


def _incomplete(seen: Any) -> tuple[str, ...] | None:
    if seen.evidence is None or not seen.evidence.findings.supported:
        return None
    found: tuple[str, ...] = seen.evidence.findings.in_state("incomplete", continuous=True)
    return found
