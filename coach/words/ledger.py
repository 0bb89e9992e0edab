"""Words on a job's ledger and on what the user said of the job; nothing is decided here."""

from collections.abc import Iterator
from typing import Any

from coach.jobs.ledger import Ledgered
from coach.jobs.records import Brought, JobRecord, Said
from coach.visible import one_line
from coach.words.names import MONITOR_NAMES
from coach.words.reasons import FUELS
from coach.words.units import listed, when_words
from coach.words.who import KIND_WORDS

STATES = {
    "whole": "whole",
    "cut_short": "cut short, without its last line",
    "changed": "changed since it was kept, no evidence any more",
    "missing": "not in the folder any more",
    "unreadable": "cannot be read",
    "empty": "begun, nothing written",
    "unsealed": "not closed yet",
}
CLEARS = {
    "proved": "a clear that every control unit confirmed",
    "unproved": "a clear that was sent and not proved",
    "refused": "a clear that was refused",
}
UNIT_WORDS = {
    "taken_out": "was taken out",
    "replaced": "was replaced",
    "reprogrammed": "was reprogrammed",
}


def state_words(one: Ledgered) -> str:
    """What became of a file; empty where it is whole."""
    return "" if one.state == "whole" else STATES[one.state]


def lost_line(one: Ledgered) -> str:
    """A file that is not as it was kept, and what is still known to have been in it."""
    held = f"; it held {brought_words(one.brought)}" if one.lost and one.brought is not None else ""
    return one_line(f"{one.entry.file}: {STATES[one.state]}{held}")


def brought_words(brought: Brought) -> str:
    """What a file brought."""
    parts = [f"{code} {kind}" for kind, codes in brought.codes.items() for code in codes] or ["no code"]
    if brought.clear in CLEARS:
        parts.append(CLEARS[brought.clear])
    if brought.complete:
        parts.append(f"{listed([MONITOR_NAMES[m] for m in brought.complete])} complete at its end")
    return "; ".join(parts)


def said_words(said: Said) -> str:
    """One thing the user said."""
    if said.what == "unit":
        return one_line(f"{when_words(said.when)}: control unit {said.name} {UNIT_WORDS.get(said.value, said.value)}")
    return one_line(f"{when_words(said.when)}: {said.name} is of the same car")


def told_words(record: JobRecord) -> Iterator[str]:
    """What the user told once for a verdict."""
    if record.model_year is not None:
        yield f"model year {record.model_year}"
    if record.fuel is not None:
        yield FUELS[record.fuel]
    if record.gvwr_lb is not None:
        yield f"gross weight {record.gvwr_lb:g} lb"
    if record.kind is not None:
        yield one_line(KIND_WORDS.get(record.kind, record.kind)) or "nothing but its fuel drives it"
    if record.inspected is not None:
        yield f"{'inspected' if record.inspected else 'not inspected'} there"
    if record.against_the_car:
        yield "the car's own word on these is wrong"
    if record.rule is not None:
        yield f"judged by {record.rule}"


def user_lines(record: JobRecord) -> Iterator[str]:
    """All that the user said beside the repair, one thing a line."""
    told = tuple(told_words(record))
    if told:
        yield f"By your word: {listed(list(told))}"
    yield from (f"By your word, {said_words(one)}" for one in record.said)


def file_data(one: Ledgered) -> dict[str, Any]:
    """One file as data. What it brought is null where it was never closed."""
    entry, seal = one.entry, one.entry.sealed
    return {
        "kind": entry.kind,
        "file": entry.file,
        "when": entry.when,
        "note": entry.note,
        "state": one.state,
        "sha256": seal.sha256 if seal is not None else None,
        "size_bytes": seal.size_bytes if seal is not None else None,
        "brought": None
        if seal is None
        else {
            "control_units": list(seal.brought.units),
            "codes": {kind: list(codes) for kind, codes in seal.brought.codes.items()},
            "clear": seal.brought.clear,
            "complete": list(seal.brought.complete),
        },
    }


def user_data(record: JobRecord) -> dict[str, Any]:
    """What the user said, as data."""
    return {
        "told": {
            "rule": record.rule,
            "model_year": record.model_year,
            "fuel": record.fuel,
            "gross_weight_lb": record.gvwr_lb,
            "kind": record.kind,
            "inspected": record.inspected,
            "against_the_car": record.against_the_car,
        },
        "said": [{"when": s.when, "what": s.what, "name": s.name, "value": s.value or None} for s in record.said],
    }
