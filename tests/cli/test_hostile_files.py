"""No file gives a traceback, hangs, fills the memory or spoils its neighbours: each gets one line that names it.

Files are invented. What must hold is design: bounded memory, one clear line, exit code 2 where nothing could be read.
"""

import gzip
import json
import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import msgspec
import pytest

from coach.cli import main
from coach.jobs.store import JobStore
from coach.library import profile_text, shipped
from tests.cli.test_hostile_words import EvilSource

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pipes and devices of this kind are POSIX")
HEADER = b'{"journal":1,"source":"live","program":"x","can":true%s}\n'
CONTEXT = b'{"context":{%s}}\n'
HEAD = HEADER % b"" + CONTEXT % b""
DEEP = b"[" * 100_000 + b"]" * 100_000
HUGE = b"1" + b"0" * 400
READ, REFUSED = (0, 1, 3), (2,)
LONGEST_S = 15
MOST_HAPPENINGS, MOST_NOTES_BYTES = 400, 1 << 18
"""Smaller than the program's own, so that what goes beyond is quickly made; the last test has the real ones."""
MEMORY_KB = 60 * 1024
WHEN = datetime(2026, 11, 19, 18, 0, tzinfo=UTC)

Files = dict[str, tuple[bytes, tuple[int, ...]]]


def began(moment: str) -> bytes:
    return HEADER % f',"began":"{moment}"'.encode() + CONTEXT % b"" + b'{"t":2500000,"reading":"speed_kmh","value":5}\n'


RECORDINGS: Files = {
    "nested line": (HEAD + b'{"t":1,"choice":{"a":' + DEEP + b"}}\n", READ),
    "nested unknown": (HEAD + b'{"t":1,"a":' + DEEP + b"}\n", READ),
    "nested context": (HEADER % b"" + CONTEXT % (b'"known":' + DEEP), READ),
    "nested header": (b'{"journal":1,"source":"live","program":"x","a":' + DEEP + b"}\n", REFUSED),
    "nested alone": (DEEP, REFUSED),
    "nested profile": (HEADER % b"" + CONTEXT % b'"profile":{"id":"x","text":"a = %s"}' % DEEP[:200_000:20], READ),
    "broken profile": (HEADER % b"" + CONTEXT % b'"profile":{"id":"x","text":"name = 1"}', READ),
    "year 9999": (began("9999-12-31T23:59:59+00:00"), REFUSED),
    "year 9999 west": (began("9999-12-31T23:59:59-23:59"), REFUSED),
    "year 1": (began("0001-01-01T00:00:00+14:00"), REFUSED),
    "year 2999": (began("2999-12-31T23:59:59-23:59"), READ),
    "year 1971": (began("1971-01-01T00:00:00+23:59"), READ),
    "no zone": (began("2026-01-01 00:00"), READ),
    "no moment": (began("\\u001b[31m"), REFUSED),
    "large choices": (
        HEAD + b'{"t":1,"choice":{"answer":{"rpm":%s,"speed_kmh":-5,"fuel_level_pct":1e308,"soak_s":%s},'
        b'"speed_max_kmh":%s,"target":[["a"],1,null],"skip":{"a":1},"unskip":[1]}}\n' % (HUGE, HUGE, HUGE),
        READ,
    ),
    "odd choices": (HEAD + b'{"t":1,"choice":{"answer":[1],"target":7,"skip":null,"unit":{"7E8":[]}}}\n', READ),
    "large known": (
        HEADER % b"" + CONTEXT % b'"known":{"soak_s":%s,"fuel_before_pct":1e308,"repaired":{"P0420":[1],"x":"y"}},'
        b'"limits":{"speed_max_kmh":%s},"target":["x"],"units":7' % (HUGE, HUGE),
        READ,
    ),
    "odd known": (HEADER % b"" + CONTEXT % b'"known":{"soak_s":"a","repaired":[1],"car":7}', READ),
    "late footer": (HEAD + b'{"footer":{"reason":"x","t_end":1e308,"counts":{"mark":%s}}}\n' % HUGE, READ),
    "large numbers": (HEAD + b'{"t":1,"id":%s,"ask":"010D"}\n{"t":2,"clock_back_s":1e308}\n' % HUGE, READ),
    "late records": (HEAD + b'{"t":2592000,"mark":"x"}\n{"t":2592001,"mark":"x"}\n', READ),
    "odd addresses": (HEAD + b'{"t":1,"rq":1,"ecu":"../..\\n","hex":"410100076500"}\n', READ),
    "long request": (HEAD + b'{"t":1,"id":1,"ask":"' + b"01" * 1000 + b'"}\n', READ),
    "many units": (HEAD + b"".join(b'{"t":1,"rq":1,"ecu":"%X","hex":"4300"}\n' % i for i in range(500)), REFUSED),
    "marks": (HEAD + b'{"t":1,"mark":"note"}\n' * 2000, REFUSED),
    "long marks": (HEAD + (b'{"t":1,"mark":"' + b"x" * 100_000 + b'"}\n') * 3, REFUSED),
    "links": (HEAD + b'{"t":1,"link":"up"}\n{"t":1,"link":"lost"}\n' * (MOST_HAPPENINGS // 2 + 1), REFUSED),
    "zeros": (bytes(2 << 20), REFUSED),
    "zeros behind": (HEAD + bytes(2 << 20), READ),
    "packed zeros": (gzip.compress(HEAD + bytes(32 << 20)), REFUSED),
    "one line": (HEAD + b'{"t":1,"mark":"' + b"x" * (2 << 20) + b'"}\n', READ),
    "one word": (b"x" * (2 << 20), REFUSED),
    "blank lines": (HEAD + b"\n" * 50_000, READ),
    "not UTF-8": (HEAD + b'{"t":1,"mark":"\xff\xfe"}\n', READ),
    "half a pair": (HEAD + b'{"t":1,"mark":"\\ud800"}\n', READ),
    "empty": (b"", REFUSED),
    "columns": (b"time_s," + b",".join(b"c%d" % i for i in range(200_000)) + b"\n" + b"1," * 200_000, REFUSED),
    "still table": (b"time_s,speed_kmh,rpm,coolant_c\n" + b"1,50,2000,90\n" * 5_000, READ),
    "late table": (b"time,speed (km/h)\n" + b"".join(b"9999-12-31T23:59:%02d,50\n" % i for i in range(60)), READ),
    "early table": (b"time,speed (km/h)\n" + b"".join(b"0001-01-01T00:00:%02d,50\n" % i for i in range(60)), READ),
    "NULs in a table": (b"time_s,speed_kmh\n1,2\n\0\0\0\n" * 40, REFUSED),
    "long cell": (b'time_s,speed_kmh\n1,"' + b"x" * 300_000 + b'"\n2,50\n', (0, 2)),
    "late transcript": (b"9999-12-31 23:59:59.9 >010D\n9999-12-31 23:59:59.9 7E8 03 41 0D 32\n" * 9, READ),
    "epoch": (b"1999999999999 >010D\n1999999999999 7E8 03 41 0D 32\n" * 9, READ),
    "late capture": (b"(99999999999.5) can0 7DF#02010D\n(99999999999.6) can0 7E8#03410D32\n" * 3, READ),
}
"""Whatever may be named as a recording, and whether something of it can be told."""
JOURNALS = [name for name, (raw, _) in RECORDINGS.items() if raw.startswith(HEADER[:20])]

PROFILE = profile_text("hybrid").encode()
TEXTS: dict[str, bytes] = {
    "nested": b"a = " + DEEP,
    "nested keys": b"a" + b".a" * 20_000 + b" = 1",
    "no TOML": b"\0\1\2",
    "not UTF-8": b"name = \xff",
    "empty": b"",
    "infinite": PROFILE.replace(b'value = "50 mph"', b"value = inf", 1) + b"\n[x]\ny = nan\n",
    "huge number": b"year = " + HUGE,
    "huger number": b"year = 1" + b"0" * 5000,
    "large quantity": PROFILE.replace(b' min"', b"0" * 400 + b' min"'),
    "filled in": PROFILE.replace(b"{low}", b"{low:9999999999}").replace(b"{to}", b"{to.__class__}"),
    "another hold's": PROFILE.replace(b"{low}", b"{from}").replace(b"{to}", b"{}"),
    "unclosed": PROFILE.replace(b"{low}", b"{low"),
    "large": b"# x\n" * (2 << 20),
}
"""Whatever may be named as a profile, a rule or a mapping; nothing of any can be used."""


@pytest.fixture(autouse=True)
def within_a_while(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A command that hangs fails instead of standing there."""

    monkeypatch.setattr("coach.session.bounded.MOST_HAPPENINGS", MOST_HAPPENINGS)
    monkeypatch.setattr("coach.journal.reader.MOST_NOTES_BYTES", MOST_NOTES_BYTES)

    def too_long(*_: object) -> None:
        raise AssertionError("it hangs")

    before = signal.signal(signal.SIGALRM, too_long)
    signal.alarm(LONGEST_S)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


@pytest.fixture(scope="module")
def recordings(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("recordings")
    return {name: written(folder / name, raw) for name, (raw, _) in RECORDINGS.items()}


def written(path: Path, raw: bytes) -> Path:
    path.write_bytes(raw)
    return path


def no_files(folder: Path) -> list[Path]:
    """What has a name and is no file: a pipe, devices, a folder, a socket, links to nothing, names too long."""
    os.mkfifo(folder / "pipe.toml")
    (folder / "folder.toml").mkdir()
    (folder / "round.toml").symlink_to(folder / "round.toml")
    (folder / "nowhere.toml").symlink_to(folder / "gone")
    for name in ("zero", "null"):
        (folder / f"{name}.toml").symlink_to(f"/dev/{name}")
    with socket.socket(socket.AF_UNIX) as listening:
        here = Path.cwd()
        os.chdir(folder)  # a socket's whole path may be no longer than a hundred letters
        listening.bind("socket.toml")
        os.chdir(here)
    return [*sorted(folder.iterdir()), folder / f"{'x' * 300}.toml", folder / "gone.toml"]


def told(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, str, list[str]]:
    """Exit code, output, and the lines on standard error."""
    code = main(arguments)
    said = capsys.readouterr()
    assert "fault of this program" not in said.err, said.err
    return code, said.out, said.err.splitlines()


def refused(path: Path, arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 2, nothing on standard output, one line that names the file."""
    code, out, lines = told(arguments, capsys)
    assert (code, out) == (2, ""), (arguments, lines)
    assert lines and all(line.startswith("coach: ") and str(path) in line for line in lines), lines
    assert max(map(len, lines)) < 2000


# ---------------------------------------------------------------- recordings


@pytest.mark.parametrize("name", RECORDINGS)
def test_every_command_that_reads_a_recording_reads_it_or_says_in_one_line_why_not(
    name: str, recordings: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, codes = recordings[name], RECORDINGS[name][1]
    out = tmp_path / "out.journal"
    for arguments in (["review", "--full"], ["review", "--json"], ["report", "--rules", "us-il"], ["report", "--json"]):
        code, shown, lines = told([*arguments, str(path)], capsys)
        assert code in codes, (arguments, lines)
        if code == 2:
            assert shown == "" and len(lines) == 1 and lines[0].startswith("coach: "), lines
            assert str(path) in lines[0]
        elif "--json" in arguments:
            assert json.loads(shown, parse_constant=lambda word: pytest.fail(word))
    code, _, lines = told(["import", str(path), "-o", str(out)], capsys)
    assert code == 2 or (code == 0 and told(["review", str(out)], capsys)[0] == 0)
    assert code == 0 or sum(str(path) in line for line in lines) == 1, lines


def test_what_is_no_file_is_named_by_every_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = no_files(tmp_path)
    assert len(found) == 9
    table = written(tmp_path / "table.csv", b"time_s,speed_kmh\n1,2\n2,3\n")
    for path in found:
        named = str(path)
        commands = [
            *(["review", named], ["report", named], ["import", named, "-o", str(tmp_path / "out")]),
            *(["review", "--profile", named, str(table)], ["review", "--mapping", named, str(table)]),
            *(["profiles", "show", named], ["profiles", "check", named], ["rules", "show", named]),
            *(["report", str(table), "--rules", named], ["drive", "--port", "/dev/x", "--profile", named]),
            *(["import", str(table), "-o", str(tmp_path / "out"), "--profile", named],),
            ["simulate", "--drive-schedule", named],
        ]
        for arguments in commands:
            code, out, lines = told(arguments, capsys)
            assert code == 2 or (arguments[0] == "drive" and code == 4), (arguments, lines)
            assert out == "" and sum(path.name[:40] in line for line in lines) == 1, (arguments, lines)
    assert not (tmp_path / "out").exists()


def test_a_journal_is_written_over_nothing_that_is_no_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    table = written(tmp_path / "table.csv", b"time_s,speed_kmh\n1,2\n2,3\n")
    for path in no_files(tmp_path)[:5]:
        if path.name in ("nowhere.toml", "round.toml"):
            continue  # a link to nothing gives way to a file
        code, _, lines = told(["import", str(table), "-o", str(path), "--overwrite"], capsys)
        assert code == 2 and str(path) in lines[-1], lines
        assert not path.is_file()


@pytest.mark.parametrize("name", TEXTS)
def test_a_profile_a_rule_or_a_mapping_that_cannot_be_used_is_named(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = written(tmp_path / "own.toml", TEXTS[name])
    table = written(tmp_path / "table.csv", b"time_s,speed_kmh\n1,2\n2,3\n")
    for arguments in (
        *(["profiles", "check", str(path)], ["profiles", "show", str(path)], ["rules", "show", str(path)]),
        *(["review", str(table), "--profile", str(path)], ["review", str(table), "--mapping", str(path)]),
        *(["report", str(table), "--profile", str(path)], ["report", str(table), "--rules", str(path)]),
    ):
        refused(path, arguments, capsys)


# ---------------------------------------------------------------- jobs and drives


def a_job(folder: Path, files: list[tuple[str, Any]]) -> Path:
    """A job with these files among its own; a path is what the file is a link to."""
    job = JobStore(folder).new(WHEN, ("P0301",))
    good = shipped("replays") / "misfire_comes_back.journal.gz"
    for kind, content in [("drive", gzip.decompress(good.read_bytes())), *files]:
        path = job.new_file(kind, WHEN)  # type: ignore[arg-type]
        if isinstance(content, bytes):
            path.write_bytes(content)
        elif content == "pipe":
            os.mkfifo(path)
        elif content == "folder":
            path.mkdir()
        else:
            path.symlink_to(content)
    return job.folder


def test_one_bad_file_leaves_the_rest_of_a_job_readable(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    secret = written(tmp_path / "secret.journal", began("2026-01-01T00:00:00+00:00"))
    few = JOURNALS[::2]
    bad: list[tuple[str, Any]] = [("drive", RECORDINGS[name][0]) for name in few]
    bad += [("between", "pipe"), ("between", "folder"), ("before", "/dev/zero"), ("before", secret)]
    bad += [("clear", b"time_s,speed_kmh\n1,2\n")]
    folder = a_job(tmp_path, bad)
    jobs = ["--jobs", str(tmp_path)]
    code, page, _ = told(["job", "show", folder.name, *jobs], capsys)
    assert code in (1, 3)
    assert "001-drive-2026-11-19-1800.journal" in page
    unread = [line for line in page.splitlines() if "not readable: " in line]
    refused_journals = [name for name in few if RECORDINGS[name][1] == REFUSED]
    assert refused_journals and len(unread) == len(refused_journals) + 3  # and two links, and the table
    assert all("journal: " in line for line in unread)
    assert "a link out of the job's folder" in page and "secret" not in page
    for arguments in (
        *(["job", "show", folder.name, "--json"], ["report", folder.name, "--rules", "us-il"]),
        *(["report", folder.name, "--json"], ["report", folder.name, "--profile", "hybrid"], ["job", "list"]),
        *(["job", "list", "--json"], ["job", "sign-off", folder.name, "--anyway"]),
    ):
        code, shown, lines = told([*arguments, *jobs], capsys)
        assert code in READ and folder.name in shown, (arguments, lines)


RECORDS: dict[str, Any] = {
    "nested": b'{"job":1,"id":"x","opened":"x","codes":' + DEEP + b"}",
    "year 9999": {"entries": [{"kind": "drive", "file": "a.journal", "when": "9999-12-31T23:59:59-23:59"}]},
    "elsewhere": {"entries": [{"kind": "drive", "file": "../a.journal", "when": WHEN.isoformat()}]},
    "no code": {"codes": ["\x1b[31m"]},
    "no monitor": {"signed_off": {"when": "x", "outcome": "x", "incomplete": ["x"]}},
    "no year": b'{"job":2,"id":"x","opened":"2026","model_year":1' + b"0" * 5000 + b"}",
    "large": b" " * (5 << 20),
    "zeros": bytes(1000),
    "not UTF-8": b'{"job":1,"id":"\xff"}',
    "pipe": "pipe",
    "folder": "folder",
    "zero": Path("/dev/zero"),
}


def damaged_records(store: JobStore) -> None:
    """A job for each record that cannot be believed."""
    for name, content in RECORDS.items():
        folder = store.folder / f"bad {name}"
        folder.mkdir(parents=True)
        path = folder / "job.json"
        if isinstance(content, dict):
            path.write_bytes(msgspec.json.encode({"job": 1, "id": "x", "opened": "2026", **content}))
        elif isinstance(content, bytes):
            path.write_bytes(content)
        elif isinstance(content, Path):
            path.symlink_to(content)
        else:
            os.mkfifo(path) if content == "pipe" else path.mkdir()


def test_one_bad_record_leaves_the_other_jobs_readable(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    good = a_job(tmp_path, [])
    damaged_records(JobStore(tmp_path))
    jobs = ["--jobs", str(tmp_path)]
    code, page, lines = told(["job", "list", *jobs], capsys)
    assert code == 0 and good.name in page
    assert len(lines) == len(RECORDS)
    for name in RECORDS:
        assert sum(f"bad {name}/job.json: " in line for line in lines) == 1, (name, lines)
        refused(Path(f"bad {name}/job.json"), ["job", "show", f"bad {name}", *jobs], capsys)
        refused(Path(f"bad {name}/job.json"), ["report", f"bad {name}", *jobs], capsys)
    assert told(["job", "show", *jobs], capsys)[0] in READ  # the only one that is open


@pytest.mark.parametrize("name", JOURNALS)
def test_a_broken_off_drive_is_gone_on_with_or_named(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("coach.session.live.LiveSource", EvilSource)
    (tmp_path / "drives").mkdir()
    path = written(tmp_path / "drives" / "drive-2026.journal", RECORDINGS[name][0])
    arguments = ["drive", "--plain", "--go-on", "--port", "/dev/x", "--jobs", str(tmp_path)]
    code, _, lines = told(arguments, capsys)
    assert code in (0, 1, 2, 3), lines
    if code == 2:
        assert all(path.name in line or "no drive was broken off" in line for line in lines), lines


@pytest.mark.parametrize("name", ["nested line", "year 2999", "marks", "nested alone"])
def test_a_new_drive_begins_whatever_stands_beside_it(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("coach.session.live.LiveSource", EvilSource)
    (tmp_path / "drives").mkdir()
    written(tmp_path / "drives" / "drive-2026.journal", RECORDINGS[name][0])
    os.mkfifo(tmp_path / "drives" / "drive-2027.journal")
    code, out, _ = told(["drive", "--plain", "--new", "--port", "/dev/x", "--jobs", str(tmp_path)], capsys)
    assert code in (0, 1) and "The journal: " in out


# ---------------------------------------------------------------- memory

WALK = """
import sys
from pathlib import Path
from coach.cli import main
assert [main(["review", "--full", path]) for path in sys.argv[1:]] == [2, 2, 0, 0]
status = dict(line.split(":", 1) for line in Path("/proc/self/status").read_text().splitlines())
print(status["VmHWM"].split()[0], file=sys.stderr)
"""
"""The most memory it ever held, in kB: the kernel counts it for this program alone, its parent's left out."""


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="the kernel tells it there")
def test_files_of_any_size_are_read_in_sixty_megabytes(tmp_path: Path) -> None:
    """The limits are the program's own here."""
    row = b"%d," + b"1.5," * 1900 + b"\n"
    paths = [
        written(tmp_path / "marks", HEAD + b'{"t":1,"mark":"note"}\n' * 100_000),
        written(tmp_path / "columns", RECORDINGS["columns"][0]),
        written(tmp_path / "sparse", HEAD),
        written(tmp_path / "wide", b"time_s,speed_kmh" + b",x" * 1900 + b"\n" + b"".join(row % i for i in range(300))),
    ]
    os.truncate(paths[2], 48 << 20)
    ran = subprocess.run([sys.executable, "-c", WALK, *map(str, paths)], capture_output=True, text=True, check=True)
    assert int(ran.stderr.splitlines()[-1]) < MEMORY_KB
