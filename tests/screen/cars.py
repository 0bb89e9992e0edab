"""A source and a feed on the simulated car, in-process: no adapter, no waiting, the same every time."""

import asyncio
import queue
import threading
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import msgspec
from textual.pilot import Pilot

from coach.car.arrivals import Answer, Arrival, Choice, LinkChange, Outcome, Reading, Request
from coach.car.happenings import Happening
from coach.drive.core import Core
from coach.drive.current import current_phase, drives_on
from coach.journal.reader import open_journal
from coach.journal.records import Context, Header
from coach.journal.writer import JournalWriter
from coach.screen.feed import Feed, Progress
from coach.session.drive import Beginning, Drive
from coach.session.live import a_profile
from coach.session.review import core_for, open_recording, profile_of
from coach.session.steering import STAND, cue_for
from coach.simulator.cars import make_car
from coach.simulator.driver import Cue, Driver
from coach.simulator.simulated_car import SimulatedCar

PATIENCE_S = 20.0
STILL_S = 0.02  # real seconds of a step in which nothing comes


@dataclass(frozen=True)
class Facts:
    adapter: str = "scripted"
    protocol: str = "ISO 15765-4"
    can: bool = True


@dataclass
class CarSource:
    """Answers as they are asked for; each call of `arrivals` lets `step_s` of the car's time pass."""

    car: SimulatedCar
    step_s: float = 1.0
    info: Facts | None = None
    seed: int = 1
    held: bool = False
    moving: bool = False
    _queue: list[Arrival] = field(default_factory=list)
    _once: list[str] = field(default_factory=list)
    _due: dict[str, tuple[float, float]] = field(default_factory=dict)
    _id: int = 0
    _up: bool | None = None
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def start(self) -> None:
        self.driver = Driver(self.car, self.seed)
        self.info = Facts()

    def arrivals(self, timeout_s: float) -> tuple[Arrival, ...]:
        if timeout_s and self.held:
            time.sleep(STILL_S)
        with self._lock:
            out, self._queue = self._queue, []
            if timeout_s and not self.held:
                self._live(out)
            return tuple(out)

    def _live(self, out: list[Arrival]) -> None:
        if self.car.ignition_on is not self._up:
            self._up = self.car.ignition_on
            out.append(LinkChange(self.now(), "up" if self._up else "ignition_off", "by its key"))
        elif self._once and self._up:
            self._ask(self._once.pop(0), out)
            self.driver.advance(self.car.clock_s + 0.05)
        else:
            self.driver.advance(self.car.clock_s + self.step_s)
            for text in [text for text, (due, _) in self._due.items() if due <= self.now()] if self._up else ():
                self._due[text] = (self.now() + self._due[text][1], self._due[text][1])
                self._ask(text, out)

    def _ask(self, text: str, out: list[Arrival]) -> None:
        t = self.now()
        self._id += 1
        out.append(Request(t, self._id, text))
        if text == "ATRV":
            out.append(Reading(t, "adapter_v", 12.6))
            return
        replies = self.car.ask(bytes.fromhex(text))
        out += [Answer(t, self._id, reply.ecu, reply.payload) for reply in replies]
        if not replies:
            out.append(Outcome(t, self._id, "no_answer", "NO DATA"))

    def want(self, periods_s: Mapping[str, float]) -> None:
        self._due = {text: (self._due.get(text, (0.0, 0.0))[0], period_s) for text, period_s in periods_s.items()}

    def once(self, requests: Iterable[str]) -> None:
        self._once += requests

    def choose(self, made: Mapping[str, Any]) -> None:
        with self._lock:
            self._queue.append(Choice(self.now(), dict(made)))

    def now(self) -> float:
        return round(self.car.clock_s, 3)

    def close(self) -> None:
        pass


class CarFeed:
    """A feed that goes on until `hold` says so, and then stands still until it is told to go on."""

    def __init__(
        self,
        folder: Path,
        car: str = "small",
        profile: str = "spark_engine_off_leak",
        us: bool = True,
        label: str = "simulated, scripted",
        faults: tuple[str, ...] = (),
    ) -> None:
        self.label = label
        self.pace = 1.0
        self.progress = Progress()
        self.hold: Callable[[Drive], bool] = lambda drive: False
        self.calls: list[str] = []
        self.source = CarSource(make_car(car, faults=faults, seed=1, soaked_h=10))
        self.journal = folder / "drive.journal"
        self.drive = Drive(self.source, self._beginning(profile, us))
        self._going = False
        self._off_t = 0.0

    def _beginning(self, profile: str, us: bool) -> Beginning:
        return Beginning(
            label="simulated" if self.label else "live",
            program="test",
            began="2026-11-25T06:40:00+00:00",
            profile_text=a_profile,
            record=self._record,
            profile_id=profile,
            us=us,
            known={"soak_s": 36000.0, "soak_proof": "test"},
        )

    def _record(self, header: Header, context: Context) -> JournalWriter:
        return JournalWriter(self.journal, header, context)

    def open(self) -> None:
        self.source.start()
        self.source.car.key_on()

    def step(self) -> tuple[Happening, ...]:
        waits = self.drive.state == "driving" and not self._going and "go" not in self.calls
        self.source.held = waits or self.hold(self.drive)
        happened = self.drive.step(0.1)
        if self._going and self.drive.core is not None:
            self._steer()
        return happened

    def _steer(self) -> None:
        core = self.drive.core
        assert core is not None
        plan = core.plan()
        phase = None if core.stop.ended else current_phase(core, plan)
        self.source.driver.follow(cue_for(core, phase, drives_on(core, plan) and core.stop.ended is None))

    def go(self) -> None:
        self.calls.append("go")
        self._going = True

    def key_off(self) -> None:
        self.calls.append("key_off")
        self._going = False
        self.source.driver.follow(STAND)

    def may_read(self) -> bool:
        if self.source.car.ignition_on:
            self._off_t = self.source.now()
        return self.source.now() - self._off_t >= 12

    def key_on(self) -> None:
        self.calls.append("key_on")
        self.source.driver.follow(Cue("wait"))
        self.source.car.key_on()

    def path(self) -> Path | None:
        return self.journal if self.journal.exists() else None

    def morning(self) -> Feed | None:
        return None

    def close(self) -> None:
        self.calls.append("close")


class StillSource:
    """Nothing comes in but what the user chooses."""

    def __init__(self, t: float) -> None:
        self.info = Facts()
        self.t = t
        self._queue: queue.SimpleQueue[Arrival] = queue.SimpleQueue()

    def start(self) -> None:
        pass

    def arrivals(self, timeout_s: float) -> tuple[Arrival, ...]:
        try:
            return (self._queue.get(timeout=timeout_s) if timeout_s else self._queue.get_nowait(),)
        except queue.Empty:
            return ()

    def want(self, periods_s: Mapping[str, float]) -> None:
        pass

    def once(self, requests: Iterable[str]) -> None:
        pass

    def choose(self, made: Mapping[str, Any]) -> None:
        self._queue.put(Choice(self.t, dict(made)))

    def now(self) -> float:
        return self.t

    def close(self) -> None:
        pass


class StillFeed(CarFeed):
    """A recorded drive as it stood at `t`, gone on with: no time passes.

    `away_s`: the link has been lost for so long; `target`: what it is driven for, all monitors when none; `known`: what
    was known before it, beside what the recording has.
    """

    def __init__(
        self,
        folder: Path,
        recorded: Path,
        t: float,
        label: str = "simulated, scripted",
        away_s: float = 0.0,
        target: list[str] | None = None,
        known: Mapping[str, Any] | None = None,
    ) -> None:
        super().__init__(folder, label=label)
        self._target, self._known = target, known or {}
        self._recorded, self._away_s = recorded, away_s
        self.still = StillSource(t)
        self.drive = Drive(self.still, self._beginning("spark_engine_off_leak", True))

    def open(self) -> None:
        reader = open_journal(self._recorded)
        held = [arrival for arrival in reader.arrivals() if arrival.t <= self.still.t]
        self.still.t = held[-1].t + self._away_s
        assert reader.context is not None
        header = reader.header if self.label else msgspec.structs.replace(reader.header, source="live")
        profile, _ = profile_of(reader.context)
        known = {**(reader.context.known or {}), **self._known}
        context = msgspec.structs.replace(reader.context, target=self._target, known=known)
        link = LinkChange(self.still.t, "lost" if self._away_s else "up", "")
        self.drive.resume(header, context, profile, held, link)
        if self.drive.core is not None and not self._away_s:
            self.drive.core.feed(Choice(self.still.t, {"same_car": True}))  # as nobody answers, the user says so
        self.drive.link = link

    def step(self) -> tuple[Happening, ...]:
        return self.drive.step(STILL_S)


def opened(path: Path) -> tuple[list[Arrival], Core]:
    """A recording's arrivals, and a core that has seen none of them."""
    recording = open_recording(path)
    profile, _ = profile_of(recording.context)
    return list(recording.arrivals()), core_for(recording.context, recording.header, profile)


def at(t: float) -> Callable[[Drive], bool]:
    """Stand still from `t` on."""
    return lambda drive: drive.state == "driving" and drive.source.now() >= t


async def until(pilot: Pilot[Any], so: Callable[[], object]) -> None:
    """Let the app go on until it is so; the longest wait is a failure."""
    end = time.monotonic() + PATIENCE_S
    while not so():
        assert time.monotonic() < end, "it did not come to that"
        await asyncio.sleep(0.005)
    await pilot.pause()


def text_of(app: Any) -> str:
    """The screen as lines of text."""
    height = app.size.height
    strips = app.screen._compositor.render_strips()
    return "\n".join("".join(segment.text for segment in strip).rstrip() for strip in strips[:height])
