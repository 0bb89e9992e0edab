"""Properties of the frames that no table can list: whatever comes in, nothing raises and nothing is made up."""

from hypothesis import given, settings
from hypothesis import strategies as st

from coach.simulator.framing import FRAMERS, can_lines, crc_checksum
from coach.simulator.vehicle import Reply
from coach.transport.assembly import checksum
from coach.transport.frames import Judged, judge, split_lines

REQUESTS = ("0100", "0101", "010C", "010C0D05", "03", "07", "0A", "0902", "020C00", "0601")
PADDING = frozenset({"7E8", "7E9"})

QUICK = settings(max_examples=300, deadline=None, derandomize=True)
requests = st.sampled_from(REQUESTS)
protocols = st.sampled_from("123456789")
likely = st.text("0123456789ABCDEF \r\n>7E841?.", max_size=120)


def run(raw: bytes, request: str, protocol: str, padding: frozenset[str] = frozenset()) -> Judged:
    lines, prompt = split_lines(raw)
    return judge(lines, request, protocol, prompt=prompt, padding=padding)


@QUICK
@given(st.binary(max_size=200) | likely.map(str.encode), requests, protocols)
def test_nothing_that_comes_in_raises_and_only_whole_answers_are_values(
    raw: bytes, request: str, protocol: str
) -> None:
    judged = run(raw, request, protocol)
    assert judged.outcome in ("value", "refused", "no_answer", "garbled")
    assert (judged.outcome == "value") == bool(judged.good)
    for reply in judged.good:
        assert reply.payload[0] == int(request[:2], 16) + 0x40


@QUICK
@given(st.binary(max_size=200) | likely.map(str.encode), requests, protocols)
def test_nothing_that_comes_in_vanishes(raw: bytes, request: str, protocol: str) -> None:
    """Every line is a reply, an unread line, an adapter's word, an echo or a repeated frame; never silently less."""
    lines, _ = split_lines(raw)
    judged = run(raw, request, protocol)
    if lines and not judged.replies and not judged.unparsed:
        assert judged.why or judged.reset


def framed(replies: list[Reply], protocol: str) -> bytes:
    bus = "can_11_500" if protocol == "6" else "iso_9141"
    lines = [f"{line.header} {line.data} " for line in FRAMERS[bus](replies)]  # type: ignore[index]
    return "".join(line + "\r" for line in lines).encode() + b"\r>"


readiness = st.binary(min_size=4, max_size=4).map(lambda data: b"\x41\x01" + data)
codes = st.integers(0, 12).flatmap(lambda n: st.binary(min_size=2 * n, max_size=2 * n))


@QUICK
@given(st.data())
def test_bytes_lost_on_the_line_never_change_what_an_ecu_said(data: st.DataObject) -> None:
    """Any one stretch of up to four characters is lost from a reply of two ECUs that fill their frames."""
    if data.draw(st.booleans()):
        request, sent = "0101", [Reply("7E8", data.draw(readiness)), Reply("7E9", data.draw(readiness))]
    else:
        bodies = [data.draw(codes), data.draw(codes)]
        request = "03"
        sent = [
            Reply(ecu, bytes([0x43, len(body) // 2]) + body) for ecu, body in zip(("7E8", "7E9"), bodies, strict=True)
        ]
    raw = framed(sent, "6")
    at = data.draw(st.integers(0, len(raw) - 1))
    lost = data.draw(st.integers(1, 4))
    judged = run(raw[:at] + raw[at + lost :], request, "6", PADDING)
    assert {(reply.ecu, reply.payload) for reply in judged.good} <= {(reply.ecu, reply.payload) for reply in sent}
    if len(judged.good) < len(sent):
        assert not judged.clean


@QUICK
@given(readiness, st.integers(0, 32), st.integers(1, 4), st.sampled_from("0123456789ABCDEF"))
def test_before_can_the_checksum_finds_a_wrong_digit_and_a_loss(payload: bytes, at: int, lost: int, digit: str) -> None:
    raw = framed([Reply("10", payload)], "3")
    for spoilt in (raw[:at] + raw[at + lost :], raw[:at] + digit.encode() + raw[at + 1 :]):
        for reply in run(spoilt, "0101", "3").good:
            assert reply.payload == payload


@QUICK
@given(st.lists(st.binary(min_size=1, max_size=100), min_size=1, max_size=4), st.randoms(use_true_random=False))
def test_ecus_sharing_the_bus_in_any_order_are_kept_apart(tails: list[bytes], random: object) -> None:
    sent = [Reply(f"7E{8 + i:X}", b"\x49\x02" + tail) for i, tail in enumerate(tails)]
    queues = [[f"{line.header} {line.data}" for line in can_lines([reply])] for reply in sent]
    lines: list[str] = []
    while any(queues):
        lines.append(random.choice([queue for queue in queues if queue]).pop(0))  # type: ignore[attr-defined]
    judged = judge(lines, "0902", "6")
    assert {(reply.ecu, reply.payload) for reply in judged.good} == {(reply.ecu, reply.payload) for reply in sent}
    assert judged.clean


def test_the_crc_of_j1850_agrees_with_the_one_the_simulated_adapter_has_by_table() -> None:
    for length in range(1, 12):
        raw = bytes((37 * i + length) & 0xFF for i in range(length))
        assert checksum(raw, "2") == crc_checksum(raw)
