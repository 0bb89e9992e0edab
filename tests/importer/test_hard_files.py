"""What people hand to an importer: nothing usable, junk, pipes, folders, bombs, an interrupt. Words, no traceback."""

import gzip
import io
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from coach.cli import main
from coach.importer.columns import ImportProblem
from coach.importer.imported import open_import
from coach.importer.opening import Source, Spooled, text_lines
from coach.journal.reader import open_journal
from tests.importer.captures import Frame, a_log, candump_lines, read

LETTER = "Dear reader,\n\nthis is a letter. Nothing in it was measured.\n\nYours, somebody\n"


NOTHING = [
    (b"", "the file is empty"),
    (b"\n\n  \n", "nothing but blanks"),
    (LETTER.encode(), "text, but not"),
    (b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 20, "binary data"),
    (random.Random(1).randbytes(5000), "binary data"),
    (b"PK\x03\x04" + bytes(500), "binary data"),
    (b'{"journal":1,"source":"live","program":"x"}\n', "a journal already"),
    (b"LOGG" + bytes(300), "BLF"),
    (b"MDF     4.10" + bytes(300), "MF4"),
    (gzip.compress(b""), "nothing but blanks|the file is empty"),
    (gzip.compress(LETTER.encode()), "text, but not"),
    (gzip.compress(random.Random(2).randbytes(5000))[:3000], "binary data"),
    (b"(1.0) can0 7DF#0Z0\n(1.0) can0 7DF#0G\n", "without a single frame"),
    (b"date Mon\nbase hex timestamps absolute\nbase hex\n", "without a single frame"),
]


@pytest.mark.parametrize(("raw", "words"), NOTHING, ids=[str(number) for number in range(len(NOTHING))])
def test_a_file_with_nothing_usable_gets_one_clear_line(tmp_path: Path, raw: bytes, words: str) -> None:
    (tmp_path / "x").write_bytes(raw)
    with pytest.raises(ImportProblem, match=words) as told:
        list(open_import(tmp_path / "x").arrivals())
    assert str(told.value).startswith(str(tmp_path / "x"))
    assert "\n" not in str(told.value)


def test_folders_and_missing_files_are_named(tmp_path: Path) -> None:
    with pytest.raises(ImportProblem, match="a folder"):
        open_import(tmp_path)
    with pytest.raises(ImportProblem, match="no such file"):
        open_import(tmp_path / "gone")


def test_an_import_that_brings_nothing_leaves_no_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = a_log(tmp_path / "x", [Frame(i / 10, 0x123, b"\x01\x02") for i in range(7)])
    assert main(["import", str(log), "-o", str(tmp_path / "out")]) == 2
    assert "7 CAN frames, and no OBD" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["x"]
    assert main(["review", str(log)]) == 2


def test_a_torn_gzip_is_used_up_to_its_end(tmp_path: Path) -> None:
    rng = random.Random(5)
    frames = [Frame(i / 10, 0x7DF, bytes([2, 1, rng.randrange(256)])) for i in range(3000)]
    packed = gzip.compress("\n".join(candump_lines(frames)).encode())
    (tmp_path / "x").write_bytes(packed[: len(packed) // 2])
    arrivals, imported = read(tmp_path / "x")
    assert len(arrivals) > 1000
    assert imported.report.truncated


def test_a_decompression_bomb_is_refused_early(tmp_path: Path) -> None:
    with gzip.open(tmp_path / "x", "wb") as file:
        for _ in range(64):
            file.write(bytes(1 << 20))
    source = Source("x", tmp_path / "x")
    with pytest.raises(ImportProblem, match="unpacks to more than 100 times its size"):
        while source.stream.read(1 << 20):
            pass
    source.close()


def test_a_line_without_an_end_does_not_fill_the_memory() -> None:
    longest = max(len(line) for line in text_lines(io.BytesIO(b"7E8 " * (1 << 20))))  # type: ignore[arg-type]
    assert longest <= 1 << 16


@pytest.mark.parametrize("part", ["tx '", "BUS INIT: ", "0 ", "a: ", "[a]", "\\r", "7E8 "])
def test_one_endless_line_is_read_in_time_that_grows_with_its_length_only(tmp_path: Path, part: str) -> None:
    (tmp_path / "x").write_text("0100\n7E8 06 41 00 BE 3F A8 13\n" + part * 20_000)
    began = time.process_time()
    arrivals, _ = read(tmp_path / "x")
    assert len(arrivals) >= 2
    assert time.process_time() - began < 5


def test_line_ends_of_every_kind_make_the_same_lines() -> None:
    for end in (b"\n", b"\r", b"\r\n"):
        assert list(text_lines(io.BytesIO(end.join([b"a", b"b", b"c"]) + end)))[:3] == ["a", "b", "c"]


def test_standard_input_is_a_file_like_another(tmp_path: Path) -> None:
    lines = candump_lines([Frame(0.0, 0x7DF, b"\x02\x01\x0d"), Frame(0.1, 0x7E8, b"\x03\x41\x0d\x32")])
    out = tmp_path / "out"
    command = [sys.executable, "-m", "coach.cli", "import", "-", "-o", str(out)]
    done = subprocess.run(command, input="\n".join(lines).encode(), capture_output=True, check=False)
    assert done.returncode == 0, done.stderr
    assert len(list(open_journal(out).arrivals())) == 2
    done = subprocess.run([*command[:-1], str(tmp_path / "no")], input=b"", capture_output=True, check=False)
    assert done.returncode == 2
    assert done.stderr.decode().startswith("coach: standard input: the file is empty")


def test_what_was_kept_of_a_pipe_is_gone_afterwards() -> None:
    with Spooled(io.BytesIO(b"x" * 1000)) as path:
        assert path.read_bytes() == b"x" * 1000
    assert not path.exists()
    assert not path.parent.exists()


def test_an_interrupt_leaves_no_half_file(tmp_path: Path) -> None:
    frames = candump_lines([Frame(i / 100, 0x7DF, bytes([2, 1, i % 256])) for i in range(200)])
    with (tmp_path / "x").open("w") as file:
        for _ in range(2000):
            file.write("\n".join(frames) + "\n")
    out = tmp_path / "out.journal"
    command = [sys.executable, "-m", "coach.cli", "import", str(tmp_path / "x"), "-o", str(out)]
    process = subprocess.Popen(command, stderr=subprocess.PIPE, stdout=subprocess.PIPE)
    part = tmp_path / "out.journal.part"
    end = time.monotonic() + 20
    while not part.exists() and time.monotonic() < end:
        time.sleep(0.01)
    process.send_signal(signal.SIGINT)
    _, told = process.communicate(timeout=20)
    assert b"Traceback" not in told
    assert process.returncode == 3
    assert [path.name for path in tmp_path.iterdir()] == ["x"]


def test_how_far_a_long_reading_is_can_be_told(tmp_path: Path) -> None:
    (tmp_path / "x").write_bytes(b"a\n" * 500_000)
    told: list[tuple[int, int]] = []
    source = Source("x", tmp_path / "x", lambda done, size: told.append((done, size)))
    assert sum(1 for _ in text_lines(source.stream)) == 500_000
    source.close()
    assert told[-1] == (1_000_000, 1_000_000)
    assert [done for done, _ in told] == sorted(done for done, _ in told)
