"""CAN captures: questions, answers, and everything that goes wrong between them."""

import gzip
import random
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import can
import isotp
import pytest

from coach.car.arrivals import Answer, ClockStep, Outcome, Request, Unparsed
from coach.importer.columns import ImportProblem
from coach.importer.imported import kind_of, open_import
from coach.importer.recognise import recognise
from coach.j1979.vehicle_info import decode_vin
from coach.words.imports import report_lines
from tests.importer.captures import Frame, a_log, asked_for, candump_lines, kinds, read, read_frames, said

VIN = bytes.fromhex("490201") + b"WP0ZZZ99ZTS392124"
"""The VIN of python-OBD's documentation and tests (reference standards.md, section 3)."""
VIN_FRAMES = ("1014490201575030", "215A5A5A39395A54", "2253333932313234")


def test_questions_and_answers_of_several_ecus_on_11_bits(tmp_path: Path) -> None:
    arrivals, imported = read_frames(
        tmp_path,
        (0x7DF, "0201000000000000"),
        (0x7E8, "064100BE3FA81300"),
        (0x7E9, "0641009818000100"),
        (0x7DF, "020101"),
        (0x7E8, "0641010007E50055"),
        (0x3E8, "0641010007E50055"),
        (0x7E9, "0641010004000055"),
    )
    assert said(arrivals) == [
        (1, "7E8", "4100BE3FA813"),
        (1, "7E9", "410098180001"),
        (2, "7E8", "41010007E500"),
        (2, "7E9", "410100040000"),
    ]
    assert imported.can is True
    assert imported.began == "2023-11-14T22:13:20+00:00"
    assert "frames of other traffic, passed over: 1" in report_lines(imported.report)


def test_29_bits_with_functional_and_physical_requests(tmp_path: Path) -> None:
    arrivals, _ = read_frames(
        tmp_path,
        (0x18DB33F1, "02010C0000000000"),
        (0x18DAF110, "04410C1AF8000000"),
        (0x18DA18F1, "0103000000000000"),
        (0x18DAF118, "0243000000000000"),
    )
    assert said(arrivals) == [(1, "18DAF110", "410C1AF8"), (2, "18DAF118", "4300")]


def test_a_long_reply_is_put_together_over_flow_control_and_another_ecu_between(tmp_path: Path) -> None:
    arrivals, imported = read_frames(
        tmp_path,
        (0x7DF, "0209020000000000"),
        (0x7E8, VIN_FRAMES[0]),
        (0x7E0, "3000000000000000"),
        (0x7E9, "0349020000000000"),
        (0x7E8, VIN_FRAMES[1]),
        (0x7E8, VIN_FRAMES[1]),
        (0x7E8, VIN_FRAMES[2]),
        (0x7E8, VIN_FRAMES[2]),
    )
    answers = [a for a in arrivals if isinstance(a, Answer)]
    assert answers[-1].payload == VIN
    assert decode_vin([answers[-1].payload], can=True) == "WP0ZZZ99ZTS392124"
    assert kinds(arrivals) == ["Request", "Answer", "Answer"]
    assert imported.report.dialogue.flow_control == 1


@pytest.mark.parametrize("lost", [1, 2])
def test_a_lost_frame_makes_the_reply_unread_and_the_question_garbled(tmp_path: Path, lost: int) -> None:
    frames = [(0x7E8, data) for i, data in enumerate(VIN_FRAMES) if i != lost]
    arrivals, _ = read_frames(
        tmp_path, (0x7DF, "020902"), *frames, (0x7DF, "020100", 5.0), (0x7E8, "064100BE3FA813", 5.1)
    )
    assert not [a for a in arrivals if isinstance(a, Answer) and a.payload[0] == 0x49]
    assert [(a.request_id, a.outcome) for a in arrivals if isinstance(a, Outcome)] == [(1, "garbled")]
    assert [a.request_id for a in arrivals if isinstance(a, Unparsed)][:1] == [1]


def test_a_last_frame_that_comes_too_late_is_not_taken(tmp_path: Path) -> None:
    late = (0x7E8, VIN_FRAMES[2], 3.0)
    arrivals, _ = read_frames(tmp_path, (0x7DF, "020902"), (0x7E8, VIN_FRAMES[0]), (0x7E8, VIN_FRAMES[1]), late)
    assert said(arrivals) == []
    assert [a for a in arrivals if isinstance(a, Unparsed)]


def test_a_lost_first_frame_is_told_too(tmp_path: Path) -> None:
    arrivals, _ = read_frames(tmp_path, (0x7DF, "020902"), (0x7E8, VIN_FRAMES[1]), (0x7E8, VIN_FRAMES[2]))
    assert said(arrivals) == []
    assert sum(len(a.lines) for a in arrivals if isinstance(a, Unparsed)) == 2


@pytest.mark.parametrize("data", ["10", "1014", "2", "00", "30", "F0", "0F41", "0441"])
def test_a_frame_too_short_for_what_it_says_is_unread(tmp_path: Path, data: str) -> None:
    arrivals, _ = read_frames(tmp_path, (0x7DF, "020101"), (0x7E8, data.ljust(2, "1")), (0x7DF, "020101", 9.0))
    assert said(arrivals) == []
    assert kinds(arrivals)[0] == "Request"


def test_a_first_frame_cut_behind_its_service_is_unread(tmp_path: Path) -> None:
    """Invented. Three bytes are left of a long reply to a question with an item: length and service, and no item."""
    arrivals, imported = read_frames(tmp_path, (0x7DF, "0209020000000000"), (0x7E8, "101449"))
    assert not [arrival for arrival in arrivals if isinstance(arrival, Answer)]
    assert isinstance(arrivals[-1], Outcome)
    assert imported.report.dialogue.broken == 1


def test_a_reply_without_a_request_is_an_unasked_one(tmp_path: Path) -> None:
    arrivals, imported = read_frames(tmp_path, (0x7E8, "0641010007E500AA"), (0x7DF, "02010D"), (0x7E8, "04410C1AF8"))
    assert said(arrivals) == [(None, "7E8", "41010007E500"), (None, "7E8", "410C1AF8")]
    assert any("no request that was recorded" in line for line in report_lines(imported.report))


def test_refused_pending_and_silent_questions_keep_their_outcome(tmp_path: Path) -> None:
    arrivals, _ = read_frames(
        tmp_path,
        (0x7E0, "0109000000000000"),
        (0x7DF, "0103"),
        (0x7E8, "037F0311"),
        (0x7DF, "0107"),
        (0x7E8, "037F0778"),
        (0x7E8, "024700", 3.0),
        (0x7DF, "010A", 3.1),
        (0x7E9, "037F0A78", 3.2),
        (0x7DF, "020146", 9.0),
        (0x7DF, "02010D", 9.1),
        (0x7E8, "03410D32", 9.2),
    )
    outcomes = {a.request_id: (a.outcome, a.why) for a in arrivals if isinstance(a, Outcome)}
    assert outcomes == {
        1: ("no_answer", "nobody answered in this capture"),
        2: ("refused", "7E8 7F 11 service not supported"),
        4: ("no_answer", "the answer stayed pending"),
        5: ("no_answer", "nobody answered in this capture"),
    }
    assert (3, "7E8", "4700") in said(arrivals)


def test_two_ecus_asked_side_by_side_are_not_mixed(tmp_path: Path) -> None:
    arrivals, _ = read_frames(tmp_path, (0x7E0, "0103"), (0x7E1, "0103"), (0x7E9, "024300"), (0x7E8, "0443010420"))
    assert said(arrivals) == [(2, "7E9", "4300"), (1, "7E8", "43010420")]
    assert kinds(arrivals) == ["Request", "Request", "Answer", "Answer"]


def test_a_request_recorded_twice_is_one_question_and_a_reply_twice_is_one_answer(tmp_path: Path) -> None:
    arrivals, imported = read_frames(
        tmp_path,
        (0x7DF, "02010D", 0.0),
        (0x7DF, "02010D", 0.001),
        (0x7E8, "03410D32", 0.02),
        (0x7E8, "03410D32", 0.021),
    )
    assert kinds(arrivals) == ["Request", "Answer"]
    assert imported.report.dialogue.repeated == 2


def test_other_diagnostics_are_counted_and_left(tmp_path: Path) -> None:
    arrivals, imported = read_frames(
        tmp_path,
        (0x7E0, "0322F190"),
        (0x7E8, "101462F190575030"),
        (0x7E0, "300000"),
        (0x7E8, "215A5A5A39395A54"),
        (0x7E8, "2253333932313234"),
        (0x7E0, "023E00"),
        (0x7E8, "037F2231"),
        (0x7DF, "02010D"),
        (0x7E8, "03410D32"),
    )
    assert said(arrivals) == [(1, "7E8", "410D32")]
    assert imported.report.dialogue.other == 6


def test_a_capture_without_obd_says_so_and_how_many_frames_it_had(tmp_path: Path) -> None:
    log = a_log(tmp_path / "x", [Frame(i / 10, 0x123, b"\x01\x02") for i in range(7)])
    with pytest.raises(ImportProblem, match="7 CAN frames, and no OBD request or reply among them"):
        read(log)


def test_a_clock_set_back_is_told_and_a_small_disorder_is_not(tmp_path: Path) -> None:
    arrivals, imported = read_frames(
        tmp_path,
        (0x7DF, "02010D", 100.0),
        (0x7E8, "03410D32", 99.98),
        (0x7DF, "02010D", 40.0),
        (0x7E8, "03410D33", 40.1),
        (0x7DF, "02010D", 1e7),
    )
    steps = [a for a in arrivals if isinstance(a, ClockStep)]
    assert [step.back_s for step in steps] == [60.0, 0.0]
    assert [a.t for a in arrivals] == sorted(a.t for a in arrivals)
    assert arrivals[-1].t < 1.0
    assert imported.report.steps_back == 2


def test_only_one_channel_is_used_where_a_gateway_shows_the_same_frames_on_two(tmp_path: Path) -> None:
    frames = [Frame(0.0, 0x7DF, b"\x02\x01\x0d"), Frame(0.1, 0x7E8, b"\x03\x41\x0d\x32")]
    lines = [line for pair in zip(candump_lines(frames), candump_lines(frames, "can1"), strict=True) for line in pair]
    (tmp_path / "x").write_text("\n".join(lines))
    arrivals, imported = read(tmp_path / "x")
    assert kinds(arrivals) == ["Request", "Answer"]
    assert imported.report.other_bus == 2


def test_lines_that_cannot_be_read_are_named_and_the_rest_is_used(tmp_path: Path) -> None:
    lines = candump_lines([Frame(0.0, 0x7DF, b"\x02\x01\x0d"), Frame(0.1, 0x7E8, b"\x03\x41\x0d\x32")])
    (tmp_path / "x").write_text(f"{lines[0]}\n(torn\n\n(1.0) can0 7E8#0Z\n{lines[1]}\n(17000")
    arrivals, imported = read(tmp_path / "x")
    assert kinds(arrivals) == ["Request", "Unparsed", "Answer", "Unparsed"]
    assert [number for number, _ in imported.report.bad_lines] == [2, 4, 6]


# ---------------------------------------------------------------- formats

MESSAGES = (
    (0.0, 0x7DF, False, "0201000000000000"),
    (0.05, 0x7E8, False, "064100BE3FA81300"),
    (0.1, 0x123, False, "1122"),
    (1.0, 0x18DB33F1, True, "0209020000000000"),
    *((1.1 + i / 100, 0x18DAF110, True, data) for i, data in enumerate(VIN_FRAMES)),
)
WRITERS: dict[str, Any] = {
    "candump": can.CanutilsLogWriter,
    "asc": can.ASCWriter,
    "trc": can.TRCWriter,
    "blf": can.BLFWriter,
}


def written(kind: str, path: Path) -> Path:
    """A capture made by python-can."""
    writer = WRITERS[kind](path)
    for t, identifier, wide, data in MESSAGES:
        writer.on_message_received(
            can.Message(
                timestamp=1.7e9 + t,
                arbitration_id=identifier,
                is_extended_id=wide,
                data=bytes.fromhex(data),
                channel=0,
            )
        )
    writer.stop()
    return path


@pytest.mark.parametrize("kind", WRITERS)
@pytest.mark.parametrize("packed", [False, True])
def test_every_open_format_is_known_by_its_content_and_read(tmp_path: Path, kind: str, packed: bool) -> None:
    path = written(kind, tmp_path / f"made.{'log' if kind == 'candump' else kind}")
    renamed = tmp_path / "something.bin"
    renamed.write_bytes(gzip.compress(path.read_bytes()) if packed else path.read_bytes())
    assert kind_of(renamed) == kind
    arrivals, imported = read(renamed)
    assert [a.text for a in arrivals if isinstance(a, Request)] == ["0100", "0902"]
    assert said(arrivals) == [(1, "7E8", "4100BE3FA813"), (2, "18DAF110", VIN.hex().upper())]
    assert imported.report.frames == len(MESSAGES)
    assert [round(a.t, 2) for a in arrivals] == [0.0, 0.05, 1.0, 1.12]


def test_an_asc_capture_with_relative_times_is_added_up(tmp_path: Path) -> None:
    text = """date Sun Mar 1 07:00:00.000 am 2026
base hex  timestamps relative
internal events logged
   0.500000 1  7DF             Tx   d 8 02 01 0D 00 00 00 00 00
   0.030000 1  7E8             Rx   d 8 03 41 0D 32 00 00 00 00
   0.200000 1  Statistic: D 0 R 0 XD 0 XR 0 E 0 O 0 B 0.00%
   0.270000 1  7DF             Tx   d 8 02 01 0D 00 00 00 00 00
"""
    (tmp_path / "x").write_text(text)
    arrivals, _ = read(tmp_path / "x")
    assert [a.t for a in arrivals if not isinstance(a, Outcome)] == [0.0, 0.03, 0.5]


def test_an_mf4_capture_is_read_where_its_library_is_there(tmp_path: Path) -> None:
    pytest.importorskip("asammdf")
    from can.io.mf4 import MF4Writer

    writer = MF4Writer(tmp_path / "made.mf4")
    for t, identifier, wide, data in MESSAGES:
        message = can.Message(
            timestamp=1.7e9 + t, arbitration_id=identifier, is_extended_id=wide, data=bytes.fromhex(data), channel=0
        )
        writer.on_message_received(message)
    writer.stop()
    assert kind_of(tmp_path / "made.mf4") == "mf4"
    arrivals, _ = read(tmp_path / "made.mf4")
    assert said(arrivals) == [(1, "7E8", "4100BE3FA813"), (2, "18DAF110", VIN.hex().upper())]


def test_a_damaged_binary_capture_is_read_up_to_the_damage(tmp_path: Path) -> None:
    path = written("blf", tmp_path / "made.blf")
    path.write_bytes(path.read_bytes()[:-40])
    arrivals, imported = read(path)
    assert said(arrivals) == [(1, "7E8", "4100BE3FA813")]
    assert "shorter than it says" in imported.report.damaged


def test_without_python_can_the_message_says_how_to_get_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    log = a_log(tmp_path / "x", [Frame(0.0, 0x7DF, b"\x02\x01\x0d"), Frame(0.1, 0x7DF, b"\x02\x01\x0d")])
    monkeypatch.setitem(sys.modules, "can", None)
    with pytest.raises(ImportProblem, match=re.escape(f"pip install '{asked_for('can')}'")):
        open_import(log)


def test_an_import_loads_python_can_and_never_the_adapter_library(tmp_path: Path) -> None:
    log = a_log(tmp_path / "x", [Frame(0.0, 0x7DF, b"\x02\x01\x0d"), Frame(0.1, 0x7E8, b"\x03\x41\x0d\x32")])
    code = (
        "import sys; from coach.cli import main; main(['import', sys.argv[1], '-o', sys.argv[2]]);"
        "assert 'can' in sys.modules; assert not {'obd', 'textual', 'pint'} & set(sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(log), str(tmp_path / "out")], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


# ---------------------------------------------------------------- beside another ISO-TP


def test_messages_split_by_a_kept_library_come_out_whole(tmp_path: Path) -> None:
    """can-isotp splits; our assembly puts together. It needs a live bus and timers to put together itself."""
    rng = random.Random(7)
    for length in (1, 6, 7, 8, 13, 14, 20, 62, 119, 300):
        payload = b"\x49\x02" + rng.randbytes(length)
        frames = [(0x7DF, "020902")]
        sent: list[isotp.CanMessage] = []
        layer = isotp.TransportLayerLogic(
            rxfn=lambda timeout: None,
            txfn=sent.append,
            address=isotp.Address(isotp.AddressingMode.Normal_11bits, txid=0x7E8, rxid=0x7E0),
            params={"tx_padding": 0xAA, "stmin": 0},
        )
        layer.send(payload)
        layer.process()
        if len(payload) > 7:
            answer = isotp.CanMessage(arbitration_id=0x7E0, dlc=3, data=bytearray(b"\x30\x00\x00"))
            layer.rxfn = _once(answer)
            while layer.transmitting():
                layer.process()
        frames += [(0x7E8, bytes(message.data).hex()) for message in sent]
        arrivals, _ = read_frames(tmp_path, *[(i, d, n / 1000) for n, (i, d) in enumerate(frames)])
        assert said(arrivals) == [(1, "7E8", payload.hex().upper())]


def _once(message: isotp.CanMessage) -> Any:
    left = [message]
    return lambda timeout: left.pop() if left else None


# ---------------------------------------------------------------- what a file is


@pytest.mark.parametrize(
    ("begin", "kind"),
    [
        (b"", "empty"),
        (b" \n\n\t", "empty"),
        (b'{"journal":1,"source":"live"}\n', "journal"),
        (b'{"a":1}', "none"),
        (b"time,speed (km/h)\n0,1\n", "table"),
        (b"a;b;c\n1;2;3\n1;2;3\n", "table"),
        (b"Dear reader,\nthis is a letter and nothing else.\nYours", "none"),
        (b">0100\n41 00 BE 3E B8 11\n>", "transcript"),
        (b"PAR1abc", "parquet"),
        (b"\x7fELF\x00\x00\x01\x02\x03\x04\x05\x06\x07\x08\x00\x00\x00\x00", "binary"),
        ("time;Geschwindigkeit;speed (km/h)\n0;1;2\n".encode("utf-16"), "table"),
    ],
)
def test_the_kind_of_a_file_shows_in_its_content(begin: bytes, kind: str) -> None:
    assert recognise(begin) == kind
