"""A read-out of the car as one page: what every control unit said, what each line means, what to do next."""

from collections.abc import Iterator
from dataclasses import dataclass

from coach.car.arrivals import Arrival
from coach.car.car import Car
from coach.car.readout import EcuReadout, units_of
from coach.inspection.next_step import steps_of
from coach.j1979.signals import SIGNALS
from coach.visible import in_line
from coach.words.doubts import WHY, asked_words, odd_lines, uncertain
from coach.words.margins import result_words
from coach.words.names import MONITOR_NAMES, PAIR_NAMES
from coach.words.next_step import step_lines
from coach.words.units import Units, listed, span, when_words

NOT_PASSED = "A monitor that is complete has run; that does not mean it passed."
CODE_NOTES = {
    "stored": "confirmed faults; with one the MIL is on",
    "pending": "seen once; a second drive confirms or drops them",
    "permanent": "only the car itself erases them, after its monitor has run and passed",
}


NOT_USED = {"no_answer": "no answer", "at_its_rail": "a sensor sends its highest value"}
"""Why an answer was not used, beside the reasons for doubt."""
LOOPS = {
    0: "off",
    1: "open loop, not warm yet",
    2: "closed loop",
    4: "open loop, by load or fuel cut",
    8: "open loop, by a fault",
    16: "closed loop, with a faulty oxygen sensor",
}
"""PID 03: one flag at a time; from memory."""


@dataclass(frozen=True, slots=True)
class ReadOut:
    """What a read-out is about: the car after it, the link, the wall clock. `voltage_v` is the adapter's own.

    `repaired`: the codes of the job it belongs to.
    """

    car: Car
    source: str
    adapter: str
    protocol: str
    began: str | None
    voltage_v: float | None
    arrivals: tuple[Arrival, ...] = ()
    repaired: tuple[str, ...] = ()


def readout_page(found: ReadOut, units: Units, show_vin: bool) -> str:
    """The whole read-out as text."""
    ecus = units_of(found.car)
    parts = [
        list(_head(found)),
        ["MIL (the check-engine lamp) and trouble codes", *_codes(found.car)],
        ["Monitors", *_monitors(found.car)],
        ["Freeze frame", *_frozen(ecus, units)],
        ["Now", *_now(found, units)],
        ["Since the memory was cleared", *_since_clear(found.car, units)],
        ["The car", *_identity(ecus, show_vin)],
        ["In-use performance: how often each monitor ran", *_in_use(ecus)],
        ["Test results: what the monitors measured", *_tests(ecus)],
        ["Could not be read", *_problems(found.car, ecus)],
        ["Next", *_next(found, units)],
    ]
    return "\n\n".join("\n".join(map(in_line, part)) for part in parts if len(part) > 1)


def _head(found: ReadOut) -> Iterator[str]:
    label = {"simulated": "a SIMULATED car", "live": "the car"}[found.source]
    yield f"Read-out of {label}" + (f", {when_words(found.began)}." if found.began else ".")
    runs = {True: "the engine runs", False: "the engine is off", None: "the engine speed was not told"}
    yield f"The adapter ({found.adapter}) and the car answer, on {found.protocol}; {runs[found.car.cycle.running]}."
    yield f"Control units: {', '.join(sorted(found.car.ecus)) or 'none'}."


def _codes(car: Car) -> Iterator[str]:
    found = car.conclude()
    lit = {True: "commanded on", False: "off", None: f"cannot be said: {uncertain(found.mil)}"}[found.mil.on]
    yield f"  {'MIL':<12} {lit}"
    for kind, note in CODE_NOTES.items():
        certain, said = found.codes[kind].certain, found.codes[kind].said
        owners = [f"{code} ({', '.join(_owners(car, kind, code))})" for code in said]
        if found.codes[kind].offered is False:
            yield f"  {kind:<12} not offered: this car is older than permanent codes (model year 2010)"
        elif certain is not None:
            yield f"  {kind:<12} " + (f"{', '.join(owners)}: {note}" if owners else "none")
        else:
            heard = f"; {', '.join(owners)} was reported" if owners else ""
            yield f"  {kind:<12} uncertain: {uncertain(found.codes[kind])}{heard}"


def _owners(car: Car, kind: str, code: str) -> list[str]:
    return [a for a, ecu in sorted(car.ecus.items()) if kind in ecu.codes and code in (ecu.codes[kind].codes or ())]


def _monitors(car: Car) -> Iterator[str]:
    told, cycle = car.conclude(), car.cycle_states()
    states = car.monitor_states()
    if not any(ecu.claims_readiness() for ecu in car.ecus.values()):
        yield "  the car did not tell its readiness"
        return
    for word in ("complete", "incomplete", None):
        found = [m for m, state in states.items() if state == word]
        if found:
            yield f"  {word or 'uncertain':<12} {', '.join(MONITOR_NAMES[m] for m in found)}"
    off = [MONITOR_NAMES[m] for m, state in cycle.items() if state == "disabled"]
    if off:
        yield f"  this cycle   cannot run before the next start, by the car's own word: {', '.join(off)}"
    reasons = dict.fromkeys(uncertain(one) for one in told.monitors.values() if one.state is None)
    yield from (f"  uncertain because {reason}" for reason in reasons)
    yield from (f"  {line}" for line in odd_lines(told))
    yield f"  {NOT_PASSED}"


def _frozen(ecus: tuple[EcuReadout, ...], units: Units) -> Iterator[str]:
    for ecu in ecus:
        if ecu.frozen_by is None:
            continue
        values = [
            f"{SIGNALS[s].name} {value_words(s, value, units)}" for s, value in ecu.frozen.items() if s in SIGNALS
        ]
        yield f"  {ecu.address}: {ecu.frozen_by}, at {listed(values) if values else 'values not told'}"


def value_words(signal: str, value: float, units: Units) -> str:
    """One reading with its unit, in the user's units."""
    unit = SIGNALS[signal].unit
    if signal in ("fuel_system_1", "fuel_system_2"):
        return LOOPS.get(int(value), f"{value:.0f}, reserved")
    if unit == "km/h":
        return units.speed(value)
    if unit == "°C":
        return units.temperature(value)
    if unit == "km":
        return units.distance(value)
    if unit == "s":
        return span(value)
    return f"{value:.1f} {unit}".rstrip() if value % 1 else f"{value:.0f} {unit}".rstrip()


NOW = ("coolant_c", "intake_c", "ambient_c", "fuel_level_pct", "module_v", "baro_kpa", "run_time_s", "odometer_km")


def _now(found: ReadOut, units: Units) -> Iterator[str]:
    values = found.car.values
    yield from (f"  {SIGNALS[s].name:<28} {value_words(s, values[s], units)}" for s in NOW if s in values)
    if found.voltage_v is not None:
        yield f"  {'voltage at the connector':<28} {found.voltage_v:.1f} V (some tenths below the battery's own)"
    if "fuel_level_pct" not in values:
        yield "  fuel level                   not told by this car: look at the gauge; 30 to 70 % is right"


def _since_clear(car: Car, units: Units) -> Iterator[str]:
    values = car.values
    if "warm_ups_since_clear" in values:
        yield f"  {values['warm_ups_since_clear']:.0f} warm-up cycles"
    if "distance_since_clear_km" in values:
        yield f"  {units.distance(values['distance_since_clear_km'])}"
    if "run_time_since_clear_min" in values:
        yield f"  {span(values['run_time_since_clear_min'] * 60)} with the engine running"
    if values.get("distance_with_mil_km"):
        yield f"  {units.distance(values['distance_with_mil_km'])} with the MIL on"


def masked(vin: str) -> str:
    """A VIN with all but its last four characters hidden: it is personal data."""
    return "*" * (len(vin) - 4) + vin[-4:]


def _identity(ecus: tuple[EcuReadout, ...], show_vin: bool) -> Iterator[str]:
    for ecu in ecus:
        if ecu.vin is not None:
            yield f"  VIN {ecu.vin if show_vin else masked(ecu.vin) + ' (--vin shows it)'}, by {ecu.address}"
        name = f" {ecu.name}" if ecu.name else ""
        pairs = [f"{cal} {cvn}" for cal, cvn in zip(ecu.calibration_ids, ecu.cvns, strict=False)]
        pairs = pairs or list(ecu.calibration_ids)
        if name or pairs:
            yield f"  {ecu.address}{name}" + (f": calibration {', '.join(pairs)}" if pairs else "")


def _in_use(ecus: tuple[EcuReadout, ...]) -> Iterator[str]:
    for ecu in ecus:
        if ecu.in_use is None:
            continue
        yield (
            f"  {ecu.address}: {ecu.in_use.ignition_cycles} ignition cycles,"
            f" {ecu.in_use.general_denominator} drives of the regulated pattern"
        )
        for name, (ran, could) in ecu.in_use.pairs.items():
            if could:
                yield f"    {PAIR_NAMES[name]:<28} ran {ran} times in {could}"


def _tests(ecus: tuple[EcuReadout, ...]) -> Iterator[str]:
    for ecu in ecus:
        yield from (f"  {ecu.address} {result_words(test)}" for test in ecu.tests)


def _problems(car: Car, ecus: tuple[EcuReadout, ...]) -> Iterator[str]:
    for ecu in ecus:
        for problem in ecu.problems:
            asked, why = problem.split(": ", 1)
            yield f"  {ecu.address} {asked_words(asked)}: {why}"
    for what, count in sorted(car.unusable.items()):
        why, asked, address = what.split(" ", 1)[0], *what.split(" ", 1)[1].rsplit(" ", 1)
        if why == "no_answer" and asked not in ("01 01", "03", "07"):
            continue  # not offered is no fault
        by = "" if address == "-" else f" by {address}"
        of = "" if asked == "-" else f"{asked_words(asked)}{by}: "
        yield f"  {of}{NOT_USED.get(why) or WHY.get(why, why)}" + (f", {count} times" if count > 1 else "")


def _next(found: ReadOut, units: Units) -> Iterator[str]:
    """What comes next, the weightiest first."""
    yield from (f"  {line}" for line in step_lines(steps_of(found.car, found.repaired), units))
