"""The link to one adapter: set-up through python-OBD, then questions of our own over the same wire.

Used by one thread. States: car, or why there is none (`coach.adapter.absence`). "car" is never remembered from the
set-up: it takes a well-formed 41 00. Whatever comes in beside the replies is kept and told.
"""

import re
import time
from collections.abc import Callable
from typing import Literal

from msgspec import structs

from coach.adapter.absence import why_no_car
from coach.adapter.allowed import check_allowed
from coach.adapter.errors import CarSilent, LinkLost, NoAdapter, NoCar, NoCarState, NotAllowed
from coach.adapter.exchange import Exchange
from coach.adapter.face import Face, Progress, silent
from coach.adapter.setup import has_speed, negotiate, probe_baud
from coach.adapter.wire import Deadlines, Raw, Wire, open_transport
from coach.transport.assembly import CAN, KNOWN, NAMES
from coach.transport.frames import Judged, Unasked, guess, judge, lines_between, readable, split_lines, unasked
from coach.transport.words import NUL

CarState = Literal["car"] | NoCarState
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
        self.heard: list[Exchange] = []
        """What came of 0100 whenever the car was looked for; whoever posts it takes it out."""
        self._why: NoCar = CarSilent("no answer")
        self._echo_stays = False
        self._automatic = False
        self._allow_clear = allow_clear
        self._padding: frozenset[str] = frozenset()
        self._mixed: frozenset[str] = frozenset()
        self._short: dict[str, tuple[str, ...]] = {}
        self._beside: list[str] = []

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
            self._drain()
            self._synchronise()
        before = self.beside()
        started_t = self.wire.clock()
        try:
            raw, judged, lines = self._until_final(text)
        except LinkLost as error:
            error.exchange = self._nothing(text, error.happened, before, started_t)
            raise
        judged = self._unless_asleep(raw, judged, lines)
        exchange = _exchange(text, raw, judged, lines, before)
        if judged.clean and not self._beside:
            return exchange
        try:
            self._put_right(judged)
        except LinkLost as error:
            error.exchange = self._with_late(exchange)
            raise
        return self._with_late(exchange)

    def _nothing(self, text: str, why: str, before: Unasked, started_t: float) -> Exchange:
        """The link went while the question was out."""
        now = self.wire.clock()
        return Exchange(text, "no_answer", why, (), (), (), (), before, (), (), started_t, now, now)

    def beside(self) -> Unasked:
        """What came in beside the replies since this was last asked."""
        lines, self._beside = self._beside, []
        return unasked(lines, self.protocol, self._padding)

    def _with_late(self, exchange: Exchange) -> Exchange:
        """What came in behind the prompt: lines nobody can read were most likely of this question's reply."""
        came = self.beside()
        late = tuple(reply for reply in came.replies if reply not in exchange.replies)
        return structs.replace(exchange, late=late, unparsed=(*exchange.unparsed, *came.lines))

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
        lines, prompt = self._lines(raw)
        heard = lines[1:] if self._echo_stays and lines and lines[0].replace(" ", "").upper() == text else lines
        judged = self._judge(heard, text, prompt)
        if before is not None:
            replies = tuple(dict.fromkeys((*before.replies, *judged.replies)))
            judged = structs.replace(
                judged,
                replies=replies,
                strays=(*before.strays, *judged.strays),
                unparsed=(*before.unparsed, *judged.unparsed),
                clean=False,
                reset=judged.reset or before.reset,
            )
        return raw, judged, lines

    def _lines(self, raw: Raw) -> tuple[tuple[str, ...], bool]:
        """The lines up to the prompt, and whether it came; what stands behind it is none of the reply."""
        reply, prompt, behind = raw.data.partition(b">")
        if behind.strip(b"\r\n \0>"):
            self._drain(behind)
        return split_lines(reply + prompt)

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
        return Judged("garbled", why, (), (), (), lines or (why,), (), judged.padding, False, judged.reset)

    # ------------------------------------------------------------ keeping in step

    def _drain(self, before: bytes = b"") -> bool:
        """Keep what still comes in, behind `before`, as said beside the replies; whether anything but OK came."""
        lines = [line for line in lines_between(before + self.wire.drain()) if line.upper() not in ("OK", "STOPPED")]
        self._beside += lines
        return bool(lines)

    def _put_right(self, judged: Judged) -> None:
        """After anything odd: whatever still comes belongs to the old question; then both sides start afresh."""
        self._drain()
        self._synchronise()
        if judged.reset:
            self._set_up_again()

    def _synchronise(self) -> None:
        """Send a command that changes nothing until it is answered properly."""
        rubbish = False
        for _ in range(SYNC_TRIES):
            lines, prompt = self._lines(self.wire.exchange("ATE0", min(self.wire.deadlines.setup_s, 1.0)))
            others = [line for line in lines if line.upper().replace(" ", "") not in ("OK", "ATE0", "STOPPED")]
            self._beside += others
            more = self._drain()
            rubbish = rubbish or bool(others) or more
            if prompt and not others and not more and lines and lines[-1].upper() == "OK":
                return
        raise LinkLost(
            "The adapter answers rubbish, or nothing." if rubbish else "The adapter has fallen silent.",
            "Unplug it, wait a moment, plug it in again.",
        )

    def _set_up_again(self) -> None:
        """The adapter rebooted: tell it again what it forgot."""
        self._automatic = False
        for command in ("ATE0", "ATL0", "ATH1", f"ATTP{self.protocol}" if self.protocol in KNOWN else "ATSP0"):
            self._without_frames(self._lines(self.wire.exchange(command, self.wire.deadlines.setup_s))[0])

    def _without_frames(self, lines: tuple[str, ...]) -> tuple[str, ...]:
        """A command's reply without what control units said meanwhile; that is kept."""
        frames = [line for line in lines if readable(line, self.protocol or "6") is not None]
        self._beside += frames
        return tuple(line.replace(NUL, "") for line in lines if line not in frames)

    # ------------------------------------------------------------ the car and its power

    def begin(self, face: Face) -> CarState:
        """Take over from the set-up. A transport that was only remembered is doubted when nobody answers on it."""
        self._echo_stays = face.echo_stays
        self._beside += face.beside
        if not face.in_step:
            self._synchronise()
        searched = [self._told(raw) for raw in face.asked]
        self.protocol = self.protocol or face.refused_on or None
        if self.protocol is None and searched:
            self._absent(searched[-1])
        else:
            self._look_as_remembered()
        known = {reply for exchange in self.heard for reply in exchange.replies}
        new = [exchange for exchange in searched if exchange.unparsed or not known.issuperset(exchange.replies)]
        self.heard = [*new, *self.heard]
        return self.state

    def _look_as_remembered(self) -> None:
        remembered = self.protocol
        if self.look() in ("car", "refused") or remembered is None:
            return
        self.protocol = None
        if self.look() != "car":
            self.protocol = remembered

    def look(self) -> CarState:
        """Ask for a well-formed 41 00 and set `state`; without a known transport the adapter has to search first."""
        exchange = self._search() if self.protocol is None else None
        if self.protocol is not None:
            exchange = self._ask_first()
            if exchange.outcome == "value":
                self.state = "car"
                return self.state
        assert exchange is not None
        return self._absent(exchange)

    def _absent(self, exchange: Exchange) -> CarState:
        self._why = why_no_car(exchange, self.voltage())
        self.state = self._why.state
        return self.state

    def _ask_first(self) -> Exchange:
        """0100; asked again when it comes back garbled, which is no silence."""
        for _ in range(SYNC_TRIES):
            exchange = self.ask("0100")
            self.heard.append(exchange)
            if exchange.outcome != "garbled":
                break
        return exchange

    def _search(self) -> Exchange:
        """Let the adapter look for the car's transport; what came of it where none was found."""
        if not self._automatic:
            self.command("ATSP0")  # once: adapters write it to a memory that wears
            self._automatic = True
        raw = self.wire.exchange("0100", self.wire.deadlines.dead_s, waiting=lambda _seconds: None)
        exchange = self._told(raw)
        if exchange.replies or exchange.unparsed:
            self.heard.append(exchange)
        lines, prompt = split_lines(raw.data)
        found = guess(lines, "0100", prompt)
        if found is None:
            self._drain()
            self._synchronise()
            return exchange
        told = "".join(self.command("ATDPN")).upper().removeprefix("A")
        self.protocol = told if told in KNOWN else found[0]
        return exchange

    def _told(self, raw: Raw) -> Exchange:
        """A search's reply as an exchange, by whatever transport its lines can be read under."""
        lines, prompt = split_lines(raw.data)
        heard = tuple(line for line in lines if line != "0100")
        found = guess(heard, "0100", prompt)
        judged = found[1] if found is not None else judge(heard, "0100", self.protocol or "6", prompt=prompt)
        return _exchange("0100", raw, judged, lines, Unasked())

    def require_car(self) -> None:
        """NoCar with the remedy unless the car answers."""
        if self.state != "car":
            raise self._why

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
            self._drain()
        raw = self.wire.exchange(text, self.wire.deadlines.setup_s)
        lines, prompt = self._lines(raw)
        if not raw.data:
            raise NoAdapter(self.port, f"nothing came back to {text}")
        if not prompt:
            self._drain()
            self._synchronise()
        return tuple(line for line in self._without_frames(lines) if line.replace(" ", "").upper() != text)

    # ------------------------------------------------------------ end

    def cancel(self) -> None:
        """End whatever is under way; from any thread. The link is of no use afterwards but for `close`."""
        self.wire.cancel()

    def close(self) -> None:
        """Let the bus go to sleep and close the port; waits for nothing."""
        self.wire.close("ATPC")


def _exchange(text: str, raw: Raw, judged: Judged, lines: tuple[str, ...], before: Unasked) -> Exchange:
    return Exchange(
        text,
        judged.outcome,
        judged.why,
        judged.replies,
        judged.good,
        judged.strays,
        judged.unparsed,
        before,
        (),
        lines,
        raw.started_t,
        raw.heard_t,
        raw.ended_t,
    )
