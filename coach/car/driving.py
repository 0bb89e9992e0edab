"""What a value tells of the driving: engine, driving cycle, general denominator, the foot. It works on a `CarState`.

In whatever order the first answers behind a silence come, the same follows.
"""

from coach.car.accelerator import FRESH_S, RANK
from coach.car.arrivals import ClockStep
from coach.car.counting import ROLLING_KMH
from coach.car.cycle import MOVING_KMH, SHORT_SILENCE_S, TEMPERATURES
from coach.car.denominator import AMBIENT_MIN_C, BARO_MIN_KPA
from coach.car.happenings import ClockSteppedBack, DataReturned, GeneralDenominatorMet, Happening
from coach.car.state import CarState
from coach.car.totals import IDLE_KMH
from coach.car.witnesses import Verdict

WATCHED = frozenset({"speed_kmh", "rpm", "fuel_system_1", *TEMPERATURES, *RANK})
"""Signals that somebody here looks at."""
_ALWAYS = float("-inf")


def look(car: CarState, signal: str, value: float, before: float | None, t: float, out: list[Happening]) -> None:
    """One value of a watched signal; `before`: its last one."""
    if signal == "speed_kmh":
        _speed(car, value, before, t, out)
    elif signal == "rpm":
        _engine_speed(car, value, t, out)
    elif signal in RANK:
        car.accelerator.update(signal, value, t, _idling(car), car.fresh("maf_gps", FRESH_S))
    elif signal in TEMPERATURES:
        car.cycle.on_temperature(t, signal, value, out)
    else:
        car.accelerator.fuel_cut(value, car.slowing, t)


def run_time(car: CarState, ecu: str, value: float, t: float, out: list[Happening]) -> None:
    """PID 1F of one unit: what it proves, and when the engine was started."""
    if car.lost:
        returned(car, t, out)
    before = car.counters.get((ecu, "run_time_s"))
    car.counters[ecu, "run_time_s"] = (value, t)
    judged(car, car.cycle.on_run_time(t, before, value), t, out)
    _started(car)


def ignition_count(car: CarState, ecu: str, count: int, t: float, out: list[Happening]) -> None:
    """The ignition counter of one unit, and what it proves."""
    if car.lost:
        returned(car, t, out)
    car.ignition_counts[ecu] = count
    judged(car, car.cycle.on_ignition_count(t, ecu, count), t, out)


def judged(car: CarState, verdict: Verdict | None, t: float, out: list[Happening]) -> None:
    """A witness has spoken: a new driving cycle began since some moment, or none did."""
    if verdict is None:
        return
    if verdict.new:
        car.new_cycle(t, verdict)
        car.cycle.begin(t, verdict, car.values, car.heard_t, out)
    elif verdict.started_t is not None:
        if car.cycle.dated(verdict.started_t):
            car.denominator.begun_at(verdict.started_t)
    elif car.cycle.unproved:
        car.cycle.join(t, verdict.since_t, out)
        car.denominator.join(verdict.since_t)
    _tell_met(car, t, out)


def returned(car: CarState, t: float, out: list[Happening]) -> None:
    """Values come in again; nobody knows what happened meanwhile."""
    last_t = car.value_t or 0.0
    silent_s, car.pace = t - last_t, car.pace.after(last_t, t)
    car.lost, car.value_t = False, t
    car.lost_total_s += silent_s
    out.append(DataReturned(t, round(silent_s, 3)))
    if not car.pace.slow:
        _part(car, t, round(silent_s, 3), out)
    elif car.cycle.unproved:
        judged(car, Verdict(False, car.pace.since_t), t, out)


def clock_set(car: CarState, step: ClockStep, out: list[Happening]) -> None:
    """A clock set back by more than a short silence may have begun anew with the next drive."""
    out.append(ClockSteppedBack(step.t, step.back_s))
    anew = step.back_s > SHORT_SILENCE_S
    car.denominator.interrupt(0.0 if anew else step.back_s)
    if anew:
        _part(car, step.t, 0.0, out)


def unwatched(car: CarState) -> tuple[str, ...]:
    """Conditions of the general denominator that nothing tells: ambient_c, baro_kpa, rpm, accelerator."""
    told = (
        ("ambient_c", car.values.get("ambient_c")),
        ("baro_kpa", car.baro_kpa()),
        ("rpm", car.values.get("rpm")),
        ("accelerator", car.accelerator.closed),
    )
    return tuple(name for name, value in told if value is None)


def _part(car: CarState, t: float, silent_s: float, out: list[Happening]) -> None:
    """Behind a silence, or a clock that was set (0), a new cycle may have begun."""
    if car.cycle.running is None and car.denominator.samples == 0:
        return  # nothing was driven before
    if car.cycle.part(t, silent_s):
        car.denominator.split(t, clock_set=silent_s == 0)


def _engine_speed(car: CarState, rpm: float, t: float, out: list[Happening]) -> None:
    cycle = car.cycle
    first, begun = cycle.running is None, cycle.now
    cycle.on_rpm(t, rpm, car.values, car.heard_t, out)
    if first:
        car.denominator.engine_heard()
    if cycle.now is not begun:
        car.denominator.split(t)
    if cycle.state_t == t:
        _started(car)


def _started(car: CarState) -> None:
    started_t = car.cycle.engine_started_t()
    if started_t is not None:
        car.denominator.started(started_t)


def _speed(car: CarState, kmh: float, before: float | None, t: float, out: list[Happening]) -> None:
    car.slowing = before is not None and kmh < before
    cycle, denominator = car.cycle, car.denominator
    if kmh > ROLLING_KMH:
        cycle.moved_t, cycle.stop_moved = t, True
    if cycle.earlier and kmh > MOVING_KMH:
        _moved_on(car, t, out)
    running = cycle.running
    if running is None:
        denominator.on_speed(t, kmh, None, _ALWAYS, t, _touched(car, t), _weather(car))
    else:
        denominator.on_speed(t, kmh, running, cycle.state_t, car.heard_t["rpm"], _touched(car, t), _weather(car))
    if denominator.alone_t is None and denominator.met():
        _tell_met(car, t, out)


def _moved_on(car: CarState, t: float, out: list[Happening]) -> None:
    """A car that moves at both ends of a short silence was not switched off in it; a clock that was set proves none."""
    denominator = car.denominator
    if denominator.clock_set or denominator.last_kmh is None or denominator.last_kmh <= MOVING_KMH:
        return
    if t - denominator.last_t <= SHORT_SILENCE_S:
        judged(car, Verdict(False, denominator.last_t), t, out)


def _touched(car: CarState, t: float) -> bool:
    """Whether the accelerator was seen pressed since the last speed; what nobody tells counts as released."""
    accelerator = car.accelerator
    if accelerator.pressed_t > car.denominator.last_t:
        return True
    return accelerator.closed is False and accelerator.released(t) is not None


def _tell_met(car: CarState, t: float, out: list[Happening]) -> None:
    """The pattern is met by the latest span alone; told once for a driving cycle."""
    found = car.denominator
    if found.alone_t is None and found.met():
        found.alone_t = t
    if found.alone_t is None or found.told_met:
        return
    found.told = True
    running_s, fast_s = round(found.counted_running_s, 3), round(found.counted_fast_s, 3)
    out.append(GeneralDenominatorMet(t, running_s, fast_s, round(found.counted_idle_s, 3), unwatched(car)))


def _weather(car: CarState) -> str | None:
    ambient = car.values.get("ambient_c")
    if ambient is not None and ambient < AMBIENT_MIN_C:
        return "cold"
    baro = car.values.get("baro_kpa", car.cold_engine_baro_kpa)
    return "high" if baro is not None and baro < BARO_MIN_KPA else None


def _idling(car: CarState) -> bool:
    speed = car.fresh("speed_kmh", FRESH_S)
    return speed is not None and speed <= IDLE_KMH and car.cycle.running is True
