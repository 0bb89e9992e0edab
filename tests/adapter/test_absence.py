"""What hides a car and what does not: progress before a reply, refusals, broken replies, the adapter's own trouble.

Bytes invented after the forms of reference python_obd.md, section 2, and standards.md, section 9.
"""

import itertools

import pytest

from coach.adapter.errors import (
    AdapterTrouble,
    BusTrouble,
    CarRefuses,
    IgnitionOff,
    NoCar,
    OnlyNewerDiagnostics,
    Unreadable,
)
from coach.car.arrivals import Answer, Unparsed
from coach.transport.assembly import EcuReply
from tests.adapter.test_setup import MAP, connected

KLINE = "48 6B 10 41 00 BE 3E B8 11 C9"
"""A reply of a car before CAN; the data of the trade's example, its sum reckoned for ISO 9141-2."""
PROGRESS = {
    "dots of a slow search": f".....{KLINE}||>",
    "dots and data behind a search": f"SEARCHING...|.......{KLINE}||>",
    "dots on a line of their own": f"SEARCHING.....|....|{KLINE}||>",
    "a bus opened on two lines": f"BUS INIT: ...|OK|{KLINE}||>",
    "a bus opened on three lines": f"BUS INIT: |..|.OK|{KLINE}||>",
    "data behind the second line of it": f"BUS INIT: ..|.OK{KLINE}||>",
    "data glued to it": f"BUS INIT: ...OK{KLINE}||>",
    "data behind it without an OK": f"BUS INIT: ...|{KLINE}||>",
}


@pytest.mark.parametrize("name", PROGRESS)
@pytest.mark.parametrize("protocol", [None, "3"])
def test_a_slow_opening_of_the_bus_in_front_of_a_good_reply_hides_no_car(
    monkeypatch: pytest.MonkeyPatch, name: str, protocol: str | None
) -> None:
    """Forms as adapters print them (python_obd.md, section 2), cut in all the places where a line may end."""
    link, _ = connected(monkeypatch, {"ATDPN": "A3||>", "0100": PROGRESS[name]}, protocol=protocol)
    assert (link.state, link.protocol) == ("car", "3")
    assert [exchange.unparsed for exchange in link.heard] == [()] * len(link.heard)


def test_data_that_comes_in_a_later_read_than_the_opening_of_the_bus_is_the_reply(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    link, port = connected(monkeypatch, {"ATDPN": "A3||>", "0100": [f"{KLINE}||>", "BUS INIT: .."]})
    reads = itertools.count()
    plain = port.read

    def slowly(size: int = 1) -> bytes:
        if port.commands[-1] == "0100" and not port.buffer and next(reads) == 30:
            port.say(f".OK|{KLINE}||>")
        return plain(size)

    port.read = slowly  # type: ignore[method-assign]
    assert link.look() == "car"


def test_nuls_that_the_adapters_chip_slips_in_hide_no_car(monkeypatch: pytest.MonkeyPatch) -> None:
    """Inserted bytes of zero: python_obd.md, section 2, "NUL byte in a good line"; from memory of the data sheet."""
    for line in ("7E8 06 41 00 BE\0 3F A8 13||>", "\0" + "7E8 06 41 0\0" + "0 BE 3F A8 13||>"):
        link, _ = connected(monkeypatch, {"0100": line, "ATH1": "O\0K||>"})
        assert (link.state, link.protocol) == ("car", "6")


SILENT = ["NO DATA", "BUS INIT: ...ERROR", "BUS INIT: ..|.ERROR", "UNABLE TO CONNECT", "SEARCHING...|UNABLE TO CONNECT"]
TOLD = {
    **dict.fromkeys(SILENT, ("ignition_off", IgnitionOff, "no control unit answers.*key to on")),
    "CAN ERROR": ("bus_error", BusTrouble, "get its question through to the car.*CAN ERROR.*another speed"),
    "BUS BUSY": ("bus_error", BusTrouble, "get its question through.*BUS BUSY"),
    "FB ERROR": ("bus_error", BusTrouble, "get its question through.*FB ERROR"),
    "STOPPED": ("adapter_error", AdapterTrouble, "sent to it while it still waited.*STOPPED.*other program"),
    "BUFFER FULL": ("adapter_error", AdapterTrouble, "more came in than it can keep"),
    "LV RESET": ("adapter_error", AdapterTrouble, "supply broke down.*battery"),
    "?": ("adapter_error", AdapterTrouble, "does not understand"),
    "OK": ("adapter_error", AdapterTrouble, "out of step"),
    "ELM327 v1.5": ("adapter_error", AdapterTrouble, "began anew"),
    "7E8 03 7F 01 11": ("refused", OnlyNewerDiagnostics, "refuses the classic.*service not supported.*newer"),
    "SEARCHING...|7E8 03 7F 01 12": ("refused", OnlyNewerDiagnostics, "refuses the classic.*newer"),
    "18 DA F1 10 03 7F 01 11": ("refused", OnlyNewerDiagnostics, "18DAF110"),
    "7E8 03 7F 01 22": ("refused", CarRefuses, "car answers, but does not tell.*conditions not correct.*asked again"),
    "7E8 03 7F 01 78": ("refused", CarRefuses, "still to come, and it does not come"),
    "7E8 03 7F 01 11|7E9 03 7F 01 22": ("refused", CarRefuses, "7E8 7F 11.*7E9 7F 22"),
    "7E8 05 41 00 BE 3F A8": ("unreadable", Unreadable, "Something answers, but it cannot be read"),
    "7E8 06 41 00 BE \0\0 A8 13": ("unreadable", Unreadable, "cannot be read"),
    "48 6B 10 41 00 BE 3E B8 11 C8": ("unreadable", Unreadable, "cannot be read.*48 6B 10"),
    "41 00 BE 3F A8 13": ("unreadable", Unreadable, "cannot be read.*41 00 BE"),
    "7E8 06 41 20 BE 3F A8 13": ("unreadable", Unreadable, "cannot be read.*answer 4120 to request 0100"),
    "7E8 06 41 00 BE 3F A8 13 <DATA ERROR": ("unreadable", Unreadable, "cannot be read.*<DATA ERROR"),
}
"""What comes to 0100: the state of the link, the reason, and what its words must say."""


@pytest.mark.parametrize("said", TOLD)
@pytest.mark.parametrize("protocol", [None, "6"])
def test_what_is_no_whole_41_00_is_no_car_and_is_told_as_what_it_is(
    monkeypatch: pytest.MonkeyPatch, said: str, protocol: str | None
) -> None:
    if said.startswith("18"):
        protocol = protocol and "7"
    link, _ = connected(monkeypatch, {"0100": f"{said}||>"}, protocol=protocol)
    state, reason, words = TOLD[said]
    assert link.state == state
    with pytest.raises(NoCar, match=words) as told:
        link.require_car()
    assert type(told.value) is reason
    if state != "ignition_off":
        assert "no control unit answers" not in str(told.value)
        assert "fully into" not in str(told.value)


@pytest.mark.parametrize("said", [said for said, (state, *_) in TOLD.items() if state in ("refused", "unreadable")])
@pytest.mark.parametrize("protocol", [None, "6"])
def test_what_came_in_while_the_car_was_looked_for_is_kept(
    monkeypatch: pytest.MonkeyPatch, said: str, protocol: str | None
) -> None:
    link, _ = connected(monkeypatch, {"0100": f"{said}||>"}, protocol=protocol)
    arrivals = [arrival for exchange in link.heard for arrival in exchange.arrivals(1)]
    assert any(isinstance(arrival, Answer | Unparsed) for arrival in arrivals)


def test_a_second_unit_that_answered_only_the_search_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    both = "7E8 06 41 00 BE 3F A8 13|7E9 06 41 00 98 18 00 01||>"
    link, _ = connected(monkeypatch, {"0100": [both, MAP]})
    assert [len(exchange.replies) for exchange in link.heard] == [2, 1]
    once, _ = connected(monkeypatch, {"0100": both})
    assert len(once.heard) == 1, "the same said twice is kept once"


def test_what_a_unit_says_while_the_adapter_is_set_up_belongs_to_no_question(monkeypatch: pytest.MonkeyPatch) -> None:
    link, _ = connected(monkeypatch, {"ATH1": ["7E9 04 43 01 01 35|OK||>"]})
    assert link.heard[0].before.replies == (EcuReply("7E9", bytes.fromhex("43010135")),)
