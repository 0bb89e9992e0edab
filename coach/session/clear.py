"""Clearing the memory of every ECU: read out, saved, warned, typed, sent once, looked at again. The only user of 04.

States and what may move them:
  reading  -> saved      the whole read-out is in a journal of its own, with its last line
  saved    -> refused    engine running, car moving, low battery, or one of them cannot be told
  saved    -> left       the word was not typed
  saved    -> sent       service 04, once
  sent     -> verified   every ECU was read again: see `coach.inspection.cleared`
Everything that comes in is in the journals; the verdict on it is drawn from them again by anyone.
"""

import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Literal

from coach import __version__
from coach.adapter.errors import AdapterError, LinkLost
from coach.adapter.exchange import Exchange
from coach.adapter.link import Link, connect
from coach.adapter.source import sleepless_clock
from coach.adapter.wire import Deadlines
from coach.car.arrivals import Arrival, Choice, LinkChange, Outcome, Reading, Request
from coach.car.car import Car
from coach.car.concluding import FOREIGN
from coach.car.known import known_after
from coach.car.readout import units_of
from coach.inspection.cleared import WORD, EcuCleared, Hurdle, Loss, cleared_ecus, whole
from coach.journal.errors import JournalError
from coach.journal.records import Context, Header
from coach.journal.writer import JournalWriter
from coach.session.next_drive import after_clear_words
from coach.session.questions import FINDINGS, offers, readout
from coach.session.reading import fold_all
from coach.session.source import label_of

LOWEST_V = 11.9  # 11.89 V at rest is flat (table at `before.REST_LOW_V`); a control unit may fail while it writes
AFTER_CLEAR = ("0100", *FINDINGS, "0130", "0131", "014E")
COUNTED = (0x08, 0x0B)  # in-use counters: a clear leaves them, and from them the night's soak is proved
SETTLE_S = 1.0  # our judgement: control units take a moment to write; read at once, some still show the old state
TRIES = 3  # our judgement: readings after the clear before a unit that still shows its old state is believed
RUNNING_RPM = 50.0  # our judgement: a standing engine reads zero; far below the starter's speed

State = Literal["refused", "left", "cleared", "not_cleared", "cannot_say"]


@dataclass(slots=True)
class Cleared:
    """How it ended. `refusal`: what each ECU answered that did not confirm, as (address, words).

    `unrecorded`: why the journal of the clear could not be written to its end, empty when it was.
    """

    state: State
    hurdles: tuple[Hurdle, ...] = ()
    loss: Loss | None = None
    ecus: tuple[EcuCleared, ...] = ()
    permanent: tuple[str, ...] | None = None
    refusal: tuple[tuple[str, str], ...] = ()
    before_path: Path | None = None
    clear_path: Path | None = None
    unrecorded: str = ""
    before: Car = field(default_factory=Car)
    after: Car = field(default_factory=Car)


@dataclass(frozen=True, slots=True)
class Wanted:
    """Where and how. `paths`: gives the journals' names, for "before" and "clear"."""

    port: str
    paths: Callable[[Literal["before", "clear"]], Path]
    baud: int | None = None
    protocol: str | None = None
    label: Literal["live", "simulated"] = "live"
    deadlines: Deadlines | None = None
    settle_s: float = SETTLE_S
    now: Callable[[], datetime] = lambda: datetime.now(UTC).astimezone()
    """The wall clock, for the journals' headers."""


def clear(
    wanted: Wanted,
    confirm: Callable[[Loss], str],
    progress: Callable[[str], None],
    clock: Callable[[], float] = sleepless_clock,
) -> Cleared:
    """The whole way. `confirm` shows the loss, asks, and returns what was typed; with hurdles it is not called.

    AdapterError when the link fails, OSError or JournalError when nothing can be saved: an error means that nothing was
    sent. Whatever happens after the command, a stop by the user too, is in what comes back.
    """
    link = connect(
        wanted.port,
        baud=wanted.baud,
        protocol=wanted.protocol,
        progress=progress,
        clock=clock,
        deadlines=wanted.deadlines,
        allow_clear=True,
    )
    try:
        link.identify()
        link.require_car()
        progress("reading the car out; this is kept")
        before_path = wanted.paths("before")
        with _Recorded(link, before_path, wanted.label, wanted.now()) as asking:
            asking.all(readout)
        done = Cleared("left", before=asking.car, before_path=before_path)
        done.loss, done.hurdles = _loss(done.before), tuple(_hurdles(done.before))
        if done.hurdles:
            done.state = "refused"
            return done
        if confirm(done.loss).strip().lower() != WORD:
            return done
        _send(link, wanted, done, progress)
        return done
    finally:
        with suppress(KeyboardInterrupt):  # a second stop must not hide what the command did
            link.close()


# ---------------------------------------------------------------- before


def _loss(car: Car) -> Loss:
    ecus = tuple(car.ecus.values())
    said, told = units_of(car), car.conclude().codes
    volts = car.values.get("module_v", car.values.get("adapter_v"))
    return Loss(
        lost_monitors=tuple(sorted({m for ecu in ecus if ecu.readiness for m in ecu.readiness.complete})),
        stored=told["stored"].said,
        pending=told["pending"].said,
        frozen_by=tuple(one.frozen_by for one in said if one.frozen_by is not None),
        has_tests=any(one.tests for one in said),
        permanent=told["permanent"].said,
        has_counters=any(one.in_use is not None for one in said),
        voltage_v=volts,
        fuel_pct=car.values.get("fuel_level_pct"),
        after_clear=after_clear_words(car),
        signs=car.signs.copy(),
        uncertain=frozenset(_uncertain(car)),
    )


def _uncertain(car: Car) -> Iterator[str]:
    if None in car.monitor_states().values():
        yield "readiness"
    yield from (kind for kind in ("stored", "pending", "permanent") if car.codes(kind) is None)


def _same_car(car: Car) -> Iterator[Hurdle]:
    """Only the car that was read out is cleared: what is lost was told of that one."""
    whose = car.signs.state
    if whose in FOREIGN:
        yield Hurdle("another_car" if whose != "unproved" else "car_unproved")


def _hurdles(car: Car) -> Iterator[Hurdle]:
    """Unknown is no permission: an engine or a speed nobody told keeps the command back too."""
    rpm, speed = car.values.get("rpm"), car.values.get("speed_kmh")
    volts = car.values.get("module_v", car.values.get("adapter_v"))
    if rpm is None:
        yield Hurdle("engine_unknown")
    elif rpm > RUNNING_RPM:
        yield Hurdle("engine_running", rpm, RUNNING_RPM)
    if speed is None:
        yield Hurdle("speed_unknown")
    elif speed > 0:
        yield Hurdle("moving", speed, 0.0)
    if volts is not None and volts < LOWEST_V:
        yield Hurdle("battery_low", volts, LOWEST_V)


# ---------------------------------------------------------------- the command and after it


def _send(link: Link, wanted: Wanted, done: Cleared, progress: Callable[[str], None]) -> None:
    """Look once more at engine and speed, send 04 once, then read every ECU until it shows the clear."""
    path = wanted.paths("clear")
    asking = _Recorded(link, path, wanted.label, wanted.now())
    done.clear_path, done.after = path, asking.car
    with asking:
        _look_and_send(asking, done, progress, wanted.settle_s)
    done.unrecorded = asking.unwritten


def _look_and_send(asking: "_Recorded", done: Cleared, progress: Callable[[str], None], settle_s: float) -> None:
    asking.choose({"typed": WORD})
    asking.car.remember(known_after(done.before))  # what was read out a moment ago; the typed word may have taken hours
    asking.all(lambda car: iter((*car.signs.wanted, "010C", "010D")))
    done.hurdles = (*_same_car(asking.car), *_hurdles(asking.car))
    if done.hurdles:
        done.state = "refused"
        return
    progress("clearing every control unit")
    done.state = "cannot_say"  # from here on a lost link leaves it open what was cleared
    try:
        _clear_and_look(asking, done, progress, settle_s)
    except (AdapterError, KeyboardInterrupt) as error:
        progress(str(error) or "stopped")
        return
    with suppress(AdapterError, KeyboardInterrupt):  # what it did is known by now
        asking.all(lambda _car: iter(f"09{item:02X}" for item in COUNTED if offers(done.before, 0x09, item)))
    result = whole(done.ecus)
    done.state = "not_cleared" if result is False else "cannot_say"
    found = done.after.conclude()
    if result and found.clear.state == "proved" and found.identity not in FOREIGN:
        done.state = "cleared"
    done.permanent = done.after.codes("permanent")


def _clear_and_look(asking: "_Recorded", done: Cleared, progress: Callable[[str], None], settle_s: float) -> None:
    asking.must_write = False  # a full disk must not keep anybody from knowing what the command did
    sent = asking.ask("04")
    confirmed = frozenset(reply.ecu for reply in sent.good if reply.payload[:1] == b"\x44")
    done.refusal = tuple(
        (reply.ecu, f"{reply.payload[2]:02X}")
        for reply in sent.replies
        if len(reply.payload) == 3 and reply.payload[0] == 0x7F and reply.payload[2] != 0x78
    )
    progress("reading every control unit again")
    done.ecus = _verify(asking, done.before, confirmed, settle_s)
    asking.all(lambda car: iter(car.signs.wanted))  # whose words these were: the plug may have been moved meanwhile


def _verify(asking: "_Recorded", before: Car, confirmed: frozenset[str], settle_s: float) -> tuple[EcuCleared, ...]:
    ecus: tuple[EcuCleared, ...] = ()
    for _ in range(TRIES):
        time.sleep(settle_s)
        asking.all(lambda _car: iter(AFTER_CLEAR))
        ecus = cleared_ecus(before, asking.car, confirmed)
        if whole(ecus):
            break
    return ecus


class _Recorded:
    """Asks on a link, one question after the other; whatever comes of it is written, then folded into `car`."""

    def __init__(self, link: Link, path: Path, label: Literal["live", "simulated"], now: datetime) -> None:
        began = now.isoformat(timespec="seconds")
        header = Header(
            1, label_of(link.adapter, label), __version__, began, link.adapter, link.protocol_name, link.can
        )
        self.car = Car()
        self.car.can = link.can
        self._link = link
        self._began_s = link.wire.clock()
        self._last_id = 0
        self._last_t = 0.0
        self.must_write = True
        """Whether what cannot be written ends it; after the command nothing does."""
        self.unwritten = ""
        self._journal = JournalWriter(path, header, Context())
        self._take((LinkChange(0.0, "up", f"the car answers, {link.adapter}"),))
        while link.heard:  # while the car was looked for
            self._last_id += 1
            self._take(link.heard.pop(0).arrivals(self._last_id))

    def __enter__(self) -> "_Recorded":
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        self._kept(partial(self._journal.close, "done" if kind is None else "interrupted"))

    def _kept(self, write: Callable[[], None]) -> None:
        try:
            write()
        except (JournalError, OSError) as error:
            if self.must_write:
                raise
            self.unwritten = self.unwritten or str(error)

    def all(self, questions: Callable[[Car], Iterator[str]]) -> None:
        """Ask all of them; each is chosen when the one before has been folded."""
        for text in questions(self.car):
            if text == "ATRV":
                self._voltage()
            else:
                self.ask(text)

    def ask(self, text: str) -> Exchange:
        """One question."""
        self._last_id += 1
        try:
            exchange = self._link.ask(text)
        except LinkLost as error:
            if error.exchange is not None:
                self._take(error.exchange.arrivals(self._last_id))
            raise
        self._take(exchange.arrivals(self._last_id))
        return exchange

    def choose(self, made: dict[str, str]) -> None:
        """What the user did takes its place among the arrivals."""
        self._take((Choice(self._last_t, made),))

    def _voltage(self) -> None:
        self._last_id += 1
        asked = Request(self._link.wire.clock(), self._last_id, "ATRV")
        volts, t = self._link.voltage(), self._link.wire.clock()
        told: Arrival = Outcome(t, self._last_id, "no_answer", "the adapter does not measure it")
        self._take((asked, told if volts is None else Reading(t, "adapter_v", volts)))

    def _take(self, arrivals: tuple[Arrival, ...]) -> None:
        """Times count from the journal's beginning and never run backwards."""
        dated = tuple(self._dated(arrival) for arrival in arrivals)
        for arrival in dated:
            self._kept(partial(self._journal.write, arrival))
        fold_all(self.car, dated)

    def _dated(self, arrival: Arrival) -> Arrival:
        t = arrival.t if isinstance(arrival, Choice | LinkChange) else arrival.t - self._began_s
        self._last_t = max(self._last_t, round(t, 3))
        fields = {name: getattr(arrival, name) for name in arrival.__struct_fields__}
        return type(arrival)(**{**fields, "t": self._last_t})
