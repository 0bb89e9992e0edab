"""Cars, files and users that say what steers a terminal: titles, colours, turned text, forged lines, markup, paths.

All of it is invented. `EVIL` holds one of each kind; `harmless` is what must be true of everything that is shown.
"""

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import msgspec

from coach.car.arrivals import Answer, Arrival, LinkChange, Mark, Outcome, Request, Unparsed
from coach.jobs.records import SignOff
from coach.jobs.store import Job, JobStore
from coach.journal.reader import open_journal
from coach.journal.records import Context, Header
from coach.journal.writer import JournalWriter
from coach.library import profile_text, shipped
from coach.visible import HIDDEN

FORGED = "FORGED: confirmed"
STEERING = "\x1b]0;title\x07\x1b[31m\x9b2J\x7f\u202e\u2066\u200e\u061c\u200b\ue000\ufeff\u2028\u2029\x85"
EVIL = f"Evil {STEERING}[@click=app.quit][b]../../etc/passwd[/b]\r\n{FORGED}"
"""What a text of a file may be; it begins with a plain word, so that it can be found."""
EVIL_BYTES = b"Ev\x1b[31m\x9b2J\x07\n" + FORGED[:6].encode()
EVIL_NAME = "evil \x1b[31m\u202e[b] x"
"""A file's name may hold all but a slash and a NUL."""
WHEN = datetime(2026, 11, 19, 18, 0, tzinfo=UTC)
TOML = "".join(rf"\u{ord(letter):04x}" for letter in "\x1b[31m\u202e\r\n") + FORGED
QUOTED = re.compile(r'^((?:name|description|instruction|why|words|title|source|status_words|source_date) = ")', re.M)
LISTED = re.compile(r'^((?:cautions|notes|advice) = \[\s*")', re.M)


def harmless(text: str, shows: bool = True) -> None:
    """Nothing in it steers, no line is forged; `shows`: what is hidden was shown, so something was there to check."""
    found = HIDDEN.search(text)
    assert found is None, (found, text[max(0, found.start() - 60) : found.end() + 20])
    assert not [line for line in text.splitlines() if line.startswith(FORGED[:6])], text
    assert "[U+" in text or "\\x1b" in text or not shows, text


def evil_toml(text: str) -> str:
    """A profile or rule with something steering in every text of it that is shown."""
    changed, count = QUOTED.subn(lambda found: found[1] + "Evil " + TOML + " ", text)
    changed, more = LISTED.subn(lambda found: found[1] + "Evil " + TOML + " ", changed)
    assert count + more > 5
    return changed


def evil_arrivals(arrivals: list[Arrival]) -> list[Arrival]:
    """A drive in which control units, adapter and user say what they should not."""
    t, end = arrivals[0].t, arrivals[-1].t
    name = bytes([0x49, 0x0A, 1]) + EVIL_BYTES.ljust(20, b"\0")[:20]
    calibration = bytes([0x49, 0x04, 1]) + EVIL_BYTES[:16].ljust(16, b"\0")
    said: list[Arrival] = [
        Request(t, 900_001, "090A"),
        Answer(t, 900_001, "7E8", name),
        Request(t, 900_002, "0904"),
        Answer(t, 900_002, "7E8", calibration),
        Request(t, 900_003, "0902"),
        Answer(t, 900_003, "7E8", bytes([0x49, 0x02, 1]) + EVIL_BYTES.ljust(17, b"x")[:17]),
        LinkChange(t, "up", EVIL),
        Mark(t, EVIL),
    ]
    rest: list[Arrival] = [
        Mark(end, EVIL),
        Request(end, 900_004, "0101"),
        Unparsed(end, 900_004, (EVIL, EVIL)),
        Outcome(end, 900_004, "garbled", EVIL),
    ]
    return [*said, *arrivals, *rest]


def evil_journal(path: Path, source: str = "misfire_comes_back") -> Path:
    """A journal with all of it, its own profile too."""
    reader = open_journal(shipped("replays") / f"{source}.journal.gz")
    arrivals = list(reader.arrivals())
    assert reader.context is not None and reader.context.profile is not None
    header = Header(1, "live", EVIL, WHEN.isoformat(), EVIL, EVIL, reader.header.can)
    profile = {"id": EVIL, "text": evil_toml(profile_text(reader.context.profile["id"]))}
    known: dict[str, Any] = {**(reader.context.known or {}), "soak_proof": EVIL, "repaired": {EVIL: "catalyst"}}
    context = Context(profile, {EVIL: EVIL}, None, {EVIL: EVIL}, "metric", known)
    with JournalWriter(path, header, context, overwrite=True) as journal:
        for arrival in evil_arrivals(arrivals):
            journal.write(arrival)
    return path


@dataclass(frozen=True)
class World:
    """A folder of a user in which everything is hostile. `job` is open, `closed` is signed off."""

    folder: Path
    journal: Path
    job: Job
    closed: Job
    table: Path
    profile: Path
    rule: Path
    mapping: Path
    broken: Path


def evil_job(folder: Path, signed_off: bool) -> Job:
    """A job whose record was written by somebody else: texts, notes, files, an end."""
    job = JobStore(folder).new(WHEN, ("P0301",), "part", "note")
    for kind in ("before", "drive"):
        evil_journal(job.new_file(kind, WHEN))  # type: ignore[arg-type]
    path = job.folder / "job.json"
    record = msgspec.json.decode(path.read_bytes())
    name = f"003-{EVIL_NAME}.journal"
    (job.folder / name).write_text("no journal\n")
    record |= {"id": job.record.id if not signed_off else EVIL, "part": EVIL, "note": EVIL, "opened": EVIL}
    record["entries"] += [{"kind": "drive", "file": name, "when": WHEN.isoformat(), "note": EVIL}]
    record["entries"] += [{"kind": "drive", "file": f"004-{EVIL_NAME}", "when": WHEN.isoformat(), "note": EVIL}]
    record["said"] = [{"when": WHEN.isoformat(), "what": "same_car", "name": EVIL, "value": EVIL}]
    record |= {"kind": EVIL, "profile": EVIL}
    if signed_off:
        done = SignOff(EVIL, EVIL, EVIL, EVIL, EVIL, EVIL, "memory", ("catalyst",), EVIL)
        record["signed_off"] = msgspec.to_builtins(done)
    path.write_bytes(msgspec.json.encode(record))
    return job.again()


def world(folder: Path) -> World:
    """All of it in one folder."""
    (folder / "drives").mkdir(parents=True)
    journal = evil_journal(folder / "drives" / f"drive-{EVIL_NAME}.journal")
    quoted = EVIL.replace('"', "'")
    table = folder / f"{EVIL_NAME}.csv"
    rows = "".join(f"{t},{t % 90},1,2,3\n" for t in range(60))
    table.write_text(
        f'time_s,"speed (km/h)","{quoted}","{quoted} (km/h)","speed {STEERING}"\n{rows}', "utf-8", newline=""
    )
    profile, rule = folder / f"{EVIL_NAME}.toml", folder / f"rule {EVIL_NAME}.toml"
    profile.write_text(evil_toml(profile_text("hybrid")), "utf-8")
    rule.write_text(evil_toml((shipped("profiles") / "inspection" / "us-il.toml").read_text("utf-8")), "utf-8")
    mapping = folder / f"map {EVIL_NAME}.toml"
    mapping.write_text('[columns]\n"\\u001b[31m" = "speed_kmh"\n', "utf-8")
    broken = folder / f"broken {EVIL_NAME}.toml"
    broken.write_text(f'"\\u001b[31m\\n{FORGED}" = 1\nname = "\\u202e"\n', "utf-8")
    damaged = folder / "jobs" / f"zz {EVIL_NAME}"
    damaged.mkdir(parents=True)
    (damaged / "job.json").write_text('{"job": 1, "id": "\\u001b[31m"', "utf-8")
    closed = evil_job(folder, signed_off=True)
    job = evil_job(folder, signed_off=False)
    return World(folder, journal, job, closed, table, profile, rule, mapping, broken)
