"""Jobs on disk: one folder a repair below `jobs/`, with `job.json` and the journals it names.

The record changes only under the folder's lock, by reading it afresh and putting a new one in its place at once, so two
programs on one job see each other's entries and neither ever reads half a file.
"""

import os
import shutil
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from msgspec.structs import replace

from coach.inspection.codes import assignment
from coach.inspection.parts import DrivenBy, Fuel
from coach.j1979.errors import UnknownItem
from coach.j1979.monitors import check_monitor
from coach.jobs.errors import CannotKeep, JobBusy, JobDamaged, JobError, NoSuchJob, SeveralOpen
from coach.jobs.ledger import Ledgered, leads_out, ledgered
from coach.jobs.lock import Locked
from coach.jobs.record_file import RECORD, check_unit, checked_codes, read_record, write_record
from coach.jobs.records import VERSION, Entry, JobRecord, Kind, Said, SignOff
from coach.jobs.sealing import seal_of
from coach.journal.errors import JournalError
from coach.journal.tail import has_last_line
from coach.ordinary import is_there

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
        return tuple((entry, path) for entry, path in found if path.is_file() and not leads_out(path))

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

    # ------------------------------------------------------------ the ledger

    def ledger(self) -> tuple[Ledgered, ...]:
        """Every file in order with its state now."""
        return tuple(ledgered(entry, self.folder / entry.file) for entry in self.record.entries)

    def seal(self, path: Path, when: datetime) -> None:
        """A file of the job was closed: how it is now stands in the ledger. JobError or JournalError when it cannot."""
        seal = seal_of(path, when)
        self._change_entry(path, lambda entry: replace(entry, sealed=seal, empty=False))

    def unseal(self, path: Path) -> None:
        """A file that was cut short is gone on with. JobError when it is not the one that was left."""
        if any(one.path == path and one.state == "changed" for one in self.again().ledger()):
            raise JobError(f"{path.name}: changed since it was recorded, so that it cannot be gone on with; begin anew")
        self._change_entry(path, lambda entry: replace(entry, sealed=None))

    def nothing_written(self, path: Path) -> None:
        """A name was reserved and its file never came to be: then nothing is missing."""
        self._change_entry(path, lambda entry: replace(entry, empty=True))

    def seal_rest(self, now: datetime, given_up_s: float) -> None:
        """Seal what was closed, or left without a last line for so long that nobody goes on with it.

        Nothing where the folder cannot be written or another program is at work: the next command does it.
        """
        for entry in self.record.entries:
            path = self.folder / entry.file
            with suppress(JobError, JournalError, OSError):
                if entry.sealed is None and path.is_file() and _is_over(path, now, given_up_s):
                    self._seal_unsealed(path, now)

    def _seal_unsealed(self, path: Path, now: datetime) -> None:
        seal = seal_of(path, now)

        def put(entry: Entry) -> Entry:
            if path.stat().st_size != seal.size_bytes:
                raise JobBusy(f"{path}: is being written")
            return replace(entry, sealed=seal) if entry.sealed is None else entry

        self._change_entry(path, put)

    def _change_entry(self, path: Path, change: Callable[[Entry], Entry]) -> None:
        def changed(record: JobRecord) -> JobRecord:
            entries = tuple(change(entry) if entry.file == path.name else entry for entry in record.entries)
            return replace(record, entries=entries)

        self._change(changed)

    # ------------------------------------------------------------ what the user said

    def told(
        self,
        rule: str | None = None,
        model_year: int | None = None,
        fuel: Fuel | None = None,
        gvwr_lb: float | None = None,
        against_the_car: bool | None = None,
        kind: DrivenBy | None = None,
        inspected: bool | None = None,
    ) -> None:
        """What a verdict has to know, told once: it need not be typed again. None leaves what stands there.

        A new model year or fuel is a new word: that the car is wrong has to be said with it.
        """

        def change(record: JobRecord) -> JobRecord:
            anew = model_year not in (None, record.model_year) or fuel not in (None, record.fuel)
            kept = False if anew else record.against_the_car
            return replace(
                record,
                rule=record.rule if rule is None else rule,
                model_year=record.model_year if model_year is None else model_year,
                fuel=record.fuel if fuel is None else fuel,
                gvwr_lb=record.gvwr_lb if gvwr_lb is None else gvwr_lb,
                against_the_car=kept if against_the_car is None else against_the_car,
                kind=record.kind if kind is None else kind,
                inspected=record.inspected if inspected is None else inspected,
            )

        self._change(change)

    def say(self, when: datetime, units: Mapping[str, str] | None = None, same_car: Sequence[str] = ()) -> None:
        """What became of control units, and which files are of the same car although they tell no sign of it.

        JobError for what `said_of` refuses.
        """
        said = self.said_of(when, units, same_car)
        self._change(lambda record: replace(record, said=(*record.said, *said)))

    def said_of(
        self, when: datetime, units: Mapping[str, str] | None = None, same_car: Sequence[str] = ()
    ) -> tuple[Said, ...]:
        """These words as they would be kept. JobError for no address, no such change, or no file of the job."""
        told = {address.strip().upper(): change.strip().lower() for address, change in (units or {}).items()}
        for address, became in told.items():
            check_unit(address, became)
        said = [Said(_iso(when), "unit", address, became) for address, became in told.items()]
        return (*said, *(Said(_iso(when), "same_car", self._own_file(name)) for name in same_car))

    def _own_file(self, name: str) -> str:
        known = [entry.file for entry in self.record.entries]
        if Path(name).name in known:
            return Path(name).name
        raise JobError(f"{name}: no file of this job; its files are {', '.join(known) or 'none yet'}")

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
        self.record = read_record(self.folder)
        return self

    def _change(self, change: Callable[[JobRecord], JobRecord]) -> None:
        with Locked(self.folder):
            before = read_record(self.folder)
            after = change(before)
            if after != before:
                write_record(self.folder, after)
            self.record = after


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
                write_record(folder, record)
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
                jobs.append(Job(path.parent, read_record(path.parent)))
            except JobDamaged as error:
                damaged.append(error)
        return tuple(sorted(jobs, key=lambda job: (job.record.opened, job.record.id))), tuple(damaged)

    def named(self, job_id: str) -> Job:
        """One job by its id or the path of its folder. NoSuchJob names those there are."""
        for folder in (self.folder / job_id, Path(job_id)):
            if is_there(folder / RECORD):
                return Job(folder, read_record(folder))
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


def _is_over(path: Path, now: datetime, given_up_s: float) -> bool:
    """Nobody writes to this file any more: it has its last line, or was left long ago."""
    return now.timestamp() - path.stat().st_mtime > given_up_s or has_last_line(path)


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
