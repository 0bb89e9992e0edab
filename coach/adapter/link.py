"""The link to one adapter: set-up through python-OBD, then questions of our own over the same wire.

Used by one thread. States: no_car (only the adapter answers), ignition_off (it has the car's power, the car is silent),
car. "car" is never remembered from the set-up: it takes a well-formed 41 00.
"""

import re
import time
from collections.abc import Callable
from typing import Literal

from msgspec import structs

from coach.adapter.allowed import check_allowed
from coach.adapter.errors import CarSilent, IgnitionOff, LinkLost, NoAdapter, NotAllowed, OnlyNewerDiagnostics
from coach.adapter.exchange import Exchange
from coach.adapter.face import Face, Progress, guess_protocol, silent
from coach.adapter.setup import has_speed, negotiate, probe_baud
from coach.adapter.wire import Deadlines, Raw, Wire, open_transport
from coach.transport.assembly import CAN, KNOWN, NAMES
from coach.transport.frames import Judged, judge, split_lines

CarState = Literal["car", "ignition_off", "no_car"]
POWERED_V = 6.0  # common practice, also python-OBD's limit: below it the connector carries no car's battery
SYNC_TRIES = 3  # our judgement: the first may be eaten by what the adapter was doing, the second may meet its echo
REASK_S = 0.1  # our judgement: between two questions while a response is pending
ASLEEP_S = 10.0  # our judgement: no exchange lasts this long, so the computer slept within it
_VOLTS = re.compile(r"(\d{1,2}[.,]\d)\s*V?", re.IGNORECASE)


def connect(
    port: str,
    *,
    baud: int | None = None,
    protocol: str | None = None,
    progress: Progress | None = None,
    clock: Callable[[], float] = time.monotonic,
    deadlines: Deadlines | None = None,
    allow_clear: bool = False,
    opened: Callable[[Wire], None] | None = None,
) -> "Link":
    """Open the port, set the adapter up, find the car. AdapterError when no adapter answers; `Link.state` for the car.

    `protocol`: the adapter's number "1" to "9" when it is known, which saves the search. `opened` is handed the wire as
    soon as there is one, so that another thread can cancel.
    """
    say = progress or silent
    say(f"opening {port}")
    wire = Wire(open_transport(port, baud or 38400), clock, deadlines, allow_clear=allow_clear)
    try:
        if opened is not None:
            opened(wire)
        if baud is None and has_speed(port):
            probe_baud(wire, port, say)
        face, found = negotiate(wire, port, protocol, say)
        link = Link(wire, port, found, allow_clear=allow_clear)
        link.begin(face)
        say("the car answers" if link.state == "car" else "the adapter answers, the car does not")
        return link
    except BaseException:
        wire.close()
        raise


class Link:
    """A set-up adapter. `protocol` is its number for the transport, none while no car was found."""

    def __init__(self, wire: Wire, port: str, protocol: str | None, *, allow_clear: bool = False) -> None:
        self.wire = wire
        self.port = port
        self.protocol = protocol
        self.adapter = ""
        """What the adapter says it is."""
        self.state: CarState = "no_car"
        self.first: Exchange | None = None
        """The exchange of 0100 that proved the car, or the last that failed to."""
        self._echo_stays = False
        self._automatic = False
        self._allow_clear = allow_clear
        self._padding: frozenset[str] = frozenset()
        self._mixed: frozenset[str] = frozenset()
        self._short: dict[str, tuple[str, ...]] = {}
        self._before: list[str] = []
        self._said = ""
        self._voltage_v: float | None = None

    @property
    def protocol_name(self) -> str:
        """The transport's name as the trade writes it; empty while it is not known."""
        return NAMES.get(self.protocol or "", "")

    @property
    def can(self) -> bool:
        """Whether the car speaks CAN."""
        return self.protocol in CAN

    # ------------------------------------------------------------ asking

    def ask(self, text: str) -> Exchange:
        """Put one question. Never raises for what the car says; LinkLost when the adapter is gone or out of step."""
        text = check_allowed(text, self._allow_clear)
        if text.startswith("AT"):
            raise NotAllowed(text)
        if self.wire.waiting():
            self._before += self._stray(self.wire.drain())
            self._synchronise()
        before, self._before = tuple(self._before), []
        started_t = self.wire.clock()
        try:
            raw, judged, lines = self._until_final(text)
        except LinkLost as error:
            now = self.wire.clock()
            error.exchange = Exchange(text, "no_answer", error.happened, (), (), (), before, (), started_t, now, now)
            raise
        judged = self._unless_asleep(raw, judged, lines)
        exchange = _exchange(text, raw, judged, lines, before)
        if judged.clean:
            return exchange
        try:
            late = self._put_right(judged)
        except LinkLost as error:
            error.exchange = exchange
            raise
        return structs.replace(exchange, unparsed=(*exchange.unparsed, *late))

    def _until_final(self, text: str) -> tuple[Raw, Judged, tuple[str, ...]]:
        """Ask, and ask again while a response stays pending, all within one deadline."""
        ends = time.monotonic() + self.wire.deadlines.pending_s
        raw, judged, lines = self._once(text)
        while judged.pending and not judged.good and ends - time.monotonic() > 2 * REASK_S:
            self.wire.pause(REASK_S)
            again, judged, more = self._once(text, judged, ends - time.monotonic())
            raw, lines = Raw(again.data, again.prompt, raw.started_t, again.heard_t, again.ended_t), lines + more
        return raw, judged, lines

    def _once(
        self, text: str, before: Judged | None = None, longest_s: float | None = None
    ) -> tuple[Raw, Judged, tuple[str, ...]]:
        raw = self.wire.exchange(text, longest_s=longest_s)
        lines, prompt = split_lines(raw.data)
        heard = lines[1:] if self._echo_stays and lines and lines[0].replace(" ", "").upper() == text else lines
        judged = self._judge(heard, text, prompt)
        if before is not None:
            replies = tuple(dict.fromkeys((*before.replies, *judged.replies)))
            judged = Judged(
                judged.outcome,
                judged.why,
                replies,
                judged.good,
                (*before.unparsed, *judged.unparsed),
                judged.pending,
                judged.padding,
                False,
                judged.reset or before.reset,
            )
        return raw, judged, lines

    def _judge(self, lines: tuple[str, ...], text: str, prompt: bool) -> Judged:
        """Judge, and learn which ECUs fill their frames; one whose frame is short twice alike fills only some."""
        protocol = self.protocol or "6"
        judged = judge(lines, text, protocol, prompt=prompt, padding=self._padding)
        self._padding = judged.padding - self._mixed
        if judged.outcome != "garbled" or not judged.padding:
            self._short.pop(text, None)
            return judged
        loose = judge(lines, text, protocol, prompt=prompt)
        if not (loose.good and loose.clean):
            return judged
        if self._short.get(text) != lines:
            self._short[text] = lines
            return judged
        self._mixed |= {reply.ecu for reply in loose.good}
        self._padding -= self._mixed
        return loose

    @staticmethod
    def _unless_asleep(raw: Raw, judged: Judged, lines: tuple[str, ...]) -> Judged:
        """An answer from before the computer slept has no time: its lines are kept, its values are not."""
        if raw.ended_t - raw.started_t < ASLEEP_S:
            return judged
        why = "the computer was asleep while the answer came"
        return Judged("garbled", why, (), (), lines or (why,), (), judged.padding, False, judged.reset)

    # ------------------------------------------------------------ keeping in step

    def _put_right(self, judged: Judged) -> tuple[str, ...]:
        """After anything odd: whatever still comes belongs to the old question; then both sides start afresh."""
        late = self._stray(self.wire.drain())
        late += self._synchronise()
        if judged.reset:
            self._set_up_again()
        return tuple(late)

    def _synchronise(self) -> list[str]:
        """Send a command that changes nothing until it is answered properly; returns what came in besides."""
        strays: list[str] = []
        for _ in range(SYNC_TRIES):
            raw = self.wire.exchange("ATE0", min(self.wire.deadlines.setup_s, 1.0))
            lines, prompt = split_lines(raw.data)
            others = [line for line in lines if line.upper().replace(" ", "") not in ("OK", "ATE0", "STOPPED")]
            strays += others
            rest = self._stray(self.wire.drain())
            strays += rest
            if prompt and not others and not rest and lines and lines[-1].upper() == "OK":
                return strays
        raise LinkLost(
            "The adapter answers rubbish, or nothing." if strays else "The adapter has fallen silent.",
            "Unplug it, wait a moment, plug it in again.",
        )

    def _set_up_again(self) -> None:
        """The adapter rebooted: tell it again what it forgot."""
        self._automatic = False
        for command in ("ATE0", "ATL0", "ATH1", f"ATTP{self.protocol}" if self.protocol in KNOWN else "ATSP0"):
            self.wire.exchange(command, self.wire.deadlines.setup_s)

    @staticmethod
    def _stray(data: bytes) -> list[str]:
        lines = split_lines(data)[0] if data else ()
        return [line for line in lines if line.upper() not in ("OK", "STOPPED")]

    # ------------------------------------------------------------ the car and its power

    def begin(self, face: Face) -> CarState:
        """Take over from the set-up. A transport that was only remembered is doubted when nobody answers on it."""
        self._echo_stays = face.echo_stays
        if not face.in_step:
            self._before += self._synchronise()
        remembered = self.protocol
        if self.look("" if remembered else face.said_to_0100) != "car" and remembered is not None:
            self.protocol = None
            if self.look() != "car":
                self.protocol = remembered
        return self.state

    def look(self, said: str = "") -> CarState:
        """Ask for a well-formed 41 00 and set `state`; without a known transport the adapter has to search first.

        `said`: what a search that has just been made came to.
        """
        if self.protocol is None and not said:
            said = self._search()
        if self.protocol is not None:
            self.first = self._ask_first()
            said = self.first.why
            if self.first.outcome == "value":
                self.state = "car"
                return self.state
        self._said, self._voltage_v = said or "no answer", self.voltage()
        powered = self._voltage_v is not None and self._voltage_v >= POWERED_V
        self.state = "ignition_off" if powered else "no_car"
        return self.state

    def _ask_first(self) -> Exchange:
        """0100; asked again when it comes back garbled, which is no silence."""
        for _ in range(SYNC_TRIES - 1):
            exchange = self.ask("0100")
            if exchange.outcome != "garbled":
                return exchange
        return self.ask("0100")

    def _search(self) -> str:
        if not self._automatic:
            self.command("ATSP0")  # once: adapters write it to a memory that wears
            self._automatic = True
        raw = self.wire.exchange("0100", self.wire.deadlines.dead_s, waiting=lambda _seconds: None)
        lines, prompt = split_lines(raw.data)
        found = guess_protocol(lines, "0100", prompt)
        if found is None:
            self._before += self._stray(self.wire.drain())
            self._before += self._synchronise()
            return " / ".join(lines) or "no answer"
        told = "".join(self.command("ATDPN")).upper().removeprefix("A")
        self.protocol = told if told in KNOWN else found[0]
        return ""

    def require_car(self) -> None:
        """NoCar with the remedy unless the car answers."""
        if self.state == "car":
            return
        if self.first is not None and self.first.outcome == "refused":
            raise OnlyNewerDiagnostics(self.first.why)
        if self.state == "ignition_off" and self._voltage_v is not None:
            raise IgnitionOff(self._voltage_v, self._said)
        raise CarSilent(self._said)

    def voltage(self) -> float | None:
        """Volts at the connector as the adapter measures them; none when it cannot."""
        found = _VOLTS.fullmatch("".join(self.command("ATRV")).strip())
        return float(found[1].replace(",", ".")) if found else None

    def identify(self) -> str:
        """Ask the adapter what it is; kept in `adapter`."""
        self.adapter = " ".join(self.command("ATI"))[:60]
        return self.adapter

    def command(self, text: str) -> tuple[str, ...]:
        """One set-up command's reply lines without the echo."""
        if self.wire.waiting():
            self._before += self._stray(self.wire.drain())
        raw = self.wire.exchange(text, self.wire.deadlines.setup_s)
        lines, prompt = split_lines(raw.data)
        if not raw.data:
            raise NoAdapter(self.port, f"nothing came back to {text}")
        if not prompt:
            self._before += self._stray(self.wire.drain())
            self._before += self._synchronise()
        return tuple(line for line in lines if line.replace(" ", "").upper() != text)

    # ------------------------------------------------------------ end

    def cancel(self) -> None:
        """End whatever is under way; from any thread. The link is of no use afterwards but for `close`."""
        self.wire.cancel()

    def close(self) -> None:
        """Let the bus go to sleep and close the port; waits for nothing."""
        self.wire.close("ATPC")


def _exchange(text: str, raw: Raw, judged: Judged, lines: tuple[str, ...], before: tuple[str, ...]) -> Exchange:
    return Exchange(
        text,
        judged.outcome,
        judged.why,
        judged.replies,
        judged.good,
        judged.unparsed,
        before,
        lines,
        raw.started_t,
        raw.heard_t,
        raw.ended_t,
    )
