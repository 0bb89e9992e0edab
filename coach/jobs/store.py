"""Jobs on disk: one folder a repair below `jobs/`, with `job.json` and the journals it names.

The record changes only under the folder's lock, by reading it afresh and putting a new one in its place at once, so two
programs on one job see each other's entries and neither ever reads half a file.
"""

import os
import shutil
from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import datetime
from pathlib import Path

import msgspec
from msgspec.structs import replace

from coach.inspection.codes import assignment
from coach.j1979.dtc import is_code
from coach.j1979.errors import UnknownItem
from coach.j1979.monitors import check_monitor
from coach.jobs.errors import CannotKeep, JobDamaged, JobError, NoSuchJob, SeveralOpen
from coach.jobs.lock import Locked
from coach.jobs.records import VERSION, Entry, JobRecord, Kind, SignOff

RECORD = "job.json"
ROOM_BYTES = 50 << 20  # our judgement: a dozen drives of an hour
PROBE_BYTES = 1 << 16


class Job:
    """One job's folder. `record` is what was last read or written."""

    def __init__(self, folder: Path, record: JobRecord) -> None:
        self.folder = folder
        self.record = record

    @property
    def is_open(self) -> bool:
        """Not signed off."""
        return self.record.signed_off is None

    def files(self, *kinds: Kind) -> tuple[tuple[Entry, Path], ...]:
        """Entries of these kinds (all without any) with their paths, in order; what was never written is left out."""
        found = ((entry, self.folder / entry.file) for entry in self.record.entries if not kinds or entry.kind in kinds)
        return tuple((entry, path) for entry, path in found if path.is_file())

    def missing(self) -> tuple[Entry, ...]:
        """Entries whose file is not there: begun, and nothing was written."""
        return tuple(entry for entry in self.record.entries if not (self.folder / entry.file).is_file())

    def new_file(self, kind: Kind, began: datetime, note: str = "") -> Path:
        """Reserve a name for a new journal of this job; it is the job's from now on. Nothing is written there yet."""
        self.check_room()
        made: list[Path] = []

        def reserve(record: JobRecord) -> JobRecord:
            name = f"{len(record.entries) + 1:03d}-{kind}-{began:%Y-%m-%d-%H%M}.journal"
            made.append(self.folder / name)
            return replace(record, entries=(*record.entries, Entry(kind, name, _iso(began), note)))

        self._change(reserve)
        return made[-1]

    def repaired(
        self,
        codes: tuple[str, ...] = (),
        part: str | None = None,
        note: str | None = None,
        odometer_km: float | None = None,
        chosen: Mapping[str, str] | None = None,
    ) -> None:
        """What is known of the repair now: codes and choices are added, the rest takes the place of what stood there.

        JobError for something that is no trouble code, or a choice `check_choices` refuses.
        """
        codes = checked_codes(codes)
        check_text(part or "", note or "")

        def change(record: JobRecord) -> JobRecord:
            every = tuple(dict.fromkeys((*record.codes, *codes)))
            return replace(
                record,
                codes=every,
                part=record.part if part is None else part,
                note=record.note if note is None else note,
                odometer_km=record.odometer_km if odometer_km is None else odometer_km,
                chosen={**record.chosen, **check_choices(every, chosen or {})},
            )

        self._change(change)

    def sign_off(self, done: SignOff) -> None:
        """Close the job. JobError when it is closed already."""

        check_text(done.note)

        def change(record: JobRecord) -> JobRecord:
            if record.signed_off is not None:
                raise JobError(f"{record.id}: signed off already, {record.signed_off.when}")
            return replace(record, signed_off=done)

        self._change(change)

    def check_room(self) -> None:
        """CannotKeep, before anything begins, when the folder cannot be written or the disk is nearly full."""
        check_room(self.folder)

    def again(self) -> "Job":
        """Read the record anew: another program may have added to it."""
        self.record = _read(self.folder)
        return self

    def _change(self, change: Callable[[JobRecord], JobRecord]) -> None:
        with Locked(self.folder):
            self.record = change(_read(self.folder))
            _write(self.folder, self.record)


class JobStore:
    """All jobs below one data folder."""

    def __init__(self, data_folder: Path) -> None:
        self.folder = data_folder / "jobs"

    def new(
        self,
        opened: datetime,
        codes: tuple[str, ...] = (),
        part: str = "",
        note: str = "",
        odometer_km: float | None = None,
        profile: str | None = None,
        chosen: Mapping[str, str] | None = None,
    ) -> Job:
        """Open a new job. JobError for something that is no trouble code, CannotKeep when it cannot be written.

        `chosen`: the monitors the user names for codes that are in no table.
        """
        codes = checked_codes(codes)
        named = check_choices(codes, chosen or {})
        check_text(part, note)
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise CannotKeep(f"{self.folder}: cannot be made: {error.strerror}") from None
        check_room(self.folder)
        with Locked(self.folder):
            folder = self._fresh(f"{opened:%Y-%m-%d}" + (f"-{codes[0].lower()}" if codes else ""))
            record = JobRecord(VERSION, folder.name, _iso(opened), codes, part, note, odometer_km, named, profile)
            try:
                _write(folder, record)
            except CannotKeep:
                folder.rmdir()
                raise
        return Job(folder, record)

    def _fresh(self, stem: str) -> Path:
        for number in range(1, 1000):
            folder = self.folder / (stem if number == 1 else f"{stem}-{number}")
            try:
                folder.mkdir()
            except FileExistsError:
                continue
            except OSError as error:
                raise CannotKeep(f"{folder}: cannot be made: {error.strerror}") from None
            return folder
        raise CannotKeep(f"{self.folder}: too many jobs begun on this day")

    def all(self) -> tuple[tuple[Job, ...], tuple[JobDamaged, ...]]:
        """Every job, oldest first, and what is wrong with those that cannot be read."""
        jobs, damaged = [], []
        for path in sorted(self.folder.glob(f"*/{RECORD}")):
            try:
                jobs.append(Job(path.parent, _read(path.parent)))
            except JobDamaged as error:
                damaged.append(error)
        return tuple(sorted(jobs, key=lambda job: (job.record.opened, job.record.id))), tuple(damaged)

    def named(self, job_id: str) -> Job:
        """One job by its id or the path of its folder. NoSuchJob names those there are."""
        for folder in (self.folder / job_id, Path(job_id)):
            if (folder / RECORD).is_file():
                return Job(folder, _read(folder))
        known = ", ".join(job.record.id for job in self.all()[0]) or "none yet"
        raise NoSuchJob(f"no job {job_id!r}; there are: {known}")

    def open_job(self) -> Job | None:
        """The job that is open, none when there is none. SeveralOpen when one has to be named."""
        found = [job for job in self.all()[0] if job.is_open]
        if len(found) > 1:
            raise SeveralOpen(
                f"several jobs are open: {', '.join(job.record.id for job in found)}; name one with --job"
            )
        return found[0] if found else None


def check_room(folder: Path) -> None:
    """CannotKeep when the folder cannot be written or the disk is nearly full; it is said before anything begins."""
    probe = folder / f".probe-{os.getpid()}"
    try:
        free = shutil.disk_usage(folder).free
        probe.write_bytes(b"\0" * PROBE_BYTES)
    except OSError as error:
        raise CannotKeep(f"{folder}: cannot be written: {error.strerror}; name another folder with --jobs") from None
    finally:
        with suppress(OSError):  # where nothing can be written nothing was
            probe.unlink(missing_ok=True)
    if free < ROOM_BYTES:
        raise CannotKeep(f"{folder}: only {free >> 20} MB free; make room, or name another folder with --jobs")


def check_text(*texts: str) -> None:
    """JobError for bytes that are no text: a terminal that is not set to UTF-8 hands them on as they are."""
    for text in texts:
        try:
            text.encode()
        except UnicodeEncodeError as error:
            where = f"behind {text[: error.start]!r}" if error.start else "at its beginning"
            raise JobError(f"the note or part holds bytes that are not UTF-8 {where}; type it anew") from None


def checked_codes(codes: tuple[str, ...]) -> tuple[str, ...]:
    """The codes as they are written, each once. JobError for something that is none."""
    written = tuple(dict.fromkeys(code.strip().upper() for code in codes))
    for code in written:
        if not is_code(code):
            raise JobError(f"{code!r} is not a trouble code such as P0420")
    return written


def check_choices(codes: tuple[str, ...], chosen: Mapping[str, str]) -> dict[str, str]:
    """Monitors by code. JobError for a monitor that is none, a code the job has not, or one a table knows already."""
    found = {}
    for code, monitor in chosen.items():
        code, monitor = code.strip().upper(), monitor.strip().lower().replace(" ", "_").replace("-", "_")
        if code not in codes:
            raise JobError(
                f"{code} is no code of this job ({', '.join(codes) or 'none yet'}); add it with --code {code}"
            )
        if (known := assignment(code)) is not None and not known.unread:
            raise JobError(f"{code}: its monitor is known, {known.monitor}; only a code in no table takes another")
        try:
            found[code] = check_monitor(monitor)
        except UnknownItem as error:
            raise JobError(str(error)) from None
    return found


def _iso(when: datetime) -> str:
    return when.isoformat(timespec="seconds")


def _read(folder: Path) -> JobRecord:
    path = folder / RECORD
    try:
        record = msgspec.json.decode(path.read_bytes(), type=JobRecord)
    except FileNotFoundError:
        raise NoSuchJob(f"{folder}: no job there") from None
    except OSError as error:
        raise JobDamaged(f"{path}: cannot be read: {error.strerror}") from None
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise JobDamaged(f"{path}: no record of a job: {error}; the journals beside it are whole") from None
    if record.job != VERSION:
        raise JobDamaged(f"{path}: job format {record.job}, this program reads {VERSION}; use a newer program")
    return _in_order(record, path)


def _in_order(record: JobRecord, path: Path) -> JobRecord:
    """A record somebody edited may name what is no code, no monitor, or a file elsewhere."""
    try:
        codes = checked_codes(record.codes)
        for monitor in record.chosen.values():
            check_monitor(monitor)
    except (JobError, UnknownItem) as error:
        raise JobDamaged(f"{path}: {error}") from None
    outside = [entry.file for entry in record.entries if Path(entry.file).name != entry.file]
    if outside:
        raise JobDamaged(f"{path}: {outside[0]!r} is no file of this job's folder")
    for entry in record.entries:
        try:
            datetime.fromisoformat(entry.when)
        except ValueError:
            raise JobDamaged(f"{path}: {entry.when!r}, of {entry.file}, is no moment in ISO 8601") from None
    return replace(record, codes=codes)


def _write(folder: Path, record: JobRecord) -> None:
    """Put the new record in place at once: whoever reads sees the old one or the new one."""
    part = folder / f"{RECORD}.{os.getpid()}.part"
    try:
        with part.open("wb") as file:
            file.write(msgspec.json.format(msgspec.json.encode(record), indent=1) + b"\n")
            file.flush()
            os.fsync(file.fileno())
        part.replace(folder / RECORD)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise CannotKeep(f"{folder / RECORD}: cannot be written: {error.strerror}; the old record stands") from None
