"""CAN captures in the forms in which their programs print and save them, and what a spoilt line does to a finding.

The forms of the bus monitor's screen are those of candump's options -a, -x and -t (man page of can-utils, from memory).
"""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import can
import pytest

from coach.importer.columns import ImportProblem
from coach.importer.imported import open_import
from coach.words.imports import report_lines
from tests.importer.captures import read, said
from tests.recordings import played

FRAMES = [
    (0.0, 0x7DF, "020101AAAAAAAAAA"),
    (0.01, 0x7E8, "06410181076504AA"),
    (0.012, 0x3E9, "0641018107650400"),
    (0.5, 0x7DF, "0103AAAAAAAAAAAA"),
    (0.52, 0x7E8, "0443010133AAAAAA"),
    (1.5, 0x7DF, "0107AAAAAAAAAAAA"),
    (1.51, 0x7E8, "024700AAAAAAAAAA"),
]
SAID = [(1, "7E8", "410181076504"), (2, "7E8", "43010133"), (3, "7E8", "4700")]
BEGAN = datetime(2023, 5, 1, 12, tzinfo=UTC)


def letters(data: str) -> str:
    return "".join(chr(byte) if 32 <= byte < 127 else "." for byte in bytes.fromhex(data))


def screen(stamp: str, t: float, before: float, identifier: int, data: str, tail: bool, way: bool) -> str:
    day = f"{BEGAN + timedelta(seconds=t):%Y-%m-%d %H:%M:%S.%f}"
    stamps = {"absolute": f"{1682942400 + t:.6f}", "delta": f"{t - before:010.6f}", "zero": f"{t:010.6f}", "date": day}
    seen = f"  '{letters(data)}'" if tail else ""
    return f" ({stamps[stamp]})  can0 {' RX - -' if way else ''} {identifier:03X}   [8]  {spaced(data)}{seen}"


def spaced(data: str) -> str:
    return bytes.fromhex(data).hex(" ").upper()


@pytest.mark.parametrize("stamp", ["absolute", "delta", "zero", "date"])
@pytest.mark.parametrize(("tail", "way"), [(False, False), (True, False), (False, True), (True, True)])
def test_a_bus_monitors_screen_is_read_in_every_form(tmp_path: Path, stamp: str, tail: bool, way: bool) -> None:
    before = [0.0, *(t for t, _, _ in FRAMES)]
    lines = [screen(stamp, t, last, i, data, tail, way) for (t, i, data), last in zip(FRAMES, before, strict=False)]
    (tmp_path / "c").write_text("\n".join(lines))
    arrivals, _ = read(tmp_path / "c")
    assert said(arrivals) == SAID
    assert arrivals[-1].t == pytest.approx(1.51, abs=0.002)


def log(frames: list[tuple[float, int, str]]) -> str:
    return "".join(f"({1682942400 + t:.6f}) can0 {identifier:03X}#{data}\n" for t, identifier, data in frames)


def test_a_capture_in_two_bytes_a_letter_is_read(tmp_path: Path) -> None:
    (tmp_path / "c").write_text(log(FRAMES), encoding="utf-16")
    arrivals, _ = read(tmp_path / "c")
    assert said(arrivals) == SAID


def test_a_table_of_frames_by_the_kept_library_is_read(tmp_path: Path) -> None:
    with can.CSVWriter(tmp_path / "c.csv") as writer:
        for t, identifier, data in FRAMES:
            frame = can.Message(t, identifier, is_extended_id=False, data=bytes.fromhex(data))
            writer.on_message_received(frame)
    arrivals, imported = read(tmp_path / "c.csv")
    assert said(arrivals) == SAID
    assert report_lines(imported.report)[0].startswith("table of CAN frames, 7 frames")


def test_a_table_of_frames_in_another_form_is_told_as_one(tmp_path: Path) -> None:
    (tmp_path / "c.csv").write_text("Time Stamp,ID,Extended,LEN,D1,D2\n1,7E8,false,2,06,41\n2,7E8,false,2,06,41\n")
    with pytest.raises(ImportProblem, match="a table of CAN frames in a form not known here"):
        open_import(tmp_path / "c.csv")


def test_a_spoilt_line_may_have_been_a_reply(tmp_path: Path) -> None:
    """Two units answered; of the second one's only reply nothing but rubbish is left."""
    text = log([(0.0, 0x7DF, "0103AAAAAAAAAAAA"), (0.01, 0x7E8, "024300AAAAAAAAAA")])
    (tmp_path / "c").write_text(f"{text}(1682942400.0!) can0 7E9#04430107\n" + log(FRAMES[5:]))
    arrivals, _ = read(tmp_path / "c")
    core, _ = played(arrivals)
    assert core.car.codes("stored") is None
    assert core.car.codes("pending") == ()


@pytest.mark.parametrize("name", ["c.log", "c.asc", "c.blf"])
def test_it_is_said_when_one_control_unit_alone_was_asked(tmp_path: Path, name: str) -> None:
    with can.Logger(tmp_path / name) as writer:
        for t, identifier, data in [(0.0, 0x7E0, "0103AAAAAAAAAAAA"), (0.01, 0x7E8, "024300AAAAAAAAAA")]:
            writer(can.Message(1.7e9 + t, identifier, is_extended_id=False, data=bytes.fromhex(data), channel=0))
    _, imported = read(tmp_path / name)
    assert any(line.startswith("questions for readiness or codes put to one") for line in report_lines(imported.report))
