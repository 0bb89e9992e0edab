"""The parts of a report that speak of the car: identity, codes, monitors, counters, test results, verdict.

Each gives blocks for the page; nothing is decided here.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from coach.car.car import Car
from coach.car.ecus import ITEMS
from coach.car.readout import EcuReadout, units_of, vins_of
from coach.inspection.codes import assignment
from coach.inspection.findings import findings_of
from coach.j1979.monitors import MONITORS
from coach.j1979.signals import SIGNALS
from coach.j1979.test_results import TestResult
from coach.session.confirm import JobSeen
from coach.session.filed import FileReport, JobReport, Judged
from coach.words.doubts import codes_told, lamp_told
from coach.words.margins import CONSTANT, judged_words, limits_words, measured_words, name_words, share_words
from coach.words.names import MONITOR_NAMES, PAIR_NAMES
from coach.words.outcomes import outcome_said
from coach.words.paper import Block, Cell, Facts, Lines, Section, Share, Table
from coach.words.readout import CODE_NOTES, NOT_PASSED, masked, value_words
from coach.words.reasons import SURE
from coach.words.units import Units, listed, when_words, zoned_words
from coach.words.verdicts import verdict_parts

NOT_QUOTED = "09 02: what it sent as its VIN cannot be read, and is not quoted here"


@dataclass(frozen=True, slots=True)
class At:
    """The car at one moment of the job: the moment's id and name, and the car then."""

    id: str
    name: str
    car: Car


def moments_of(seen: JobSeen) -> Iterator[At]:
    """Before the clear, after it, and now, each where there is one."""
    if seen.before is not None:
        yield At("before", "before the clear" if seen.cleared else "before", seen.before.car)
    clear = next((one for one in reversed(seen.files) if one.confirmed_clear and one.entry.kind == "clear"), None)
    if clear is not None and clear is not seen.latest:
        yield At("after_clear", "after the clear", clear.car)
    if seen.latest is not None and seen.latest is not seen.before:
        yield At("now", "last read", seen.latest.car)


def hidden_vins(report: JobReport | FileReport) -> tuple[str, ...]:
    """Every VIN that was told in any file of the report."""
    cars = [one.car for one in report.seen.files] if isinstance(report, JobReport) else [report.drive.reviewed.core.car]
    return tuple(dict.fromkeys(vin for car in cars for vin in vins_of(car)))


# ---------------------------------------------------------------- the car


def car_section(car: Car | None, show_vin: bool, units: Units) -> Section:
    """Which car it is."""
    if car is None:
        return Section("The car", (Lines(("Nothing was read yet.",)),))
    rows = [("VIN", vin if show_vin else f"{masked(vin)} (the last four characters)") for vin in vins_of(car)]
    rows = rows or [("VIN", "not told by the car")]
    if "odometer_km" in car.values:
        rows.append(("odometer, by the car", units.distance(car.values["odometer_km"])))
    found = units_of(car)
    told = tuple(
        (unit.address, unit.name or "not told", _calibrations(unit))
        for unit in found
        if unit.name or unit.calibration_ids or car.ecus[unit.address].claims_readiness()
    )
    blocks: list[Block] = [Facts(tuple(rows))]
    if told:
        head = ("address", "name", "calibration id and verification number")
        blocks.append(Table("Control units", head, told))
    return Section("The car", tuple(blocks))


def _calibrations(unit: EcuReadout) -> str:
    if not unit.calibration_ids:
        return "not told"
    if len(unit.calibration_ids) != len(unit.cvns):
        numbers = f"; verification numbers {', '.join(unit.cvns)}" if unit.cvns else ""
        return f"{', '.join(unit.calibration_ids)}{numbers}"
    return ", ".join(f"{cal} {cvn}" for cal, cvn in zip(unit.calibration_ids, unit.cvns, strict=True))


# ---------------------------------------------------------------- monitors and codes


def codes_words(car: Car, kind: str) -> str:
    """The codes of a kind; what is not certain says so."""
    asked = ITEMS[kind] in car.asked_all | {item for ecu in car.ecus.values() for item in ecu.answered}
    return codes_told(car.conclude().codes[kind], why=False) if asked else "not told"


def mil_words(car: Car) -> str:
    """The MIL command."""
    told = any(ecu.claims_readiness() for ecu in car.ecus.values())
    return lamp_told(car.conclude().mil, why=False) if told else "not told"


def monitors_words(car: Car) -> str:
    """How many monitors are complete, and which are not."""
    states = [(m, s) for m, s in car.monitor_states().items() if s != "unsupported"]
    if not any(ecu.claims_readiness() for ecu in car.ecus.values()):
        return "the car did not tell its readiness"
    parts = [f"{sum(s == 'complete' for _, s in states)} complete"]
    for word, name in (("incomplete", "incomplete"), (None, "uncertain")):
        found = [MONITOR_NAMES[m] for m, s in states if s == word]
        if found:
            parts.append(f"{len(found)} {name}: {listed(found)}")
    return "; ".join(parts)


def monitors_section(moments: tuple[At, ...], first: Mapping[str, str] | None = None) -> Section:
    """Monitors, MIL and codes side by side at these moments. `first`: the monitors as a recording first told them."""
    states = [moment.car.monitor_states() for moment in moments]
    told = [m for m in MONITORS if any(found[m] != "unsupported" for found in states)]
    begin = ("first told",) if first else ()
    rows = tuple(
        (MONITOR_NAMES[m], *((first.get(m, "not told"),) if first else ()), *(f[m] or "uncertain" for f in states))
        for m in told
    )
    lit: list[tuple[Cell, ...]] = [("MIL", *(mil_words(moment.car) for moment in moments))]
    lit += [(kind, *(codes_words(moment.car, kind) for moment in moments)) for kind in CODE_NOTES]
    names = tuple(moment.name for moment in moments)
    blocks: list[Block] = [Table("MIL and trouble codes", ("", *names), tuple(lit))]
    if any(ecu.claims_readiness() for moment in moments for ecu in moment.car.ecus.values()):
        blocks += [Table("Monitors", ("", *begin, *names), rows), Lines((NOT_PASSED,))]
    else:
        blocks.append(Lines(("No readiness was read: which monitors are complete cannot be said.",)))
    return Section("Monitors and codes", tuple(blocks))


def codes_section(moments: tuple[At, ...], units: Units) -> Section:
    """Every code that was reported, by whom, what watches for it, and the freeze frames."""
    rows: dict[tuple[str, str, str], list[str]] = {}
    for moment in moments:
        for kind in CODE_NOTES:
            for address, ecu in sorted(moment.car.ecus.items()):
                for code in (ecu.codes[kind].codes or ()) if kind in ecu.codes else ():
                    rows.setdefault((code, address, kind), []).append(moment.name)
    ignition = findings_of(moments[-1].car).ignition
    blocks: list[Block] = []
    if rows:
        told = tuple((c, a, k, listed(when), _watches(c, ignition)) for (c, a, k), when in sorted(rows.items()))
        blocks.append(Table("Codes reported", ("code", "by", "kind", "read", "watched by"), told))
    else:
        blocks.append(Lines(tuple(f"{kind} codes: {codes_words(moments[-1].car, kind)}" for kind in CODE_NOTES)))
    blocks += [frame for moment in moments for frame in _frames(moment, units)]
    return Section("Codes and freeze frames", tuple(_once(blocks)))


def _watches(code: str, ignition: object) -> str:
    known = assignment(code, ignition)  # type: ignore[arg-type]
    return MONITOR_NAMES[known.monitor] if known is not None else "not known"


def _frames(moment: At, units: Units) -> Iterator[Table]:
    for unit in units_of(moment.car):
        if unit.frozen_by is not None:
            values = tuple((SIGNALS[s].name, value_words(s, v, units)) for s, v in unit.frozen.items() if s in SIGNALS)
            title = f"Freeze frame of {unit.frozen_by}, by {unit.address}"
            yield Table(title, ("reading", "value"), values or (("values", "not told"),))


def _once(blocks: list[Block]) -> Iterator[Block]:
    """The same freeze frame read again says nothing new."""
    yield from (block for at, block in enumerate(blocks) if block not in blocks[:at])


# ---------------------------------------------------------------- what the monitors measured


def tests_section(car: Car, when: Callable[[float], str]) -> Section | None:
    """Service 06: what was measured, between which limits, and the share of the limit that is used.

    `when`: words for a second of the recording. A monitor that completed after its results were read is named: what it
    measured then stands nowhere.
    """
    told = [(unit, test, unit.tests_t.get(test.mid, 0.0)) for unit in units_of(car) for test in unit.tests]
    if not told:
        return None
    first_t, last_t = min(t for _, _, t in told), max(t for _, _, t in told)
    apart = last_t - first_t > APART_S
    rows = tuple((unit.address, *_result(test, car), *((when(t),) if apart else ())) for unit, test, t in told)
    head = ("by", "test", "measured", "limits", "share of the limit used", "result", *(("read",) if apart else ()))
    words = [
        "100 % is at a limit, 0 % farthest from it: at zero, or midway where zero is outside. Twice the lowest: 50 %."
    ]
    if any(LATER in row for row in rows):
        words.append("Complete by now, but read before that: what these monitors measured is not in this page.")
    title = "What the monitors measured" + ("" if apart else f", read at {when(first_t)}")
    return Section("Test results", (Table(title, head, rows), Lines(tuple(words))))


APART_S = 60.0  # our judgement: one read-out takes less; results read together need no time each
LATER = "complete later"


def job_tests_section(seen: JobSeen) -> Section | None:
    """The results as the job's last file that holds any told them."""
    files = [one for one in seen.files if any(unit.tests for unit in units_of(one.car))]
    return tests_section(files[-1].car, lambda t: when_words(files[-1].moment(t))) if files else None


def _result(test: TestResult, car: Car) -> tuple[Cell, ...]:
    what = name_words(test)
    if test.constant:
        return what, measured_words(test), CONSTANT, Share("", None), ""
    if test.passed is None:
        ran = test.monitor is not None and car.monitor_states().get(test.monitor) == "complete"
        empty = "empty when it was read" if ran else "not run since the clear"
        return what, empty, "", Share("", None), LATER if ran else "none yet"
    used = Share(share_words(test) or "no limit", test.share_of_limit_used)
    return what, measured_words(test), limits_words(test), used, judged_words(test)


def in_use_section(moments: tuple[At, ...]) -> Section | None:
    """In-use performance counters: how often each monitor ran, of how many drives that could have run it."""
    rows: dict[tuple[str, str], dict[str, str]] = {}
    for moment in moments:
        for unit in units_of(moment.car):
            for name, words in _counters(unit):
                rows.setdefault((unit.address, name), {})[moment.name] = words
    if not rows:
        return None
    names = tuple(moment.name for moment in moments if any(moment.name in row for row in rows.values()))
    told = tuple((a, name, *(row.get(moment, "not read") for moment in names)) for (a, name), row in rows.items())
    head = ("by", "counter", *names)
    return Section("In-use performance", (Table("How often each monitor ran, of the drives that count", head, told),))


def _counters(unit: EcuReadout) -> Iterator[tuple[str, str]]:
    if unit.in_use is None:
        return
    yield "ignition cycles", str(unit.in_use.ignition_cycles)
    yield "drives of the regulated pattern", str(unit.in_use.general_denominator)
    yield from ((PAIR_NAMES[name], f"{ran} of {of}") for name, (ran, of) in unit.in_use.pairs.items() if ran or of)


def problem_words(problem: str, show_vin: bool) -> str:
    """What could not be read of a control unit; an unreadable VIN is not quoted while it is masked."""
    return NOT_QUOTED if problem.startswith("09 02") and not show_vin else problem


def problems_lines(car: Car, show_vin: bool) -> Iterator[str]:
    """What could not be read."""
    for unit in units_of(car):
        yield from (f"{unit.address} {problem_words(problem, show_vin)}" for problem in unit.problems)
    count = sum(number for what, number in car.unusable.items() if not what.startswith("no_answer"))
    if count:
        answers = "1 answer" if count == 1 else f"{count} answers"
        yield f"{answers} could not be used; what they spoke of is uncertain until it is read again"


# ---------------------------------------------------------------- the verdict


def verdict_section(judged: Judged, read: str = "") -> Section:
    """One verdict with every reason, what would change it, and where the rule comes from.

    `read`: when the car spoke; empty where it just did.
    """
    verdict = judged[0]
    parts = verdict_parts(*judged)
    source, *dated = parts.source
    blocks: list[Block] = [Lines((*parts.head, f"Judged on {verdict.vehicle.on}{_as_read(read)}.", *parts.remarks))]
    blocks += [Table(title, ("speaks", "what was looked at"), reasons) for title, reasons in parts.readings]
    needed = tuple(f"What would change it: {line}." for line in parts.changes)
    disagree = tuple(f"Sources disagree: {words}" for words in parts.conflicts)
    blocks.append(Lines((*needed, *disagree, f"Source: {source}", *dated)))
    return Section(f"Inspection: {outcome_said(verdict)} under {verdict.rule.name}", tuple(blocks))


def _as_read(read: str) -> str:
    return f", by what the car said on {zoned_words(read)}" if read else ""


def verdict_words(judged: Judged) -> str:
    """One verdict in short, with how sure the rule is."""
    verdict = judged[0]
    exempt = verdict.exempt
    sure = f"rule {SURE[verdict.rule.sure]}" if exempt is None else SURE[exempt.sure]
    return f"{outcome_said(verdict)} under {verdict.rule.name} ({sure})"
