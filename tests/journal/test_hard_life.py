"""A journal's hard life: a hundred megabytes, a writer killed in mid-line, a second line that is no context.

Numbers of records are invented; what must hold is design: bounded memory, at most the last second gone.
"""

import os
import signal
import subprocess
import sys
from pathlib import Path

from coach.car.arrivals import Answer, Reading
from coach.journal.reader import open_journal

HEADER = b'{"journal":1,"source":"imported","program":"test"}\n'
CONTEXT = b'{"context":{}}\n'
COUNT = """
import resource, sys
from pathlib import Path
from coach.journal.reader import open_journal
reader = open_journal(Path(sys.argv[1]))
count = sum(1 for _ in reader.arrivals())
print(count, reader.report.bad_count, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""
WRITE = """
import sys
from pathlib import Path
from coach.car.arrivals import Reading
from coach.journal.records import Context, Header
from coach.journal.writer import JournalWriter
journal = JournalWriter(Path(sys.argv[1]), Header(1, "live", "test"), Context())
for number in range(1_000_000):
    journal.write(Reading(number / 1000, "speed_kmh", float(number % 200)))
    print(number, flush=True)
"""


def _read_in_a_process(path: Path) -> tuple[int, int, int]:
    ran = subprocess.run([sys.executable, "-c", COUNT, str(path)], capture_output=True, text=True, check=True)
    count, bad, peak_kb = ran.stdout.split()
    return int(count), int(bad), int(peak_kb)


def test_a_hundred_megabytes_are_read_in_the_memory_of_one(tmp_path: Path) -> None:
    block = b"".join(b'{"t":%d.%03d,"rq":%d,"ecu":"7E8","hex":"410D37"}\n' % (i, i % 1000, i) for i in range(20_000))
    small, large = tmp_path / "small.journal", tmp_path / "large.journal"
    small.write_bytes(HEADER + CONTEXT + block)
    with large.open("wb") as file:
        file.write(HEADER + CONTEXT)
        for _ in range(100 * 1024 * 1024 // len(block) + 1):
            file.write(block)
    assert large.stat().st_size > 100 * 1024 * 1024
    few, _, least_kb = _read_in_a_process(small)
    many, bad, peak_kb = _read_in_a_process(large)
    assert (few, bad) == (20_000, 0)
    assert many == 20_000 * (100 * 1024 * 1024 // len(block) + 1)
    assert peak_kb - least_kb < 4096


def test_a_writer_that_is_killed_leaves_every_line_it_had_written(tmp_path: Path) -> None:
    path = tmp_path / "killed.journal"
    with subprocess.Popen([sys.executable, "-c", WRITE, str(path)], stdout=subprocess.PIPE, text=True) as writer:
        assert writer.stdout is not None
        said = [writer.stdout.readline() for _ in range(500)]
        os.kill(writer.pid, signal.SIGKILL)
    reader = open_journal(path)
    arrivals = list(reader.arrivals())
    assert len(arrivals) >= int(said[-1]) + 1
    assert reader.report.cut_short
    assert reader.report.bad_count <= 1  # the line it was in the middle of


def test_a_journal_without_context_is_read_from_its_second_line_on(tmp_path: Path) -> None:
    (tmp_path / "j").write_bytes(
        HEADER + b'{"t":1,"reading":"speed_kmh","value":50}\n{"t":2,"rq":1,"ecu":"7E8","hex":"41"}\n'
    )
    reader = open_journal(tmp_path / "j")
    assert reader.context is None
    assert list(reader.arrivals()) == [Reading(1.0, "speed_kmh", 50.0), Answer(2.0, 1, "7E8", b"\x41")]


def test_a_mistake_in_the_context_costs_that_part_only_and_is_said(tmp_path: Path) -> None:
    target, limits = b'"target":["catalist","catalyst"]', b'"limits":{"speed_max_kmh":90}'
    context = b'{"context":{"units":"imperial",' + target + b',"profile":{"id":"x"},' + limits + b"}}\n"
    (tmp_path / "j").write_bytes(HEADER + context)
    reader = open_journal(tmp_path / "j")
    reader.close()
    assert reader.context is not None
    assert (reader.context.target, reader.context.limits) == (["catalyst"], {"speed_max_kmh": 90})
    assert (reader.context.profile, reader.context.units) == (None, "metric")
    assert [mistake.partition(":")[0] for mistake in reader.report.context_mistakes] == ["units", "profile", "target"]


def test_a_reading_of_an_unknown_signal_is_kept_and_one_out_of_range_is_a_bad_line(tmp_path: Path) -> None:
    lines = b'{"t":1,"reading":"foo_bar","value":50}\n{"t":2,"reading":"speed_kmh","value":9999}\n'
    (tmp_path / "j").write_bytes(HEADER + CONTEXT + lines)
    reader = open_journal(tmp_path / "j")
    assert list(reader.arrivals()) == []
    assert (reader.report.unknown_records, reader.report.bad_count) == (1, 1)
