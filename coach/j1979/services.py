"""The services, and the outer form of a reply: positive (service + 40 hex) or negative (7F, service, code)."""

from typing import TypeAlias

from msgspec import Struct

from coach.j1979.errors import WrongEcho, WrongLength

SERVICES = {
    0x01: "current data",
    0x02: "freeze frame",
    0x03: "stored trouble codes",
    0x04: "clear",
    0x06: "on-board test results",
    0x07: "pending trouble codes",
    0x09: "vehicle information",
    0x0A: "permanent trouble codes",
}

CLEAR_OF_OTHERS = 0x14
"""ClearDiagnosticInformation of ISO 14229 (14, then the group, FF FF FF for all; from memory); only ever heard."""
ANSWERED = frozenset({*SERVICES, CLEAR_OF_OTHERS})
"""Services whose answers are looked at: those of the standard, and the clear that other programs send."""
WITH_ITEM = frozenset({0x01, 0x02, 0x06, 0x09})
"""Services whose request and answer name an item: a PID, a monitor, or what is wanted of the vehicle."""

NEGATIVE_CODES = {
    0x10: "general reject",
    0x11: "service not supported",
    0x12: "sub-function not supported, or bad format",
    0x13: "bad length or format",  # from memory of ISO 14229
    0x21: "busy, repeat the request",
    0x22: "conditions not correct, or wrong sequence",
    0x31: "request out of range",  # from memory of ISO 14229
    0x33: "security access denied",  # from memory of ISO 14229
    0x78: "received, the answer is still to come",
    0x7F: "service not supported in this session",  # from memory of ISO 14229
}
"""Response codes; Scapy's OBD layer has 10, 11, 12, 21, 22 and 78."""

RESPONSE_PENDING = 0x78
NOT_OFFERED = frozenset({0x11, 0x12, 0x31, 0x7F})
"""Refusals that mean it is not there: service, sub-function, range (reference standards.md, section 9)."""


class Positive(Struct, frozen=True):
    """A positive reply. `service` is the request's number; `body` is everything behind it."""

    service: int
    body: bytes


class Negative(Struct, frozen=True):
    """A refusal: the request's service, the response code and its meaning. Never data."""

    service: int
    code: int
    meaning: str


Reply: TypeAlias = Positive | Negative


def parse_reply(payload: bytes) -> Reply:
    """The outer form of a reply. WrongLength when empty or cut, WrongEcho for a first byte no service answers with."""
    if not payload:
        raise WrongLength("reply", 0, "at least 1")
    if payload[0] == 0x7F:
        if len(payload) != 3:
            raise WrongLength("negative reply", len(payload), 3)
        return Negative(payload[1], payload[2], NEGATIVE_CODES.get(payload[2], "unlisted code"))
    service = payload[0] - 0x40
    if service not in ANSWERED:
        raise WrongEcho(f"first byte {payload[0]:02X} answers none of the services")
    if service == 0x04 and len(payload) != 1:
        raise WrongLength("reply to a clear", len(payload), 1)
    return Positive(service, payload[1:])


def check_echo(request: bytes, payload: bytes) -> None:
    """WrongEcho unless a positive reply belongs to this request by service and, where there is one, by PID."""
    reply = parse_reply(payload)
    if reply.service != request[0]:
        raise WrongEcho(f"service {reply.service:02X} answered, asked {request[0]:02X}")
    if isinstance(reply, Positive) and request[0] in WITH_ITEM:
        pids = request[1::2] if request[0] == 0x02 else request[1:]
        if not reply.body or reply.body[0] not in pids:
            raise WrongEcho(f"answer {payload[:2].hex().upper()} to request {request.hex().upper()}")
