"""Makes captures for the tests: arrivals as CAN frames, ISO-TP flow control included, and frames as a candump log."""

import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

from coach.car.arrivals import Answer, Arrival, Request
from coach.importer.imported import Imported, open_import

BEGAN_S = 1_700_000_000.0
FUNCTIONAL = {3: 0x7DF, 8: 0x18DB33F1}


class Frame(NamedTuple):
    """One frame: time in seconds, identifier, data."""

    t: float
    identifier: int
    data: bytes


def split(payload: bytes, fill: bytes = b"\x00") -> list[bytes]:
    """The frames of one message, filled to eight bytes."""
    if len(payload) <= 7:
        return [(bytes([len(payload)]) + payload).ljust(8, fill)]
    frames = [bytes([0x10 | len(payload) >> 8, len(payload) & 0xFF]) + payload[:6]]
    for number, at in enumerate(range(6, len(payload), 7), start=1):
        frames.append((bytes([0x20 | number & 0x0F]) + payload[at : at + 7]).ljust(8, fill))
    return frames


def frames_of(arrivals: Iterable[Arrival], width: int = 3) -> Iterator[Frame]:
    """Requests and answers as their frames; a long answer begins when asked and ends at its own time."""
    asked_t = 0.0
    for arrival in arrivals:
        if isinstance(arrival, Request):
            asked_t = arrival.t
            yield Frame(arrival.t, FUNCTIONAL[width], split(bytes.fromhex(arrival.text))[0])
        elif isinstance(arrival, Answer):
            parts = split(arrival.payload)
            for i, data in enumerate(parts):
                t = arrival.t if i == len(parts) - 1 else max(asked_t, arrival.t - 0.001)
                yield Frame(t, int(arrival.ecu, 16), data)
                if i == 0 and len(parts) > 1:
                    yield Frame(t, tester_of(arrival.ecu), bytes([0x30, 0, 0, 0, 0, 0, 0, 0]))


def tester_of(ecu: str) -> int:
    """The identifier on which this ECU is asked alone."""
    return int(ecu, 16) - 8 if len(ecu) == 3 else 0x18DA00F1 | int(ecu[-2:], 16) << 8


def candump_lines(frames: Iterable[Frame], bus: str = "can0") -> list[str]:
    """The lines of a candump log."""
    return [
        f"({BEGAN_S + f.t:.6f}) {bus} {f.identifier:0{8 if f.identifier > 0x7FF else 3}X}#{f.data.hex().upper()}"
        for f in frames
    ]


def a_log(path: Path, frames: Iterable[Frame]) -> Path:
    """A candump log in a file."""
    path.write_text("\n".join(candump_lines(frames)) + "\n")
    return path


def read(path: Path, protocol: str | None = None) -> tuple[list[Arrival], Imported]:
    """Everything an import gives."""
    imported = open_import(path, protocol=protocol)
    return list(imported.arrivals()), imported


def read_frames(path: Path, *frames: tuple[int, str] | tuple[int, str, float]) -> tuple[list[Arrival], Imported]:
    """Frames given as identifier and hex, a hundredth of a second apart or at a time, as a log, imported."""
    made = [
        Frame(frame[2] if len(frame) > 2 else i / 100, frame[0], bytes.fromhex(frame[1]))  # type: ignore[misc]
        for i, frame in enumerate(frames)
    ]
    return read(a_log(path / "log", made))


def said(arrivals: Iterable[Arrival]) -> list[tuple[int | None, str, str]]:
    """Answers as question, ECU and hex."""
    return [(a.request_id, a.ecu, a.payload.hex().upper()) for a in arrivals if isinstance(a, Answer)]


def kinds(arrivals: Iterable[Arrival]) -> list[str]:
    """The kinds of the arrivals, in order."""
    return [type(arrival).__name__ for arrival in arrivals]


def asked_for(extra: str) -> str:
    """What our package asks for first in one of its extras."""
    project = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return str(project["optional-dependencies"][extra][0])
