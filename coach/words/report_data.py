"""The report of a drive or a job as data: one documented shape, units in key names, unknown is null, VIN masked."""

from typing import Any

from coach import __version__
from coach.car.car import Car
from coach.car.ecus import said_codes
from coach.drive.happenings import PhaseDriven
from coach.inspection.forecast import Forecast
from coach.session.confirm import Seen
from coach.words.jobs import confirmation_data, job_document
from coach.words.readout import masked
from coach.words.report import DriveReport, JobReport, fingerprint, job_forecasts, units_of
from coach.words.review_data import rounded
from coach.words.verdicts import CONFIRM, verdict_document

SCHEMA, SCHEMA_VERSION = "coach.report", 1


def job_report_document(report: JobReport) -> dict[str, Any]:
    """The job's report as data."""
    seen = report.seen
    document: dict[str, Any] = rounded(
        {
            "schema": SCHEMA,
            "version": SCHEMA_VERSION,
            "program": __version__,
            "of": "job",
            "simulated": any(one.header.source == "simulated" for one in seen.files),
            "vin": _vin(seen.latest.car if seen.latest else None, report.show_vin),
            "job": job_document(seen),
            "cleared": [
                {"control_unit": e.address, "confirmed": e.confirmed, "done": e.done, "still_complete": list(e.kept)}
                for e in seen.cleared
            ],
            "before": _findings(seen.before.car if seen.before else None),
            "now": _findings(seen.latest.car if seen.latest else None),
            "verdicts": [verdict_document(verdict) for verdict in report.verdicts],
            "confirmations": [confirmation_data(one) for one in seen.confirmations],
            "forecasts": {monitor: _forecast(one) for monitor, one in job_forecasts(seen).items()},
            "drives": [_drive(one) for one in seen.drives],
            "files": {one.entry.file: fingerprint(one.path) for one in seen.files},
            "confirm": CONFIRM,
        }
    )
    return document


def drive_report_document(report: DriveReport) -> dict[str, Any]:
    """The drive's report as data."""
    found = report.reviewed
    document: dict[str, Any] = rounded(
        {
            "schema": SCHEMA,
            "version": SCHEMA_VERSION,
            "program": __version__,
            "of": "drive",
            "simulated": found.header.source == "simulated",
            "vin": _vin(found.core.car, report.show_vin),
            "began": found.header.began,
            "duration_s": found.end_t,
            "profile": found.profile.id,
            "pattern_met": True if found.core.car.denominator.met_t is not None else _missed(found.core.car),
            "now": _findings(found.core.car),
            "verdicts": [verdict_document(verdict) for verdict in report.verdicts],
            "phases": [
                {"phase": h.phase, "t": h.t, "held_s": h.held_s} for h in found.happenings if isinstance(h, PhaseDriven)
            ],
            "files": {report.path.name: fingerprint(report.path)},
            "confirm": CONFIRM,
        }
    )
    return document


def _missed(car: Car) -> bool | None:
    return False if car.denominator.missed() else None


def _vin(car: Car | None, show: bool) -> str | None:
    vin = next((one.vin for one in units_of(car) if one.vin is not None), None) if car is not None else None
    return vin if vin is None or show else masked(vin)


def _findings(car: Car | None) -> dict[str, Any] | None:
    if car is None:
        return None
    return {
        "monitors": dict(car.monitor_states()),
        "mil_on": car.mil_on(),
        "codes": {
            kind: {
                "certain": None if (certain := car.codes(kind)) is None else list(certain),
                "said": list(said_codes(tuple(car.ecus.values()), kind)),
            }
            for kind in ("stored", "pending", "permanent")
        },
    }


def _forecast(one: Forecast | None) -> dict[str, Any] | None:
    return None if one is None else {name: getattr(one, name) for name in Forecast.__slots__}


def _drive(seen: Seen) -> dict[str, Any]:
    found = seen.driven
    return {
        "file": seen.entry.file,
        "began": seen.header.began,
        "running_s": found.running_s,
        "distance_km": found.distance_km,
        "pattern_met": seen.pattern_met,
    }
