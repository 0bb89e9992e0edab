"""Why no car can be read: from what came in to 0100 and the voltage, one reason with words of its own.

What did arrive is never called silence: a refusal, a broken reply and the adapter's own trouble each have a reason.
Meanings of the adapter's words: from memory of the trade's public data sheet.
"""

from coach.adapter.errors import (
    AdapterTrouble,
    BusTrouble,
    CarRefuses,
    CarSilent,
    IgnitionOff,
    NoCar,
    OnlyNewerDiagnostics,
    Unreadable,
)
from coach.adapter.exchange import Exchange
from coach.j1979.services import NOT_OFFERED
from coach.transport.words import BROKEN, NO_PROMPT, SILENCE

POWERED_V = 6.0  # common practice, also python-OBD's limit: below it the connector carries no car's battery
_BUS = ("CAN ERROR", "BUS ERROR", "FB ERROR", "BUS BUSY", "DATA ERROR", "RX ERROR")
_PLUG = "Unplug it, wait a moment, plug it in again."
_TROUBLES = {
    "STOPPED": (
        "something was sent to it while it still waited for the car",
        "It is asked again. Close every other program that uses this adapter.",
    ),
    "BUFFER FULL": ("more came in than it can keep", "It is asked again; a better adapter keeps more."),
    "LV RESET": ("its supply broke down", "Is the battery weak, or was the engine just started? It is asked again."),
    "ELM": ("it began anew", "Its supply may have broken down: is it pushed fully in, is the battery strong enough?"),
    "STN": ("it began anew", "Its supply may have broken down: is it pushed fully in, is the battery strong enough?"),
    "OK": ("it is out of step", "It is asked again. " + _PLUG),
    "ACT ALERT": ("it is about to go to sleep", _PLUG),
    "LP ALERT": ("it is about to go to sleep", _PLUG),
    "ERR": ("a fault within it", _PLUG),
    "?": ("it does not understand the question", _PLUG),
    NO_PROMPT: ("it did not end its answer", _PLUG),
}
"""The adapter's word, what it stands for, and what to do."""


def why_no_car(heard: Exchange, voltage_v: float | None) -> NoCar:
    """The reason, from what came of 0100 and the volts at the connector, none when the adapter does not tell them."""
    reason = _refusal(heard)
    if reason is not None:
        return reason
    words = [line for line in heard.unparsed if line.lstrip("<!").startswith((*SILENCE, *_TROUBLES, *BROKEN))]
    if heard.replies or len(words) < len(heard.unparsed):
        return Unreadable(heard.why)
    return _trouble(" / ".join(words) or heard.why) or _silence(heard.why, voltage_v)


def _refusal(heard: Exchange) -> NoCar | None:
    told = [r.payload for r in heard.replies if r.payload[0] == 0x7F and len(r.payload) == 3 and r not in heard.strays]
    if not told or heard.outcome not in ("refused", "no_answer"):
        return None
    if heard.outcome == "no_answer":
        return CarRefuses("it says that its answer is still to come, and it does not come")
    codes = {payload[2] for payload in told}
    return OnlyNewerDiagnostics(heard.why) if codes <= NOT_OFFERED else CarRefuses(heard.why)


def _trouble(said: str) -> NoCar | None:
    if any(word in said for word in _BUS):
        return BusTrouble(said)
    for word, (meaning, remedy) in _TROUBLES.items():
        if said.lstrip("<!").startswith(word):
            return AdapterTrouble(said, meaning, remedy)
    return None


def _silence(said: str, voltage_v: float | None) -> NoCar:
    if voltage_v is not None and voltage_v >= POWERED_V:
        return IgnitionOff(voltage_v, said)
    return CarSilent(said)
