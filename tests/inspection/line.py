"""The story on the line: the simulated car behind the adapter's dialect, python-OBD's set-up, our link; one thread.

Time is the car's own, so that an evening, a night and a morning take seconds. What a thread and a pseudo-terminal would
do stands in `port.py` and `source.py` and has tests of its own.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

import coach.adapter.link
from coach.adapter.link import Link, connect
from coach.adapter.scheduler import answered_lengths
from coach.adapter.source import LinkInfo
from coach.car.arrivals import Arrival, LinkChange, Outcome, Reading, Request
from coach.car.car import Car
from coach.car.happenings import Happening
from coach.cli.check import keep, read_once
from coach.drive.core import Core
from coach.drive.current import current_phase, drives_on
from coach.jobs.store import Job
from coach.journal.records import Context, Header
from coach.journal.writer import JournalWriter
from coach.session.clean_cycles import clean_known
from coach.session.drive import Beginning, Drive
from coach.session.live import a_profile
from coach.session.remembered import known_since, newest
from coach.session.repaired import repaired_monitors
from coach.session.simulated import Standing
from coach.session.steering import cue_for
from coach.simulator.dialect import Dialect
from coach.simulator.driver import Cue, Driver
from coach.simulator.simulated_car import SimulatedCar
from tests.inspection.story import QUICK
from tests.session.in_process import InProcessSource

LONGEST_S = 5400.0
STANDING_S = 12.0  # as the coach asks: key off, ten seconds, key on


class MemoryPort:
    """The part of pyserial the wire uses, with the dialect behind it: every byte goes through it at once."""

    def __init__(self, car: SimulatedCar) -> None:
        self.dialect = Dialect(Standing(car))
        self._car = car
        self._buffer = bytearray()

    @property
    def in_waiting(self) -> int:
        return len(self._buffer)

    def write(self, data: bytes) -> int:
        for piece in self.dialect.receive(data, self._car.clock_s):
            self._buffer += piece.data
        return len(data)

    def read(self, size: int = 1) -> bytes:
        data = bytes(self._buffer[:size])
        del self._buffer[:size]
        return data

    def reset_input_buffer(self) -> None:
        self._buffer.clear()

    def reset_output_buffer(self) -> None:
        """Nothing waits to go out."""

    def close(self) -> None:
        """Nothing to close."""


@dataclass
class OnTheLine(InProcessSource):
    """The same source with the adapter between: python-OBD sets it up, our link asks, the dialect answers."""

    link: Link = field(init=False)
    _heard: bool = True

    def start(self) -> None:
        with pytest.MonkeyPatch.context() as patched:
            patched.setattr(coach.adapter.link, "open_transport", lambda _port, _baud: MemoryPort(self.car))
            self.link = connect("socket://memory:1", protocol="6", clock=self.now, deadlines=QUICK)
        self.link.identify()
        self.link.require_car()
        self.info = LinkInfo(self.link.adapter, self.link.protocol_name, self.link.can)
        self._scheduler.restart(self.now(), self.link.can)
        self._pending.append(LinkChange(self.now(), "up", "the car answers"))

    def _one(self, ask: Any) -> None:
        """One question on the link. With the key off the car is silent, and the source says so once."""
        if self.car.ignition_on is not self._heard:
            self._heard = self.car.ignition_on
            told: Any = ("up", "the car answers") if self._heard else ("ignition_off", "the car is silent")
            self._pending.append(LinkChange(self.now(), *told))
        self._ids += 1
        if ask.text == "ATRV":
            self._voltage(ask)
            return
        exchange = self.link.ask(ask.text)
        self._pending += exchange.arrivals(self._ids)
        self._scheduler.report(ask, self.now(), exchange.outcome, answered_lengths(ask, exchange.good))

    def _voltage(self, ask: Any) -> None:
        volts = self.link.voltage()
        told: Arrival = Outcome(self.now(), self._ids, "no_answer", "none")
        if volts is not None:
            told = Reading(self.now(), "adapter_v", volts)
        self._pending += [Request(self.now(), self._ids, ask.text), told]
        self._scheduler.report(ask, self.now(), "value" if volts else "no_answer", {"ATRV": 1} if volts else {})


def checked(car: SimulatedCar, job: Job, when: datetime) -> Car:
    """`coach check` into the job: key on, engine off, a whole read-out, key off."""
    car.key_on()
    found = read_once(OnTheLine(car, Driver(car)), "live")
    car.key_off()
    assert found is not None
    keep(replace(found, began=when.isoformat()), job)
    told: Car = found.car
    return told


@dataclass
class Driven:
    """One drive into the job: what happened, the core at its end, what it knew at its beginning, when it ended."""

    happened: list[Happening]
    core: Core
    known: dict[str, Any]
    planned: tuple[str, ...]
    ended: datetime


def driven(
    car: SimulatedCar,
    job: Job,
    began: datetime,
    target: Callable[[Car], tuple[str, ...] | None] = lambda _car: None,
    longest_s: float = LONGEST_S,
    seed: int = 3,
    clean: bool = False,
) -> Driven:
    """`coach drive` in the open job: read out, coached, key off, key on, read once more.

    `clean`: with `--target clean-cycles`.
    """
    source = OnTheLine(car, Driver(car, seed), delay_s=0.4)
    before = tuple(path for _entry, path in job.files())
    kept: dict[str, Any] = {}

    def record(header: Header, context: Context) -> JournalWriter:
        kept.update(context.known or {})
        path: Path = job.new_file("drive", began)
        return JournalWriter(path, header, context, overwrite=True)

    def remembered(told: Car) -> dict[str, Any]:
        found = {**known_since(newest(before), told, began), **repaired_monitors(job, told), **clean_known(job, told)}
        return {**found, "clean_cycles": {**found.get("clean_cycles", {}), "chosen": True}} if clean else found

    beginning = Beginning(
        "live",
        "test",
        began.isoformat(),
        a_profile,
        record,
        "spark_engine_off_leak",
        "spark_engine_off_leak",
        target=target,
        remembered=remembered,
    )
    drive = Drive(source, beginning)
    car.key_on()
    source.start()
    happened: list[Happening] = []
    planned: tuple[str, ...] = ()
    while source.now() < longest_s:
        happened += drive.step(1.0)
        if drive.core is None or drive.state != "driving":
            continue
        plan = drive.core.plan()
        planned = planned or plan.phases
        goes_on = bool(plan.waiting) or (clean and drives_on(drive.core, plan))
        if (not plan.drive and not goes_on) or drive.core.stop.ended is not None:
            break
        source.driver.follow(cue_for(drive.core, current_phase(drive.core, plan), goes_on))
    happened += _parted(drive, source)
    car.key_off()
    assert drive.core is not None
    return Driven(happened, drive.core, kept, planned, began + timedelta(seconds=source.now()))


def _parted(drive: Drive, source: OnTheLine) -> list[Happening]:
    """Stop, key off, key on again, the last look."""
    happened: list[Happening] = []
    source.driver.follow(Cue("key_off"))
    while source.car.ignition_on:
        happened += drive.step(1.0)
    source.driver.follow(Cue("wait"))
    happened += drive.step(STANDING_S)
    source.car.key_on()
    happened += drive.step(1.0)
    drive.read_again()
    while drive.reading:
        happened += drive.step(1.0)
    return happened + list(drive.finish("done"))
