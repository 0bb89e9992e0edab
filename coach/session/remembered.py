"""What the last drive's journal proves about the time since: how long the car stood, and how full the tank was.

A soak is proved when the distance since the clear has not moved and the ignition counter rose by exactly one; else
the time since the last drive is only an upper limit, and nothing is claimed.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from coach.car.car import Car
from coach.journal.errors import JournalError
from coach.journal.reader import open_journal
from coach.session.reading import fold_all

PROOF = "the last drive's own record: distance unchanged, one ignition cycle since"


@dataclass(frozen=True, slots=True)
class LastDrive:
    """The end of the last drive: when, and the counters and the tank then; none where they were not told."""

    ended: datetime
    distance_km: float | None
    ignition_counts: Mapping[str, int]
    fuel_pct: float | None


def last_drive(path: Path) -> LastDrive | None:
    """What a journal says of its end; none when it has no wall clock or cannot be read."""
    try:
        reader = open_journal(path)
        if reader.header.began is None:
            reader.close()
            return None
        car = Car(can=reader.header.can)
        fold_all(car, tuple(reader.arrivals()))
    except JournalError:
        return None
    ended = datetime.fromisoformat(reader.header.began) + timedelta(seconds=car.now)
    values = car.values
    return LastDrive(
        ended, values.get("distance_since_clear_km"), dict(car.ignition_counts), values.get("fuel_level_pct")
    )


def known_since(last: LastDrive | None, car: Car, now: datetime) -> dict[str, Any]:
    """soak_s, soak_proof and fuel_before_pct, as far as they are proved for the car that was just asked."""
    if last is None:
        return {}
    known: dict[str, Any] = {}
    if last.fuel_pct is not None:
        known["fuel_before_pct"] = last.fuel_pct
    stood_s = (now - last.ended).total_seconds()
    same_distance = last.distance_km is not None and car.values.get("distance_since_clear_km") == last.distance_km
    counts = [
        (last.ignition_counts[ecu], count) for ecu, count in car.ignition_counts.items() if ecu in last.ignition_counts
    ]
    if stood_s > 0 and same_distance and counts and all(count == before + 1 for before, count in counts):
        known |= {"soak_s": round(stood_s, 1), "soak_proof": PROOF}
    return known


def newest(folder: Path) -> LastDrive | None:
    """The last drive kept in the folder."""
    journals = sorted((folder / "drives").glob("drive-*.journal*"), key=lambda path: path.stat().st_mtime)
    return last_drive(journals[-1]) if journals else None
