"""The live source: one owner thread asks the car and posts arrivals into a queue; it concludes nothing.

States and what may move them:
  away  -> up         the adapter answers and the car gives a well-formed 41 00
  away  -> no_car | ...   the adapter answers, and there is no car to read: `coach.adapter.absence` has the reasons
  up    -> no_car | ...   several questions in a row without a value, and none to 0100 either
  up | no_car | ... -> lost    the adapter gone, silent, out of step; or this computer slept
Every change is one LinkChange arrival, with the reason; the same state is not told twice. After "lost" a new link is
made, with longer and longer pauses.
"""

import queue
import threading
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from msgspec import Struct

from coach.adapter.errors import AdapterError, Cancelled, LinkLost, NoCar
from coach.adapter.exchange import Exchange, unasked_arrivals
from coach.adapter.link import Link, connect
from coach.adapter.scheduler import Ask, Scheduler, answered_lengths
from coach.adapter.wire import Deadlines, Wire
from coach.car.arrivals import Arrival, Choice, LinkChange, LinkState, Outcome, Reading, Request

VOLTAGE = "ATRV"
"""The adapter's own reading of the voltage may be wanted like a question to the car."""
GRACE_S = 0.2  # our judgement: twice what an answer takes over Bluetooth


def sleepless_clock() -> float:
    """Seconds of a clock that goes on while the computer sleeps, where the system has one."""
    clock_id = getattr(time, "CLOCK_BOOTTIME", None)
    return time.monotonic() if clock_id is None else time.clock_gettime(clock_id)


class Patience(Struct, frozen=True):
    """How the source behaves when things go wrong; all ours, all in seconds unless they count."""

    failures: int = 3
    """Questions in a row without any value before the car is looked for: one may be a PID it lacks, two bad luck."""
    look_again_s: float = 2.0
    """Between two looks for a car that is silent: soon enough for a key turned on, seldom enough for its battery."""
    first_retry_s: float = 0.5
    longest_retry_s: float = 10.0
    """Between two tries for an adapter that is away: doubled each time, at most this."""
    asleep_s: float = 15.0
    """No step of the loop takes as long; if the clock moved on by more, the computer slept."""
    idle_s: float = 0.2
    """Longest wait when nothing is due; a new wish is seen after it at the latest."""


class LinkInfo(Struct, frozen=True):
    """What a journal's header says of the link."""

    adapter: str
    protocol: str
    can: bool


class LiveSource:
    """Arrivals from the car on the line. `want` what is to be asked, `start`, take `arrivals`, `close`."""

    def __init__(
        self,
        port: str,
        *,
        baud: int | None = None,
        protocol: str | None = None,
        clock: Callable[[], float] = sleepless_clock,
        deadlines: Deadlines | None = None,
        patience: Patience | None = None,
        progress: Callable[[str], None] | None = None,
        connect: Callable[..., Link] = connect,
        pace: float = 1.0,
        start_s: float = 0.0,
        first_id: int = 1,
    ) -> None:
        """`pace`: seconds of the clock in one real second.

        `start_s`, `first_id`: where a drive that was broken off goes on, in seconds and number of the question.
        """
        self.port = port
        self.info: LinkInfo | None = None
        """What the link is; none before the car first answered."""
        self._settings: dict[str, Any] = {"baud": baud, "progress": progress, "deadlines": deadlines}
        self._protocol = protocol
        self._connect = connect
        self._clock = clock
        self._pace = pace
        self._began = clock() - start_s
        self._patience = patience or Patience()
        self._queue: queue.SimpleQueue[Arrival] = queue.SimpleQueue()
        self._stop = threading.Event()
        self._wake = threading.Event()
        self._lock = threading.Lock()
        self._scheduler = Scheduler()
        self._wire: Wire | None = None
        self._told: LinkState | None = None
        self._last_t = start_s
        self._last_id = first_id - 1
        self._put_lock = threading.Lock()
        self._failed_connects = 0
        self._thread = threading.Thread(target=self._run, name="live link", daemon=True)
        self.failure: BaseException | None = None
        """What ended the thread before its time; none while all is well. Told as a lost link too."""

    # ------------------------------------------------------------ from other threads

    def want(self, periods_s: Mapping[str, float]) -> None:
        """What is wanted how often: request in hex to seconds. Replaces the former wishes."""
        with self._lock:
            self._scheduler.want(periods_s, self._now())
        self._wake.set()

    def once(self, requests: Iterable[str]) -> None:
        """Ask these once each, before everything else."""
        with self._lock:
            self._scheduler.once(requests)
        self._wake.set()

    def choose(self, made: Mapping[str, Any]) -> None:
        """A choice of the user takes its place among the arrivals."""
        self._put([Choice(self._now(), dict(made))])

    def start(self) -> None:
        """Begin to connect and to ask."""
        self._thread.start()

    def arrivals(self, timeout_s: float) -> tuple[Arrival, ...]:
        """Everything that came in, in order; waits up to `timeout_s` seconds for the first."""
        found: list[Arrival] = []
        try:
            found.append(self._queue.get(timeout=timeout_s) if timeout_s > 0 else self._queue.get_nowait())
            while True:
                found.append(self._queue.get_nowait())
        except queue.Empty:
            return tuple(found)

    def now(self) -> float:
        """Seconds since this source was made, to the millisecond."""
        return self._now()

    def close(self) -> None:
        """Stop asking and close the port; takes a second or so at most."""
        self._stop.set()
        self._wake.set()
        if self._thread.is_alive():
            self._thread.join(GRACE_S)  # a question that is being answered may end, so that the bus is let go
        wire = self._wire
        if wire is not None:
            wire.cancel()
        if self._thread.is_alive():
            self._thread.join(1.0)  # python-OBD sleeps a second after a reset, and cannot be woken

    # ------------------------------------------------------------ the owner thread

    def _run(self) -> None:
        try:
            while not self._stop.is_set():
                try:
                    self._once_around()
                except Cancelled:
                    return
                except AdapterError as error:
                    self._away(error)
        except BaseException as error:
            self.failure = error
            self._change("lost", f"a fault of this program: {type(error).__name__}: {error}")
            raise

    def _once_around(self) -> None:
        """One life of a link: connect, wait for the car, ask until something breaks."""
        link = self._connect(self.port, protocol=self._protocol, clock=self._now, opened=self._opened, **self._settings)
        try:
            link.identify()
            self._failed_connects = 0
            self._await_car(link)
            while not self._stop.is_set():
                self._ask_until_silent(link)
                self._await_car(link)
        finally:
            self._wire = None
            self._post_heard(link)
            self._put(unasked_arrivals(self._now(), link.beside()))
            link.close()

    def _opened(self, wire: Wire) -> None:
        self._wire = wire
        if self._stop.is_set():
            wire.cancel()

    def _away(self, error: AdapterError) -> None:
        """The adapter is not there: say so once, then wait, longer each time."""
        if isinstance(error, LinkLost) and error.exchange is not None:
            self._post(error.exchange)
        self._change("lost", str(error))
        patience = self._patience
        self._stop.wait(min(patience.longest_retry_s, patience.first_retry_s * 2**self._failed_connects))
        self._failed_connects = min(self._failed_connects + 1, 10)

    def _await_car(self, link: Link) -> None:
        """Post what proves the car, or say why it is not there and look again until it is."""
        tries = 0
        while not self._stop.is_set():
            if link.state == "car":
                self._up(link)
                return
            self._post_heard(link)
            try:
                link.require_car()
            except NoCar as why:
                self._change(why.state, str(why))
            tries += 1
            self._pause(link, self._patience.look_again_s)
            if tries > self._patience.failures:
                link.protocol = self._protocol = None  # another car, or a bus that has to be found afresh
            link.look()

    def _up(self, link: Link) -> None:
        self._protocol = link.protocol
        self.info = LinkInfo(link.adapter, link.protocol_name, link.can)
        with self._lock:
            self._scheduler.restart(self._now(), link.can)
        self._change("up", f"the car answers, {link.adapter}")
        self._post_heard(link)

    def _ask_until_silent(self, link: Link) -> None:
        """Ask what is due until several questions in a row brought nothing and 0100 brings nothing either."""
        failures = 0
        seen_t = self._now()
        while not self._stop.is_set():
            now = self._now()
            if now - seen_t > self._patience.asleep_s:
                raise Asleep(now - seen_t)
            seen_t = now
            with self._lock:
                ask = self._scheduler.next(now)
                wait_s = self._scheduler.wait_s(now)
            if ask is None:
                self._rest(link, min(self._patience.idle_s, self._patience.idle_s if wait_s is None else wait_s))
                continue
            if ask.text == VOLTAGE:
                self._ask_voltage(link, ask)
                continue
            exchange = link.ask(ask.text)
            self._post(exchange)
            self._report(ask, exchange)
            failures = failures + 1 if exchange.outcome in ("no_answer", "garbled") else 0
            if failures >= self._patience.failures:
                failures = 0
                if not self._still_there(link):
                    return

    def _ask_voltage(self, link: Link, ask: Ask) -> None:
        """The adapter's own reading of the connector's voltage: a request of its own, and a reading."""
        self._last_id += 1
        request = Request(self._now(), self._last_id, VOLTAGE)
        volts = link.voltage()
        told: Arrival = Outcome(self._now(), self._last_id, "no_answer", "the adapter does not measure it")
        if volts is not None:
            told = Reading(self._now(), "adapter_v", volts)
        self._put([request, told])
        with self._lock:
            lengths = {VOLTAGE: 1} if volts is not None else {}
            self._scheduler.report(ask, self._now(), "value" if lengths else "no_answer", lengths)

    def _still_there(self, link: Link) -> bool:
        """Look for the car. Rubbish is no silence: it is the adapter that is out of order then."""
        found = link.look()
        self._post_heard(link)
        if found in ("unreadable", "adapter_error"):
            try:
                link.require_car()
            except NoCar as why:
                raise LinkLost(why.happened, why.remedy) from why
        return found == "car"

    def _post_heard(self, link: Link) -> None:
        """What came of every look for the car since the last time."""
        while link.heard:
            self._post(link.heard.pop(0))

    def _pause(self, link: Link, seconds: float) -> None:
        """Wait; closing ends it, gently, and so does a cancel."""
        self._stop.wait(seconds / self._pace)
        link.wire.pause(0.0)

    def _rest(self, link: Link, seconds: float) -> None:
        """Nothing is due: wait, but a new wish ends it at once."""
        self._wake.wait(seconds / self._pace)
        self._wake.clear()
        link.wire.pause(0.0)

    def _report(self, ask: Ask, exchange: Exchange) -> None:
        lengths = answered_lengths(ask, exchange.good)
        own = [reply.payload for reply in exchange.replies if reply not in exchange.strays]
        codes = [payload[2] for payload in own if payload[0] == 0x7F and len(payload) == 3]
        with self._lock:
            self._scheduler.report(ask, self._now(), exchange.outcome, lengths, codes, exchange.why)

    # ------------------------------------------------------------ into the queue

    def _now(self) -> float:
        return round(max(0.0, self._clock() - self._began), 3)

    def _change(self, state: LinkState, why: str) -> None:
        if state != self._told:
            self._told = state
            self._put([LinkChange(self._now(), state, why)])

    def _post(self, exchange: Exchange) -> None:
        self._last_id += 1
        self._put(exchange.arrivals(self._last_id))

    def _put(self, arrivals: Sequence[Arrival]) -> None:
        """Times never run backwards in the queue, whichever thread puts; what comes together stays together."""
        with self._put_lock:
            for arrival in arrivals:
                if arrival.t < self._last_t:
                    arrival = _dated(arrival, self._last_t)
                self._last_t = arrival.t
                self._queue.put(arrival)


class Asleep(AdapterError):
    """The computer slept: what the adapter knows may be old, so the link is made anew."""

    def __init__(self, seconds: float) -> None:
        super().__init__(f"This computer was asleep for {seconds:.0f} s.", "The drive goes on by itself.")


def _dated(arrival: Arrival, t: float) -> Arrival:
    fields = {name: getattr(arrival, name) for name in arrival.__struct_fields__}
    return type(arrival)(**{**fields, "t": t})
