"""The report of a drive or a job as data: one documented shape, units in key names, unknown is null, VIN masked.

Version 2: control units, freeze frames, counters and test results, what was read after the clear, and for every drive
its review, its profile and the lines of its readings. Times in seconds, values in SI units by the names of the signals.
"""

from typing import Any

from msgspec import to_builtins

from coach import __version__
from coach.car.car import Car
from coach.car.readout import EcuReadout, units_of, vins_of
from coach.drive.happenings import PhaseDriven
from coach.inspection.forecast import Forecast
from coach.session.confirm import JobSeen
from coach.session.filed import FiledDrive, FileReport, JobReport, job_forecasts
from coach.session.seen import Seen
from coach.words.confirmation import confirmation_data
from coach.words.jobs import job_document
from coach.words.margins import result_data
from coach.words.readout import masked
from coach.words.readout_data import in_use_data
from coach.words.report_drive import happenings_of
from coach.words.report_parts import hidden_vins, moments_of, problem_words
from coach.words.report_plots import buckets_each
from coach.words.review_data import document as review_document
from coach.words.review_data import rounded
from coach.words.verdicts import CONFIRM, verdict_document

SCHEMA, SCHEMA_VERSION = "coach.report", 3


def report_document(report: JobReport | FileReport) -> dict[str, Any]:
    """The report as data."""
    found = _job(report) if isinstance(report, JobReport) else _file(report)
    whole = {"schema": SCHEMA, "version": SCHEMA_VERSION, "program": __version__, "made": report.made, **found}
    document: dict[str, Any] = rounded({**whole, "confirm": CONFIRM})
    hidden = {} if report.show_vin else {vin: masked(vin) for vin in hidden_vins(report)}
    return _masked(document, hidden) if hidden else document


def _masked(value: Any, hidden: dict[str, str]) -> Any:
    if isinstance(value, str):
        for vin, stars in hidden.items():
            value = value.replace(vin, stars)
        return value
    if isinstance(value, dict):
        return {_masked(key, hidden): _masked(inner, hidden) for key, inner in value.items()}
    return [_masked(inner, hidden) for inner in value] if isinstance(value, list) else value


def _job(report: JobReport) -> dict[str, Any]:
    seen, show = report.seen, report.show_vin
    latest = seen.latest.car if seen.latest else None
    moments = {moment.id: _findings(moment.car, show) for moment in moments_of(seen)}
    most = buckets_each(len(report.drives))
    return {
        "of": "job",
        "simulated": any(one.header.source == "simulated" for one in seen.files),
        "vin": _vin(latest),
        "job": job_document(seen),
        "cleared": [
            {"control_unit": e.address, "confirmed": e.confirmed, "done": e.done, "still_complete": list(e.kept)}
            for e in seen.cleared
        ],
        **{name: moments.get(name) for name in ("before", "after_clear")},
        "now": _findings(latest, show) if latest is not None else None,
        "verdicts": [verdict_document(*judged) for judged in report.verdicts],
        "confirmations": [confirmation_data(one) for one in seen.confirmations],
        "forecasts": {monitor: _forecast(one) for monitor, one in job_forecasts(seen).items()},
        "drives": [_driven(one) | _drive(report.drives.get(one.entry.file), most, show) for one in seen.drives],
        "files": dict(report.hashes),
        "file_programs": _programs(seen),
    }


def _programs(seen: JobSeen) -> dict[str, str]:
    return {one.entry.file: one.header.program for one in seen.files}


def _file(report: FileReport) -> dict[str, Any]:
    filed, show = report.drive, report.show_vin
    header = filed.reviewed.header
    return {
        "of": "drive",
        "simulated": header.source == "simulated",
        "vin": _vin(filed.reviewed.core.car),
        "now": _findings(filed.reviewed.core.car, show),
        "verdicts": [verdict_document(*judged) for judged in report.verdicts],
        "drive": _drive(filed, buckets_each(1), show),
        "files": {filed.name: filed.sha256},
        "file_programs": {filed.name: header.program},
    }


def _vin(car: Car | None) -> str | None:
    return next(iter(vins_of(car)), None) if car is not None else None


# ---------------------------------------------------------------- the car at a moment


def _findings(car: Car, show_vin: bool) -> dict[str, Any]:
    return {
        "concluded": to_builtins(car.conclude()),
        "monitors": dict(car.monitor_states()),
        "mil_on": car.mil_on(),
        "codes": {
            kind: {
                "certain": None if (certain := car.codes(kind)) is None else list(certain),
                "said": list(car.conclude().codes[kind].said),
            }
            for kind in ("stored", "pending", "permanent")
        },
        "control_units": {unit.address: _unit(unit, car, show_vin) for unit in units_of(car)},
    }


def _unit(unit: EcuReadout, car: Car, show_vin: bool) -> dict[str, Any]:
    codes = car.ecus[unit.address].codes
    return {
        "name": unit.name,
        "calibration_ids": list(unit.calibration_ids),
        "calibration_verification_numbers": list(unit.cvns),
        "codes": {kind: None if found.codes is None else list(found.codes) for kind, found in codes.items()},
        "freeze_frame": {"code": unit.frozen_by, "values": dict(unit.frozen)},
        "in_use": in_use_data(unit),
        "test_results": [{**to_builtins(test), **result_data(test)} for test in unit.tests],
        "problems": [problem_words(problem, show_vin) for problem in unit.problems],
    }


def _forecast(one: Forecast | None) -> dict[str, Any] | None:
    return None if one is None else {name: getattr(one, name) for name in Forecast.__slots__}


# ---------------------------------------------------------------- a drive


def _driven(seen: Seen) -> dict[str, Any]:
    found = seen.driven
    return {
        "file": seen.entry.file,
        "began": seen.header.began,
        "running_s": found.running_s,
        "distance_km": found.distance_km,
        "at_least": found.at_least,
        "pattern_met": seen.pattern_met,
    }


def _drive(filed: FiledDrive | None, most: int, show_vin: bool) -> dict[str, Any]:
    """One drive judged; empty where it was not."""
    if filed is None:
        return {}
    told = [to_builtins(happening) for happening in happenings_of(filed, show_vin)]
    return {
        "phases": [
            {"phase": h.phase, "t": h.t, "held_s": h.held_s}
            for h in filed.reviewed.happenings
            if isinstance(h, PhaseDriven)
        ],
        "profile": {name: getattr(filed.profile, name) for name in ("id", "name", "came_from", "sha256")},
        "review": {**review_document(filed.reviewed), "happenings": told},
        "lines": {
            signal: [[list(point) for point in piece] for piece in line.pieces(most)]
            for signal, line in filed.trace.lines.items()
        },
    }
