"""Reads and writes `job.json`. Whoever reads sees a whole record, the old one or the new one."""

import os
import re
from contextlib import suppress
from pathlib import Path
from typing import Any

import msgspec
from msgspec.structs import replace

from coach.j1979.dtc import is_code
from coach.j1979.errors import UnknownItem
from coach.j1979.monitors import check_monitor
from coach.jobs.errors import CannotKeep, JobDamaged, JobError, NoSuchJob
from coach.jobs.records import UNIT_CHANGES, VERSION, Entry, JobRecord, Said
from coach.jobs.upgrades import upgraded
from coach.moments import FIRST_YEAR, LAST_YEAR, is_moment
from coach.ordinary import NoOrdinaryFile, is_there, small_bytes

RECORD = "job.json"
UNIT = re.compile(r"[0-9A-F]{2,8}")
"""A control unit's address as an answer bears it: two figures on the old lines, three or eight on CAN."""
SHA256 = re.compile(r"[0-9a-f]{64}")


def checked_codes(codes: tuple[str, ...]) -> tuple[str, ...]:
    """The codes as they are written, each once. JobError for something that is none."""
    written = tuple(dict.fromkeys(code.strip().upper() for code in codes))
    for code in written:
        if not is_code(code):
            raise JobError(f"{code!r} is not a trouble code such as P0420")
    return written


def read_record(folder: Path) -> JobRecord:
    """The record of this folder, of whatever version. NoSuchJob, or JobDamaged with what is wrong with it."""
    path = folder / RECORD
    try:
        told: Any = msgspec.json.decode(small_bytes(path))
        version = told.get("job") if isinstance(told, dict) else None
        if isinstance(version, int) and version > VERSION:
            raise JobDamaged(f"{path}: job format {version}, this program reads {VERSION}; use a newer program")
        record = msgspec.convert(upgraded(told) if isinstance(told, dict) else told, JobRecord)
    except NoOrdinaryFile as error:
        raise JobDamaged(str(error)) if is_there(path) else NoSuchJob(f"{folder}: no job there") from None
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
        raise JobDamaged(f"{path}: no record of a job: {error}; the journals beside it are whole") from None
    if record.job != VERSION:
        raise JobDamaged(
            f"{path}: job format {record.job}, which no program has written; the journals beside it are whole"
        )
    return _in_order(record, path)


def _in_order(record: JobRecord, path: Path) -> JobRecord:
    """A record somebody edited may name what is no code, no monitor, or a file elsewhere."""
    try:
        codes = checked_codes(record.codes)
        for monitor in (*record.chosen.values(), *(record.signed_off.incomplete or () if record.signed_off else ())):
            check_monitor(monitor)
        if record.model_year is not None and not FIRST_YEAR < record.model_year < LAST_YEAR:
            raise JobError("no car is of the model year that stands there")
        for entry in record.entries:
            _check_entry(entry)
        for said in record.said:
            _check_said(said)
    except (JobError, UnknownItem) as error:
        raise JobDamaged(f"{path}: {error}") from None
    return replace(record, codes=codes, id=path.parent.name)  # by its folder's name it is found


def _check_entry(entry: Entry) -> None:
    if Path(entry.file).name != entry.file:
        raise JobError(f"{entry.file!r} is no file of this job's folder")
    _check_moment(entry.when, entry.file)
    if entry.sealed is None:
        return
    _check_moment(entry.sealed.when, entry.file)
    if not SHA256.fullmatch(entry.sealed.sha256):
        raise JobError(f"{entry.sealed.sha256[:80]!r}, of {entry.file}, is no SHA-256")
    for codes in entry.sealed.brought.codes.values():
        checked_codes(tuple(codes))
    for monitor in entry.sealed.brought.complete:
        check_monitor(monitor)


def _check_said(said: Said) -> None:
    _check_moment(said.when, f"what was said of {said.name}")
    if said.what == "unit":
        check_unit(said.name, said.value)


def check_unit(address: str, change: str) -> None:
    """JobError for what is no address of a control unit, or nothing that can become of one."""
    if not UNIT.fullmatch(address):
        raise JobError(f"{address!r} is no address of a control unit, such as 7E9")
    if change not in UNIT_CHANGES:
        raise JobError(f"{change!r}: what became of {address} is one of {', '.join(UNIT_CHANGES)}")


def _check_moment(when: str, what: str) -> None:
    if not is_moment(when):
        raise JobError(f"{when!r}, of {what}, is no moment in ISO 8601 a car has seen")


def write_record(folder: Path, record: JobRecord) -> None:
    """Put the new record in place at once. CannotKeep when that is not possible; then the old one stands."""
    part = folder / f"{RECORD}.{os.getpid()}.part"
    try:
        with part.open("wb") as file:
            file.write(msgspec.json.format(msgspec.json.encode(record), indent=1) + b"\n")
            file.flush()
            os.fsync(file.fileno())
        part.replace(folder / RECORD)
    except OSError as error:
        with suppress(OSError):  # where nothing can be written nothing was
            part.unlink(missing_ok=True)
        raise CannotKeep(f"{folder / RECORD}: cannot be written: {error.strerror}; the old record stands") from None
