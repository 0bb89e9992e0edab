"""The one-page report of a drive or a whole job as text: what a technician files or hands over.

Facts first, then what they mean, then where they come from; nothing is decided here. The VIN is masked unless
asked for. The same as data: `report_data.py`.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path

from coach import __version__
from coach.car.car import Car
from coach.car.ecus import said_codes
from coach.car.readout import EcuReadout, read_ecu
from coach.drive.happenings import PhaseDriven
from coach.inspection.forecast import Forecast, forecasts
from coach.inspection.verdict import Verdict
from coach.session.confirm import JobSeen, Seen
from coach.session.review import Reviewed
from coach.words.jobs import confirmation_page, forecast_words
from coach.words.names import MONITOR_NAMES
from coach.words.readout import NOT_PASSED, masked, result_words
from coach.words.units import Units, clock, span
from coach.words.verdicts import CONFIRM, OUTCOMES, SURE, rule_source

SIMULATED = "SIMULATED: this is no real car."


@dataclass(frozen=True, slots=True)
class JobReport:
    """A report on a job. `drives`: the drives judged again, by the name of their file."""

    seen: JobSeen
    verdicts: tuple[Verdict, ...] = ()
    drives: Mapping[str, Reviewed] = field(default_factory=dict)
    show_vin: bool = False


@dataclass(frozen=True, slots=True)
class DriveReport:
    """A report on one recording."""

    path: Path
    reviewed: Reviewed
    verdicts: tuple[Verdict, ...] = ()
    show_vin: bool = False


def fingerprint(path: Path) -> str:
    """SHA-256 of a file, so that a filed report and its journals can be told to belong together."""
    digest = sha256()
    with path.open("rb") as file:
        while chunk := file.read(1 << 20):
            digest.update(chunk)
    return digest.hexdigest()


def job_forecasts(seen: JobSeen) -> dict[str, Forecast | None]:
    """A forecast for every monitor still incomplete."""
    if seen.evidence is None:
        return {}
    return forecasts(seen.evidence.findings.in_state("incomplete", continuous=False), seen.in_use, seen.job_ran)


# ---------------------------------------------------------------- a job as text


def job_report(report: JobReport, units: Units) -> str:
    """The whole job on one page."""
    seen = report.seen
    record = seen.job.record
    parts = [
        [f"Report on job {record.id}", *_label(seen.files), f"Program {__version__}."],
        ["The car", *_car(seen.latest.car if seen.latest else None, report.show_vin, units)],
        ["The repair", *_repair(seen, units)],
        *[[f"{OUTCOMES[v.outcome].capitalize()}: {v.rule.name}", *_verdict(v)] for v in report.verdicts],
        ["Is the repair confirmed", *_indented(confirmation_page(one, units) for one in seen.confirmations)],
        ["Before and after", *_before_after(seen)],
        ["Test results", *_tests(seen.latest)],
        ["Drives", *_drives(report, units)],
        ["The next drive", *(f"  {forecast_words(one)}" for one in job_forecasts(seen).values() if one is not None)],
        ["Cautions", *_cautions(seen)],
        ["Files, with their SHA-256", *_files(seen)],
        [CONFIRM],
    ]
    return "\n\n".join("\n".join(part) for part in parts if len(part) > 1 or part == [CONFIRM])


def _label(files: tuple[Seen, ...]) -> Iterator[str]:
    if any(seen.header.source == "simulated" for seen in files):
        yield SIMULATED


def _car(car: Car | None, show_vin: bool, units: Units) -> Iterator[str]:
    if car is None:
        yield "  nothing was read yet"
        return
    for one in units_of(car):
        if one.vin is not None:
            yield f"  VIN {one.vin if show_vin else masked(one.vin)}"
        pairs = [f"{cal} {cvn}" for cal, cvn in zip(one.calibration_ids, one.cvns, strict=False)]
        yield f"  {one.address} {one.name or ''}".rstrip() + (f": calibration {', '.join(pairs)}" if pairs else "")
    if "odometer_km" in car.values:
        yield f"  odometer {units.distance(car.values['odometer_km'])}, by the car"


def units_of(car: Car) -> tuple[EcuReadout, ...]:
    """Every control unit's own data."""
    return tuple(read_ecu(ecu, car.can is not False) for _, ecu in sorted(car.ecus.items()))


def _repair(seen: JobSeen, units: Units) -> Iterator[str]:
    record = seen.job.record
    yield f"  {', '.join(record.codes) or 'no code named'}: {record.part or 'no part named'}"
    if record.note:
        yield f"  {record.note}"
    if record.odometer_km is not None:
        yield f"  at {units.distance(record.odometer_km)}"
    for ecu in seen.cleared:
        done = {True: "cleared", False: "not cleared", None: "not known to be cleared"}[ecu.done]
        yield f"  {ecu.address}: {done}"


def _verdict(verdict: Verdict) -> Iterator[str]:
    for one in verdict.readings:
        sure = SURE[one.limit.sure] if one.limit is not None else "no number for this car"
        yield f"  by {one.reading.words} ({sure}): {OUTCOMES[one.outcome]}"
    yield f"  on {verdict.vehicle.on}, model year {verdict.vehicle.model_year or 'unknown'}"
    yield from rule_source(verdict.rule)


def _indented(pages: Iterator[str]) -> Iterator[str]:
    for page in pages:
        yield from (f"  {line}" for line in page.splitlines())


def _before_after(seen: JobSeen) -> Iterator[str]:
    if seen.before is None or seen.latest is None:
        return
    yield f"  {'':<22} {'before':<14} now"
    was, now = seen.before.car.monitor_states(), seen.latest.car.monitor_states()
    for monitor, state in now.items():
        if not (state == was[monitor] == "unsupported"):
            yield f"  {MONITOR_NAMES[monitor][:22]:<22} {was[monitor] or 'uncertain':<14} {state or 'uncertain'}"
    lit = {True: "on", False: "off", None: "uncertain"}
    yield f"  {'MIL':<22} {lit[seen.before.car.mil_on()]:<14} {lit[seen.latest.car.mil_on()]}"
    for kind in ("stored", "pending", "permanent"):
        yield f"  {kind:<22} {_codes(seen.before.car, kind):<14} {_codes(seen.latest.car, kind)}"
    yield f"  {NOT_PASSED}"


def _codes(car: Car, kind: str) -> str:
    said = said_codes(tuple(car.ecus.values()), kind)
    if said:
        return ", ".join(said)
    if car.codes(kind) == ():
        return "none"
    offered = any(kind in ecu.codes for ecu in car.ecus.values())
    return "uncertain" if offered or kind != "permanent" else "not offered"


def _tests(seen: Seen | None) -> Iterator[str]:
    if seen is not None:
        yield from (f"  {unit.address} {result_words(test)}" for unit in units_of(seen.car) for test in unit.tests)


def _drives(report: JobReport, units: Units) -> Iterator[str]:
    for seen in report.seen.drives:
        found = seen.driven
        pattern = {True: "met", False: "not met", None: "cannot be told"}[seen.pattern_met]
        yield (
            f"  {seen.header.began or seen.entry.when}: {span(found.running_s)} running,"
            f" {units.distance(found.distance_km)}; regulated pattern {pattern}"
        )
        reviewed = report.drives.get(seen.entry.file)
        if reviewed is not None:
            yield from (f"    {line}" for line in _phases(reviewed))


def _phases(reviewed: Reviewed) -> Iterator[str]:
    names = reviewed.profile.names()
    for happening in reviewed.happenings:
        if isinstance(happening, PhaseDriven):
            yield f"{clock(happening.t)} {names.get(happening.phase, happening.phase)} driven, {span(happening.held_s)}"


def _cautions(seen: JobSeen) -> Iterator[str]:
    yield from (f"  not readable: {why}" for why in seen.unread)
    yield from (f"  begun, nothing written: {entry.file}" for entry in seen.job.missing())
    if seen.latest is not None and seen.latest.car.unusable:
        count = sum(seen.latest.car.unusable.values())
        yield f"  {count} answers of the latest read-out could not be used; what they spoke of is uncertain"


def _files(seen: JobSeen) -> Iterator[str]:
    for one in seen.files:
        yield f"  {one.entry.file} (program {one.header.program})"
        yield f"    {fingerprint(one.path)}"


# ---------------------------------------------------------------- a drive as text


def drive_report(report: DriveReport, units: Units) -> str:
    """One recording on one page."""
    found = report.reviewed
    car, header = found.core.car, found.header
    states = car.monitor_states()
    rows = [
        f"  {MONITOR_NAMES[m][:22]:<22} {state or 'uncertain'}" for m, state in states.items() if state != "unsupported"
    ]
    pattern = (
        "met" if car.denominator.met_t is not None else "cannot be told" if not car.denominator.missed() else "not met"
    )
    parts = [
        [
            f"Report on {report.path.name}",
            *([SIMULATED] if header.source == "simulated" else []),
            f"Program {__version__}.",
        ],
        [
            "The drive",
            f"  {header.began or 'began at an unknown time'}, {span(found.end_t)}; recorded by {header.program}",
            f"  {span(car.denominator.running_s)} running, {units.distance(car.denominator.distance_km)}",
            f"  regulated pattern {pattern}; profile {found.profile.id}",
        ],
        ["The car", *_car(car, report.show_vin, units)],
        ["Monitors at its end", *rows, f"  {NOT_PASSED}"],
        ["Codes at its end", *(f"  {kind:<10} {_codes(car, kind)}" for kind in ("stored", "pending", "permanent"))],
        *[[f"{OUTCOMES[v.outcome].capitalize()}: {v.rule.name}", *_verdict(v)] for v in report.verdicts],
        ["Phases", *(f"  {line}" for line in _phases(found))],
        ["The file, with its SHA-256", f"  {report.path.name}", f"    {fingerprint(report.path)}"],
        [CONFIRM],
    ]
    return "\n\n".join("\n".join(part) for part in parts if len(part) > 1 or part == [CONFIRM])
