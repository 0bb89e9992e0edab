"""The journal survives what happens to files. Forms and limits are this project's own."""

import gzip
from pathlib import Path

import pytest

from coach.car.arrivals import (
    Answer,
    Arrival,
    Choice,
    ClockStep,
    Damaged,
    LinkChange,
    Mark,
    Outcome,
    Reading,
    Request,
    Unparsed,
)
from coach.journal.errors import CannotWrite, JournalError, JournalRefused, NotAJournal
from coach.journal.reader import ReadReport, open_journal
from coach.journal.records import Context, Header
from coach.journal.writer import JournalWriter

ONE_OF_EACH: list[Arrival] = [
    Request(0.1, 1, "010D"),
    Answer(0.15, 1, "7E8", b"\x41\x0d\x37"),
    Answer(0.16, None, "7E9", b"\x41\x0d\x37"),
    Unparsed(0.2, 1, ("7E8 03 41 0",)),
    Outcome(0.3, 1, "no_answer", "NO DATA"),
    Reading(0.4, "speed_kmh", 54.5),
    LinkChange(0.5, "lost", "adapter unplugged"),
    ClockStep(0.6, 0.466),
    Mark(0.7, "lorry"),
    Choice(0.8, {"skip": "highway_cruise"}),
]


def write(path: Path, arrivals: list[Arrival]) -> bytes:
    with JournalWriter(path, Header(1, "imported", "0"), Context(units="us"), steady=True) as journal:
        for arrival in arrivals:
            journal.write(arrival)
    return path.read_bytes()


def read(path: Path) -> tuple[list[Arrival], ReadReport]:
    reader = open_journal(path)
    return list(reader.arrivals()), reader.report


@pytest.mark.parametrize("name", ["a.journal", "a.journal.gz"])
def test_every_kind_of_arrival_comes_back_as_it_was(tmp_path: Path, name: str) -> None:
    write(tmp_path / name, ONE_OF_EACH)
    arrivals, report = read(tmp_path / name)
    assert arrivals == ONE_OF_EACH
    assert (report.cut_short, report.bad_count, report.truncated_gzip) == (False, 0, False)
    assert report.footer_disagrees is None
    reader = open_journal(tmp_path / name)
    assert reader.context == Context(units="us")
    reader.close()


def test_a_journal_cut_at_any_byte_gives_what_came_before(tmp_path: Path) -> None:
    whole = write(tmp_path / "a", ONE_OF_EACH)
    body = whole.index(b"\n", whole.index(b"\n") + 1) + 1
    for cut in range(body, len(whole)):
        (tmp_path / "b").write_bytes(whole[:cut])
        arrivals, report = read(tmp_path / "b")
        assert arrivals == ONE_OF_EACH[: len(arrivals)]
        assert report.cut_short or cut == len(whole) - 1
        assert report.bad_count == 0


def test_a_packed_journal_cut_anywhere_gives_what_can_be_unpacked(tmp_path: Path) -> None:
    many: list[Arrival] = [Reading(i / 10, "speed_kmh", float(i * 7919 % 200)) for i in range(4000)]
    whole = write(tmp_path / "a.gz", many)
    for cut in range(200, len(whole), len(whole) // 23):
        (tmp_path / "b.gz").write_bytes(whole[:cut])
        try:
            arrivals, report = read(tmp_path / "b.gz")
        except NotAJournal:
            continue  # not even the header was left
        assert arrivals == many[: len(arrivals)]
        assert report.truncated_gzip


def test_a_bad_line_in_the_middle_is_an_arrival_of_its_own_and_counted_with_its_number(tmp_path: Path) -> None:
    lines = write(tmp_path / "a", ONE_OF_EACH).split(b"\n")
    lines[5] = b'{"t":0.2,"rq":'
    lines[6] = b'{"t":-4,"mark":"before the beginning"}'
    (tmp_path / "b").write_bytes(b"\n".join(lines))
    arrivals, report = read(tmp_path / "b")
    assert [number for number, _ in report.bad_lines] == [6, 7]
    lost: list[Arrival] = [Damaged(ONE_OF_EACH[2].t, 6), Damaged(ONE_OF_EACH[2].t, 7)]
    assert arrivals == [*ONE_OF_EACH[:3], *lost, *ONE_OF_EACH[5:]]
    assert report.arrivals == len(ONE_OF_EACH) - 2
    assert report.footer_disagrees is not None


def test_a_bad_line_before_any_arrival_is_dated_at_the_beginning(tmp_path: Path) -> None:
    lines = write(tmp_path / "a", ONE_OF_EACH).split(b"\n")
    lines.insert(2, b"\x00\x00")
    (tmp_path / "b").write_bytes(b"\n".join(lines))
    assert read(tmp_path / "b")[0] == [Damaged(0.0, 3), *ONE_OF_EACH]


@pytest.mark.parametrize("bad", [b'{"t":0.9,"rq":', b"\xff\xfe", b'{"t":1e99,"mark":"late"}'])
def test_a_bad_last_line_is_an_arrival_only_when_it_was_written_to_its_end(tmp_path: Path, bad: bytes) -> None:
    whole = write(tmp_path / "a", ONE_OF_EACH)
    body = whole[: whole.rindex(b'{"footer"')]
    (tmp_path / "torn").write_bytes(body + bad)
    arrivals, report = read(tmp_path / "torn")
    assert (arrivals, report.bad_count, report.torn_last_line) == (ONE_OF_EACH, 0, True)
    (tmp_path / "ended").write_bytes(body + bad + b"\n")
    arrivals, report = read(tmp_path / "ended")
    assert arrivals == [*ONE_OF_EACH, Damaged(ONE_OF_EACH[-1].t, len(ONE_OF_EACH) + 3)]
    assert (report.bad_count, report.torn_last_line) == (1, False)


def test_a_value_that_cannot_be_is_counted_and_is_no_lost_line(tmp_path: Path) -> None:
    lines = write(tmp_path / "a", ONE_OF_EACH).split(b"\n")
    lines.insert(4, b'{"t":0.2,"reading":"speed_kmh","value":9999}')
    (tmp_path / "b").write_bytes(b"\n".join(lines))
    arrivals, report = read(tmp_path / "b")
    assert (arrivals, report.bad_count) == (ONE_OF_EACH, 1)


def test_a_copy_is_no_cleaner_than_what_it_was_made_of(tmp_path: Path) -> None:
    mixed = [Damaged(0.0, 3), *ONE_OF_EACH, Damaged(1.0, 9)]
    write(tmp_path / "b", mixed)
    arrivals, report = read(tmp_path / "b")
    assert (arrivals, report.bad_count, report.footer_disagrees) == (mixed, 0, None)


def test_a_journal_gone_on_with_does_not_count_its_lost_lines(tmp_path: Path) -> None:
    whole = write(tmp_path / "a", ONE_OF_EACH)
    mixed = [Damaged(0.0, 3), *ONE_OF_EACH, Damaged(1.0, 9)]
    (tmp_path / "c").write_bytes(whole[: whole.rindex(b'{"footer"')])
    with JournalWriter.behind(tmp_path / "c", mixed):
        pass
    assert (tmp_path / "c").read_bytes() == whole


def test_records_of_a_later_kind_are_counted_and_do_not_stop_the_reading(tmp_path: Path) -> None:
    whole = write(tmp_path / "a", ONE_OF_EACH)
    (tmp_path / "b").write_bytes(whole.replace(b'"mark"', b'"later"'))
    arrivals, report = read(tmp_path / "b")
    assert report.unknown_records == 1
    assert len(arrivals) == len(ONE_OF_EACH) - 1


def test_two_packed_parts_one_behind_the_other_read_as_one(tmp_path: Path) -> None:
    whole = write(tmp_path / "a", ONE_OF_EACH)
    half = whole.index(b"\n", len(whole) // 2) + 1
    (tmp_path / "b.gz").write_bytes(gzip.compress(whole[:half]) + gzip.compress(whole[half:]))
    assert read(tmp_path / "b.gz")[0] == ONE_OF_EACH


def test_a_decompression_bomb_is_refused(tmp_path: Path) -> None:
    head = write(tmp_path / "a", [])
    (tmp_path / "bomb.gz").write_bytes(gzip.compress(head + b'{"t":1,"rq":1,"ecu":"7E8","hex":"410D37"}\n' * 1_000_000))
    with pytest.raises(JournalRefused, match="unpacks to more than 100 times"):
        read(tmp_path / "bomb.gz")
    (tmp_path / "zeros.gz").write_bytes(gzip.compress(bytes(60_000_000)))
    with pytest.raises(JournalError):
        read(tmp_path / "zeros.gz")


def test_a_line_without_end_is_not_held_in_memory(tmp_path: Path) -> None:
    lines = write(tmp_path / "a", ONE_OF_EACH).split(b"\n")
    lines.insert(4, b"x" * 3_000_000)
    (tmp_path / "b").write_bytes(b"\n".join(lines))
    arrivals, report = read(tmp_path / "b")
    assert arrivals == [*ONE_OF_EACH[:2], Damaged(ONE_OF_EACH[1].t, 5), *ONE_OF_EACH[2:]]
    assert report.bad_lines == [(5, "line of over a megabyte")]


NO_JOURNALS = [
    (b"", "the file is empty"),
    (b"time_s,speed_kmh\n0,0\n", "coach import"),
    (bytes(range(256)) * 4, "binary"),
    (b'{"journal":1,"sour', "no header"),
    (b'{"journal":9,"source":"live","program":"9"}\n', "newer program"),
    (b'{"journal":1,"source":"live","program":"1","began":"last Friday"}\n', "no moment in ISO 8601"),
    (b"\x1f\x8b\x08garbage", "empty"),
]


@pytest.mark.parametrize(("content", "said"), NO_JOURNALS)
def test_what_is_no_journal_gets_one_clear_line(tmp_path: Path, content: bytes, said: str) -> None:
    (tmp_path / "f").write_bytes(content)
    with pytest.raises(NotAJournal, match=said) as found:
        open_journal(tmp_path / "f")
    assert "\n" not in str(found.value)


def test_a_missing_file_and_a_folder_get_one_clear_line(tmp_path: Path) -> None:
    with pytest.raises(NotAJournal, match="no such file"):
        open_journal(tmp_path / "gone")
    with pytest.raises(NotAJournal, match="a folder"):
        open_journal(tmp_path)


def test_an_existing_file_is_not_overwritten_and_a_failed_conversion_leaves_nothing(tmp_path: Path) -> None:
    before = write(tmp_path / "a", ONE_OF_EACH)
    with pytest.raises(CannotWrite, match="exists already"):
        JournalWriter(tmp_path / "a", Header(1, "live", "0"), Context())
    with (
        pytest.raises(RuntimeError),
        JournalWriter(tmp_path / "a", Header(1, "live", "0"), Context(), overwrite=True, steady=True) as journal,
    ):
        journal.write(ONE_OF_EACH[0])
        raise RuntimeError
    assert (tmp_path / "a").read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["a"]
