"""What the last journal proves about the time since: how long the car stood, and how full the tank was.

A soak is proved when the distance since the clear has not moved and the ignition counter tells of no start but those
the journal itself saw and the one now under way; else the time since is only an upper limit, and nothing is claimed.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from coach.car.arrivals import Answer
from coach.car.car import Car
from coach.car.happenings import EngineStarted, Happening
from coach.journal.errors import JournalError
from coach.journal.reader import open_journal

PROOF = "the last recording: distance unchanged, and the ignition counter tells of no start since"
COUNTERS = (b"\x49\x08", b"\x49\x0b")
"""Answers that bring the ignition counter: service 09, infotypes 08 and 0B."""
LOOK_BACK = 3  # our judgement: a clear or a read-out that was broken off may tell no counter; the one before it does


@dataclass(frozen=True, slots=True)
class LastDrive:
    """The end of a journal: when, and the counters and the tank then; none where they were not told.

    `starts`: starts of the engine the journal saw after the counters were read, so that they do not hold them yet.
    """

    ended: datetime
    distance_km: float | None
    ignition_counts: Mapping[str, int]
    fuel_pct: float | None
    starts: int = 0


def last_drive(path: Path) -> LastDrive | None:
    """What a journal says of its end; none when it has no wall clock or cannot be read."""
    starts = 0
    try:
        reader = open_journal(path)
        if reader.header.began is None:
            reader.close()
            return None
        car = Car(can=reader.header.can)
        for arrival in reader.arrivals():
            out: list[Happening] = []
            car.now = max(car.now, arrival.t)
            car.fold(arrival, out)
            if isinstance(arrival, Answer) and arrival.payload[:2] in COUNTERS:
                starts = 0
            starts += sum(isinstance(happening, EngineStarted) and happening.seen for happening in out)
    except (JournalError, OSError):
        return None
    ended = datetime.fromisoformat(reader.header.began) + timedelta(seconds=car.now)
    if ended.tzinfo is None:
        return None  # of an unknown zone: how long ago that was cannot be told
    distance, fuel = car.values.get("distance_since_clear_km"), car.values.get("fuel_level_pct")
    return LastDrive(ended, distance, dict(car.ignition_counts), fuel, starts)


def known_since(last: LastDrive | None, car: Car, now: datetime) -> dict[str, Any]:
    """soak_s, soak_proof and fuel_before_pct, as far as they are proved for the car that was just asked."""
    if last is None:
        return {}
    known: dict[str, Any] = {}
    if last.fuel_pct is not None:
        known["fuel_before_pct"] = last.fuel_pct
    ran_s = car.values.get("run_time_s", 0.0) if car.cycle.running else 0.0
    stood_s = (now - last.ended).total_seconds() - ran_s
    same_distance = last.distance_km is not None and car.values.get("distance_since_clear_km") == last.distance_km
    if stood_s > 0 and same_distance and _not_started(last, car):
        known |= {"soak_s": round(stood_s, 1), "soak_proof": PROOF}
    return known


def _not_started(last: LastDrive, car: Car) -> bool:
    """Whether every control unit that counts has counted just the starts that are known. None that counts: no proof."""
    before = last.ignition_counts
    counted = [count - before[ecu] for ecu, count in car.ignition_counts.items() if ecu in before]
    possible = {last.starts, last.starts + 1} if car.cycle.running else {last.starts}
    return bool(counted) and all(count in possible for count in counted)


def newest(journals: Iterable[Path]) -> LastDrive | None:
    """The end of the newest of these journals, given oldest first, that tells the ignition counter."""
    for path in list(reversed(list(journals)))[:LOOK_BACK]:
        found = last_drive(path)
        if found is not None and found.ignition_counts:
            return found
    return None


def known_since_any(ends: Iterable[LastDrive | None], car: Car, now: datetime) -> dict[str, Any]:
    """What the latest of several ends proves; another car's may be among them, so one that proves a soak goes first.

    An end that proves one holds whatever came later: no start is counted since.
    """
    told = sorted((end for end in ends if end is not None), key=lambda end: end.ended, reverse=True)
    known = [known_since(end, car, now) for end in told]
    return next((one for one in known if "soak_s" in one), known[0] if known else {})
