"""A recording of the simulated car as if a code had stood in it from the beginning, with the MIL on. Invented."""

from collections.abc import Iterator
from pathlib import Path

import msgspec

from coach.car.arrivals import Answer, Arrival
from coach.journal.reader import open_journal
from coach.journal.records import Context
from coach.journal.writer import JournalWriter

P0128 = b"\x01\x28"


def with_code(recorded: Path, folder: Path, code: bytes = P0128) -> Path:
    """The same recording, the first control unit telling the code as stored and the MIL as commanded."""
    reader = open_journal(recorded)
    arrivals = list(reader.arrivals())
    path = folder / f"coded-{recorded.name}"
    with JournalWriter(path, reader.header, reader.context or Context(), overwrite=True) as journal:
        for arrival in _coded(arrivals, code):
            journal.write(arrival)
    return path


def _coded(arrivals: list[Arrival], code: bytes) -> Iterator[Arrival]:
    first = min(a.ecu for a in arrivals if isinstance(a, Answer))
    for arrival in arrivals:
        if isinstance(arrival, Answer) and arrival.ecu == first:
            yield msgspec.structs.replace(arrival, payload=_with(arrival.payload, code))
        else:
            yield arrival


def _with(payload: bytes, code: bytes) -> bytes:
    if payload[:1] == b"\x43":
        return b"\x43\x01" + code  # on CAN the number of codes stands before them
    if payload[:2] == b"\x41\x01":
        return payload[:2] + b"\x81" + payload[3:]
    return payload
