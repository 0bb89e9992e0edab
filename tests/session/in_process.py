"""A source without threads, ports or waiting: the simulated car asked by the product's own scheduler, in its own time.

Trouble is seeded: replies that get lost, lines that get spoiled, gaps in which the link is away.
"""

import random
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from coach.adapter.scheduler import Scheduler, answered_lengths
from coach.adapter.source import LinkInfo
from coach.car.arrivals import Answer, Arrival, Choice, LinkChange, Outcome, Reading, Request, Unparsed
from coach.simulator.answers import is_can
from coach.simulator.driver import Cue, Driver
from coach.simulator.simulated_car import SimulatedCar
from coach.simulator.vehicle import Reply
from coach.transport.assembly import EcuReply


@dataclass
class Misfortune:
    """Shares of questions that go wrong, and how often and how long the link is away, in seconds."""

    lost: float = 0.0
    spoiled: float = 0.0
    away_every_s: float | None = None
    away_s: float = 40.0


@dataclass
class InProcessSource:
    """The car at the wheel of `driver`, asked every `delay_s` seconds of its own time."""

    car: SimulatedCar
    driver: Driver
    delay_s: float = 0.1
    misfortune: Misfortune = field(default_factory=Misfortune)
    seed: int = 0
    info: LinkInfo | None = None
    _scheduler: Scheduler = field(default_factory=Scheduler)
    _ids: int = 0
    _began_s: float = field(init=False)
    _until_s: float = field(init=False)
    _pending: list[Arrival] = field(default_factory=list)
    _random: random.Random = field(init=False)
    _away_at_s: float | None = field(init=False)
    closed: bool = False
    truth: dict[str, tuple[Reply, ...]] = field(default_factory=dict)
    """What the car answered when each question was put last, before anything was lost."""

    def __post_init__(self) -> None:
        self._began_s = self._until_s = self.car.clock_s
        self._random = random.Random(self.seed)
        self._away_at_s = self.misfortune.away_every_s

    # ------------------------------------------------------------ what a session needs

    def start(self) -> None:
        """The link comes up at once."""
        self.info = LinkInfo("in-process", self.car.bus, is_can(self.car.bus))
        self._scheduler.restart(self.now(), is_can(self.car.bus))
        self._pending.append(LinkChange(self.now(), "up", "the car answers"))

    def want(self, periods_s: Mapping[str, float]) -> None:
        self._scheduler.want(periods_s, self.now())

    def once(self, requests: Iterable[str]) -> None:
        self._scheduler.once(requests)

    def choose(self, made: Mapping[str, Any]) -> None:
        self._pending.append(Choice(self.now(), dict(made)))

    def now(self) -> float:
        return round(self.car.clock_s - self._began_s, 3)

    def close(self) -> None:
        self.closed = True

    def arrivals(self, timeout_s: float) -> tuple[Arrival, ...]:
        """What comes in while the car lives on for `timeout_s` of its own time; nothing moves once it is closed."""
        end = self.now() + timeout_s
        while not self.closed and self.now() < end:
            self._maybe_away()
            self._live(self.delay_s)
            ask = self._scheduler.next(self.now())
            if ask is not None:
                self._one(ask)
        out, self._pending = tuple(self._pending), []
        return out

    # ------------------------------------------------------------ one question

    def _live(self, seconds: float) -> None:
        self._until_s = max(self._until_s, self.car.clock_s) + seconds
        self.driver.advance(self._until_s)

    def _maybe_away(self) -> None:
        if self._away_at_s is None or self.now() < self._away_at_s:
            return
        self._pending.append(LinkChange(self.now(), "lost", "out of range"))
        self._live(self.misfortune.away_s)
        self._pending.append(LinkChange(self.now(), "up", "the car answers"))
        self._away_at_s = self.now() + (self.misfortune.away_every_s or 0.0)

    def _one(self, ask: Any) -> None:
        self._ids += 1
        t, number = self.now(), self._ids
        self._pending.append(Request(t, number, ask.text))
        if ask.text == "ATRV":
            self._pending.append(Reading(t, "adapter_v", round(self.car.battery_v, 1)))
            self._scheduler.report(ask, t, "value", {"ATRV": 1})
            return
        replies = self.car.ask(bytes.fromhex(ask.text))
        self.truth[ask.text] = replies
        kept = [reply for reply in replies if self._random.random() >= self.misfortune.lost]
        spoiled = [reply for reply in kept if self._random.random() < self.misfortune.spoiled]
        good = [reply for reply in kept if reply not in spoiled]
        self._pending += [Answer(t, number, reply.ecu, reply.payload) for reply in good]
        if spoiled:
            self._pending.append(Unparsed(t, number, tuple(f"{r.ecu} {r.payload.hex()[:-1]}?" for r in spoiled)))
        values = [reply for reply in good if reply.payload[0] != 0x7F]
        self._end(ask, t, number, values, bool(spoiled), bool(good))

    def _end(self, ask: Any, t: float, number: int, values: list[Reply], spoiled: bool, heard: bool) -> None:
        outcome: Any = "value" if values else ("garbled" if spoiled else ("refused" if heard else "no_answer"))
        if outcome != "value":
            self._pending.append(Outcome(t, number, outcome, outcome))
        lengths = answered_lengths(ask, [EcuReply(reply.ecu, reply.payload) for reply in values])
        self._scheduler.report(ask, t, outcome, lengths)


def wait_and_stand(driver: Driver) -> None:
    """The driver stops and leaves the key alone."""
    driver.follow(Cue("wait"))
