"""Whatever a car, a file or a user says, every command shows it and none obeys it; as data it stays what it was.

The walk is over all commands of the parser: one that is not in the table fails here.
"""

import argparse
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

import coach.adapter.link
import coach.session.clear
from coach.adapter.ports import Port
from coach.adapter.setup import _library
from coach.adapter.source import LinkInfo
from coach.cli import _parser, main
from coach.jobs.store import JobStore
from coach.simulator.cars import make_car
from coach.simulator.driver import Driver
from coach.simulator.simulated_car import SimulatedCar
from coach.simulator.vehicle import Reply
from tests.hostile import EVIL, EVIL_BYTES, EVIL_NAME, WHEN, World, harmless, world
from tests.inspection.line import MemoryPort
from tests.inspection.story import QUICK
from tests.session.in_process import InProcessSource

ENDS_S = 30.0  # of the car's time: then the user ends the drive


@pytest.fixture(scope="module")
def evil(tmp_path_factory: pytest.TempPathFactory) -> World:
    return world(tmp_path_factory.mktemp("hostile") / EVIL_NAME)


# ---------------------------------------------------------------- a car that says what it should not


def evil_car() -> SimulatedCar:
    """A small simulated car whose names and calibrations steer terminals."""
    car = make_car("small", faults=["open_sensor_heater"], cleared=False)
    car.key_on()
    car.advance(car.clock_s + 3)
    honest = car.ask
    said = {
        b"\x09\x0a": bytes([0x49, 0x0A, 1]) + EVIL_BYTES.ljust(20, b"\0")[:20],
        b"\x09\x04": bytes([0x49, 0x04, 1]) + EVIL_BYTES[:16].ljust(16, b"\0"),
    }

    def ask(request: bytes) -> tuple[Reply, ...]:
        replies = honest(request)
        if request not in said:
            return replies
        return tuple(Reply(reply.ecu, said[request]) for reply in replies if reply.payload[0] == 0x49)

    car.ask = ask  # type: ignore[method-assign]
    return car


class EvilSource(InProcessSource):
    """That car behind an adapter that calls itself something worse; the user ends the drive by and by."""

    def __init__(self, _port: str = "", *, progress: Callable[[str], None] = print, **_: object) -> None:
        car = evil_car()
        super().__init__(car, Driver(car))
        self._progress = progress
        self.ended = False

    def start(self) -> None:
        super().start()
        self._progress(EVIL)
        self.info = LinkInfo(EVIL, EVIL, True)

    def arrivals(self, timeout_s: float) -> Any:
        if self.now() > ENDS_S and not self.ended:
            self.ended = True
            raise KeyboardInterrupt
        return super().arrivals(timeout_s)


@pytest.fixture
def on_the_line(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Every way to a car leads to that one."""
    port = Port("/dev/evil", EVIL)
    monkeypatch.setattr("coach.adapter.source.LiveSource", EvilSource)
    monkeypatch.setattr("coach.session.live.LiveSource", EvilSource)
    monkeypatch.setattr("coach.adapter.ports.list_ports", lambda: (port,))
    car = evil_car()
    monkeypatch.setattr(coach.adapter.link, "open_transport", lambda _port, _baud: MemoryPort(car))
    quick = partial(coach.adapter.link.connect, deadlines=QUICK)
    monkeypatch.setattr(coach.session.clear, "connect", lambda port, **how: quick(port, **{**how, "deadlines": QUICK}))
    monkeypatch.setattr(coach.session.clear, "SETTLE_S", 0.0)
    monkeypatch.setattr(_library(), "time", SimpleNamespace(sleep=lambda _seconds: None))
    monkeypatch.setattr("builtins.input", lambda *asked: "no")
    yield


# ---------------------------------------------------------------- every command


@dataclass(frozen=True)
class Told:
    """One way to call a command: its arguments, the exit codes it may have, whether something hidden must show."""

    arguments: Callable[[World], list[str]]
    codes: tuple[int, ...] = (0, 1, 3)
    shows: bool = True


def jobs(evil: World) -> list[str]:
    return ["--jobs", str(evil.folder)]


def of_job(evil: World) -> str:
    return evil.job.record.id


USAGE = (2,)
CALLS: dict[str, list[Told]] = {
    "review": [
        Told(lambda evil: [str(evil.journal)]),
        Told(lambda evil: [str(evil.journal), "--full", "--us"]),
        Told(lambda evil: [str(evil.journal), "--json"], shows=False),
        Told(lambda evil: [str(evil.table)]),
        Told(lambda evil: [str(evil.journal), "--profile", str(evil.profile), "--full"]),
        Told(lambda evil: [str(evil.folder / EVIL_NAME)], USAGE),
        Told(lambda evil: [str(evil.table), "--column", f"{EVIL}=speed_kmh"], (0, 2)),
        Told(lambda evil: [str(evil.table), "--mapping", str(evil.mapping)], USAGE),
        Told(lambda evil: [str(evil.table), "--protocol", EVIL], USAGE),
    ],
    "import": [
        Told(lambda evil: [str(evil.table), "-o", str(evil.folder / f"out {EVIL_NAME}"), "--overwrite"]),
        Told(lambda evil: [str(evil.table), "-o", str(evil.folder)], USAGE),
        Told(lambda evil: [str(evil.table), "-o", str(evil.folder / "o"), "--profile", EVIL], USAGE),
    ],
    "profiles list": [Told(lambda evil: [], shows=False), Told(lambda evil: ["--json"], shows=False)],
    "profiles show": [Told(lambda evil: [str(evil.profile)]), Told(lambda evil: [EVIL], USAGE)],
    "profiles check": [
        Told(lambda evil: [str(evil.profile)]),
        Told(lambda evil: [str(evil.profile), str(evil.broken), str(evil.folder / "gone \x1b")], USAGE),
    ],
    "rules list": [Told(lambda evil: [], shows=False), Told(lambda evil: ["--json"], shows=False)],
    "rules show": [
        Told(lambda evil: [str(evil.rule)]),
        Told(lambda evil: [str(evil.rule), "--json"], shows=False),
        Told(lambda evil: [str(evil.broken)], USAGE),
    ],
    "rules check": [
        Told(lambda evil: [str(evil.rule)]),
        Told(lambda evil: [str(evil.rule), "--json"], shows=False),
        Told(lambda evil: [str(evil.broken), EVIL], USAGE),
    ],
    "report": [
        Told(lambda evil: [str(evil.journal), "--rules", str(evil.rule), "--model-year", "2012"]),
        Told(lambda evil: [str(evil.journal), "--json"], shows=False),
        Told(lambda evil: [of_job(evil), *jobs(evil), "--rules", str(evil.rule)]),
        Told(lambda evil: [of_job(evil), *jobs(evil), "--json"], shows=False),
        Told(lambda evil: [str(evil.closed.folder)]),
        Told(lambda evil: [str(evil.table), "-o", str(evil.folder / f"report {EVIL_NAME}.txt")]),
        Told(lambda evil: [EVIL, *jobs(evil)], USAGE),
    ],
    "job list": [Told(jobs), Told(lambda evil: ["--json", *jobs(evil)])],
    "job show": [
        Told(lambda evil: [of_job(evil), *jobs(evil)]),
        Told(lambda evil: [of_job(evil), "--json", *jobs(evil)], shows=False),
        Told(lambda evil: [str(evil.closed.folder), *jobs(evil)]),
        Told(lambda evil: [EVIL, *jobs(evil)], USAGE),
    ],
    "job new": [
        Told(lambda evil: ["--code", EVIL, *jobs(evil)], USAGE),
        Told(lambda evil: ["--part", EVIL, "--jobs", str(evil.folder / "new")], shows=False),
    ],
    "job change": [
        Told(lambda evil: [of_job(evil), "--monitor", f"{EVIL}=catalyst", *jobs(evil)], USAGE),
        Told(lambda evil: [str(evil.closed.folder), "--note", EVIL, *jobs(evil)], USAGE),
        Told(lambda evil: [of_job(evil), "--unit", f"{EVIL}=replaced", *jobs(evil)], USAGE),
        Told(lambda evil: [of_job(evil), "--same-car", EVIL, *jobs(evil)], USAGE),
        Told(lambda evil: [of_job(evil), "--rules", EVIL, *jobs(evil)], USAGE),
    ],
    "job sign-off": [
        Told(lambda evil: [_new_job(evil), *jobs(evil), "--note", EVIL], shows=False),
        Told(lambda evil: [str(evil.closed.folder), *jobs(evil)], USAGE),
    ],
    "check": [
        Told(lambda evil: ["--job", of_job(evil), *jobs(evil)]),
        Told(lambda evil: ["--json", "--jobs", str(evil.folder / "none")]),
        Told(lambda evil: ["--rules", str(evil.rule), "--jobs", str(evil.folder / "none")]),
    ],
    "drive": [
        Told(lambda evil: ["--plain", "--new", "--profile", str(evil.profile), "--job", of_job(evil), *jobs(evil)]),
        Told(lambda evil: ["--plain", "--go-on", "--jobs", str(evil.folder / "broken off")]),
        Told(lambda evil: ["--plain", "--target", EVIL, "--job", of_job(evil), *jobs(evil)], USAGE),
    ],
    "clear": [Told(lambda evil: ["--job", of_job(evil), *jobs(evil)])],
    "ports": [Told(lambda evil: ["--no-probe"]), Told(lambda evil: ["--no-probe", "--json"], shows=False)],
    "demo": [Told(lambda evil: ["--car", "small", EVIL], USAGE)],
    "simulate": [
        Told(lambda evil: ["--car", EVIL], USAGE, shows=False),
        Told(lambda evil: ["--drive-schedule", str(evil.broken)], USAGE),
    ],
    "start": [Told(lambda evil: [EVIL], USAGE)],
    "serve": [Told(lambda evil: ["--host", EVIL, "--jobs", str(evil.folder)], USAGE)],
}
"""Every command, as a hostile world calls it."""


def leaves(parser: argparse.ArgumentParser, path: tuple[str, ...] = ()) -> Iterator[str]:
    """The full name of every command."""
    below = [action for action in parser._actions if isinstance(action, argparse._SubParsersAction)]
    if not below:
        yield " ".join(path)
    for action in below:
        for name, inner in action.choices.items():
            yield from leaves(inner, (*path, name))


def test_the_walk_goes_through_every_command_there_is() -> None:
    assert set(CALLS) == set(leaves(_parser()))
    assert len(CALLS) > 15


@pytest.mark.parametrize(
    ("name", "number"), [(name, number) for name, told in CALLS.items() for number in range(len(told))]
)
def test_no_command_obeys_what_it_is_told(
    name: str, number: int, evil: World, on_the_line: None, capsys: pytest.CaptureFixture[str]
) -> None:
    told = CALLS[name][number]
    if name == "drive" and number == 1:
        _broken_off(evil)
    try:
        code = main([*name.split(), *told.arguments(evil)])
    except SystemExit as stopped:  # argparse
        code = int(str(stopped.code))
    said = capsys.readouterr()
    assert "fault of this program" not in said.err, said.err
    assert code in told.codes, (code, said.err)
    harmless(said.out + said.err, told.shows)
    assert name != "drive" or code == 2 or "Ending the drive." in said.out, said.out
    assert not said.out.startswith("{") or json.loads(said.out)


def _new_job(evil: World) -> str:
    job = JobStore(evil.folder).new(WHEN, ("P0420",), EVIL, EVIL)
    return job.record.id


def _broken_off(evil: World) -> None:
    """The hostile drive, broken off a moment ago."""
    folder = evil.folder / "broken off" / "drives"
    folder.mkdir(parents=True)
    lines = evil.journal.read_bytes().splitlines(keepends=True)
    (folder / evil.journal.name).write_bytes(b"".join(lines[:-1]))


def test_as_data_everything_stays_what_the_file_said(evil: World, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["review", str(evil.journal), "--json"]) == 0
    notes = [h["text"] for h in json.loads(capsys.readouterr().out)["happenings"] if h["happening"] == "note_made"]
    assert notes == [EVIL, EVIL]
    assert main(["job", "show", of_job(evil), "--json", *jobs(evil)]) in (0, 1, 3)
    shown = json.loads(capsys.readouterr().out)
    assert (shown["part"], shown["note"]) == (EVIL, EVIL)


def test_a_file_is_written_where_the_user_said_and_nowhere_else(evil: World, tmp_path: Path) -> None:
    out = tmp_path / f"{EVIL_NAME}.html"
    assert main(["report", of_job(evil), *jobs(evil), "-o", str(out)]) == 0
    assert [path.name for path in tmp_path.iterdir()] == [out.name]
    harmless(out.read_text("utf-8"))
