"""One control unit: its monitors, its memory for codes, its counters, through driving cycles, key-off and the night.

It judges only by what the body shows and measures; which faults the car was given it does not know.
"""

import random
from collections.abc import Callable
from dataclasses import dataclass

from coach.simulator.body import Body
from coach.simulator.checks import CHECKS, Check
from coach.simulator.fault_memory import FaultMemory
from coach.simulator.in_use import DriveCounter, InUseCounters
from coach.simulator.monitors import Monitor
from coach.simulator.rules import EcuSpec, Leak
from coach.simulator.trials import inside

WARM_UP_RISE_C = 22.0  # warm-up cycle: UN light-duty OBD definitions; 13 CCR 1968.2(c) from memory
WARM_UP_C = {False: 70.0, True: 60.0}  # by compression ignition: 140 °F for diesels, 13 CCR 1968.2(c), from memory
INHIBITED = frozenset({"catalyst", "evaporative_system", "nmhc_catalyst"})
"""Monitors that a lit MIL keeps from running: our own choice, of the kind usual for cars."""
REFUELLED_PCT = 17.0  # more in the tank than at key-off by this: somebody filled up; our own
PURGE_PCT, PURGED_S = 8.0, 420.0  # so long at so much purge, and the canister counts as clean; our own
READ_OUT_S = 900.0  # a key turned on this soon after the drive only starts the wait anew; our own


@dataclass(slots=True)
class SinceClear:
    """What PID 21, 30, 31, 4D and 4E count: km, warm-ups, s."""

    distance_km: float = 0.0
    warm_ups: int = 0
    run_s: float = 0.0
    mil_km: float = 0.0
    mil_s: float = 0.0


Freeze = Callable[[Body, "Ecu"], dict[int, bytes]]


class Ecu:
    """State of one control unit. `cycle` is the number of its driving cycle."""

    def __init__(self, spec: EcuSpec, rng: random.Random, freeze: Freeze) -> None:
        """`freeze` gives what a freeze frame holds at this moment."""
        self.spec: EcuSpec = spec
        self._freeze = freeze
        self.monitors = {rule.id: Monitor(rule, rng) for rule in spec.monitors}
        self.memory = FaultMemory(spec.permanent)
        pairs = frozenset(pair for rule in spec.monitors for pair in rule.pairs)
        self.counters = InUseCounters(spec.compression, pairs)
        self.since_clear: SinceClear = SinceClear()
        self.drive = DriveCounter()
        self.checks: dict[str, Check] = {}
        self.cycle = 0
        self.in_cycle = False
        self.start_coolant_c = 20.0
        self._complete = self.complete_now()
        self._watching: list[Monitor] = []
        self._warmed = False
        self._denominator_given = False
        self._km = 0.0
        self._latched: frozenset[str] = self.complete_now()
        self._leak_wait_s: float | None = None
        self._leak_waited_s = 0.0
        self._leak_rearm = False
        self._driven_s = 0.0
        self._denominator_met = False
        self.refuelled = False
        """The tank was filled, and the canister has not been purged since."""
        self._fuel_off_pct: float | None = None
        self._purged_s = 0.0

    # ------------------------------------------------------------ what is shown

    def complete_now(self) -> frozenset[str]:
        """Monitors complete since the clear, as the unit itself knows it."""
        return frozenset(monitor.rule.id for monitor in self.monitors.values() if monitor.complete)

    def shown_complete(self) -> frozenset[str]:
        """The same as PID 01 shows it."""
        return self._latched if self.spec.latched else self.complete_now()

    def shown_cycle(self) -> dict[str, str]:
        """As PID 41 shows it; a unit that shows things only at key-off has nothing complete before."""
        states: dict[str, str] = {name: monitor.cycle_state() for name, monitor in self.monitors.items()}
        if self.spec.latched:
            for name, monitor in self.monitors.items():
                if states[name] == "complete" and not monitor.always:
                    states[name] = "to_run"
        return states

    # ------------------------------------------------------------ life

    def key_on(self) -> None:
        """The unit wakes: a leak test that has waited long is given up; a look right after the drive only delays it."""
        self._leak_rearm = self._leak_wait_s is not None and self._leak_waited_s < READ_OUT_S
        self._leak_wait_s = None
        for monitor in self.monitors.values():
            if not (self._leak_rearm and monitor.rule.leak is not None):
                monitor.new_cycle()

    def engine_started(self, body: Body) -> None:
        """A driving cycle begins."""
        self.in_cycle = True
        self._leak_rearm = False
        self.cycle += 1
        self.counters.ignition_cycles = (self.counters.ignition_cycles + 1) & 0xFFFF
        self.drive = DriveCounter()
        self.start_coolant_c = body.coolant_c
        self._warmed = self._denominator_given = False
        self._km = body.odometer_km
        self._look_for_a_filling(body)
        self.checks = {check.code: CHECKS[check.what](body) for check in self.spec.checks}
        for monitor in self.monitors.values():
            monitor.begin(body, self._inhibited(monitor))
        self._complete = self.complete_now()
        self._watching = [monitor for monitor in self.monitors.values() if monitor.trials]

    def look(self, body: Body, dt: float) -> None:
        """Look at a started car, `dt` seconds after the last look."""
        self._count(body, dt)
        self._purge(body, dt)
        for monitor in self._watching:
            if self._may_look(monitor) and monitor.look(body, dt, self._complete):
                self._finish(monitor, body)
        for code, check in self.checks.items():
            before = check.result
            check.look(body, dt)
            if check.result is not before:
                self._checked(code, check.result, body)

    def key_off(self, body: Body) -> None:
        """The driving cycle ends: codes age, permanent codes may go, a leak test may be set up for the night."""
        for monitor in self.monitors.values():
            monitor.ended(self.in_cycle)
        self.stand(body)
        if not self.in_cycle:
            self._wait_for_leak_test(self._leak_rearm, body)
            return
        self.in_cycle = False
        self._denominator_met, self._driven_s = self.drive.met, body.run_time_s
        self.memory.end_cycle(self._denominator_met)
        self._latched = self.complete_now()
        self._wait_for_leak_test(True, body)

    def sleep(self, body: Body, seconds: float) -> None:
        """`seconds` with the ignition off."""
        if self._leak_wait_s is None:
            return
        self._leak_wait_s -= seconds
        self._leak_waited_s += seconds
        if self._leak_wait_s > 0:
            return
        self._leak_wait_s = None
        for monitor in self.monitors.values():
            if monitor.rule.leak is not None and inside(body, monitor.rule.leak.bands):
                monitor.has_run()
                self._finish(monitor, body)
        self.memory.end_cycle(self._denominator_met)
        self._latched = self.complete_now()

    def clear(self) -> None:
        """Service 04, allowed by the caller: permanent codes and in-use counters stay."""
        self.memory.clear()
        self.since_clear = SinceClear()
        self._leak_wait_s = None
        for monitor in self.monitors.values():
            monitor.clear()
        self._latched = self.complete_now()

    def lose_power(self) -> None:
        """The battery is off: all that is not in lasting memory goes. Permanent codes and in-use counters last.

        40 CFR 86.010-18(k)(4)(iv)(F) for the codes; counters kept in lasting memory are this world's choice.
        """
        self.clear()
        self._fuel_off_pct, self.refuelled = None, False

    # ------------------------------------------------------------ a past, for a car that is not new

    def stand(self, body: Body) -> None:
        """The last drive ended with this much in the tank."""
        self._fuel_off_pct = body.fuel_pct

    def age(self, km: float, warm_ups: int, run_s: float, body: Body) -> None:
        """All monitors complete, and so much driven since the clear."""
        self.since_clear = SinceClear(km, warm_ups, run_s)
        for monitor in self.monitors.values():
            monitor.complete = True
            monitor.measure(body)
        self._latched = self.complete_now()

    def mature(self, code: str, body: Body) -> None:
        """Store a code this unit can set, as two failing driving cycles would have."""
        for monitor in self.monitors.values():
            if code in monitor.codes():
                monitor.measure(body)
        if code in {check.code for check in self.spec.checks} or any(code in m.codes() for m in self.monitors.values()):
            for cycle in (1, 2):
                self.cycle = cycle
                self._fail(code, body)
                self.memory.end_cycle(False)

    # ------------------------------------------------------------ parts

    def _inhibited(self, monitor: Monitor) -> bool:
        foreign = self.memory.stored.keys() - set(monitor.codes())
        return bool(foreign) and monitor.rule.id in INHIBITED

    def _look_for_a_filling(self, body: Body) -> None:
        if self._fuel_off_pct is not None and body.fuel_pct - self._fuel_off_pct >= REFUELLED_PCT:
            self.refuelled, self._purged_s = True, 0.0

    def _purge(self, body: Body, dt: float) -> None:
        if self.refuelled and body.purge_pct >= PURGE_PCT:
            self._purged_s += dt
            self.refuelled = self._purged_s < PURGED_S

    def _may_look(self, monitor: Monitor) -> bool:
        """Nothing is due from it while the canister is full; it leaves the cycle to a test that excludes it."""
        rule = monitor.rule
        if rule.excluded_by and any(self.monitors[other].begun for other in rule.excluded_by):
            monitor.enabled = monitor.ran
        return not (self.refuelled and rule.purged_first)

    def _wait_for_leak_test(self, armed: bool, body: Body) -> None:
        self._leak_waited_s, self._leak_rearm = 0.0, False
        for monitor in self.monitors.values():
            leak = monitor.rule.leak
            open_ = leak is not None and monitor.enabled and not monitor.ran and self._may_look(monitor)
            if armed and leak is not None and open_ and self._leak_allowed(leak, body):
                self._leak_wait_s = leak.begin_h * 3600 + leak.takes_s

    def _leak_allowed(self, leak: Leak, body: Body) -> bool:
        return (
            self._driven_s >= leak.driven_s
            and body.coolant_c >= leak.coolant_low_c
            and leak.fuel_low_pct <= body.fuel_pct <= leak.fuel_high_pct
            and body.ambient_c <= leak.ambient_high_c
        )

    def _count(self, body: Body, dt: float) -> None:
        since = self.since_clear
        km, self._km = body.odometer_km - self._km, body.odometer_km
        since.distance_km += km
        since.run_s += dt
        if self.memory.mil_on:
            since.mil_km += km
            since.mil_s += dt
        hot = WARM_UP_C[self.spec.compression]
        if not self._warmed and body.coolant_c >= max(hot, self.start_coolant_c + WARM_UP_RISE_C):
            self._warmed = True
            since.warm_ups = min(255, since.warm_ups + 1)
        self.drive.look(body, dt)
        if self.drive.met and not self._denominator_given:
            self._denominator_given = True
            self.counters.denominator(self.start_coolant_c)

    def _finish(self, monitor: Monitor, body: Body) -> None:
        """A monitor has run: complete at once when it found nothing, else when its fault is stored.

        40 CFR 86.010-18(k)(4)(i): also complete when it has run the needed number of times and found a fault.
        """
        self.counters.ran(monitor.rule.pairs)
        failed = monitor.measure(body)
        for code in monitor.codes():
            if code in failed:
                self._fail(code, body)
            else:
                self.memory.passed(code)
        enough = monitor.runs >= self.spec.runs_needed
        monitor.complete = monitor.complete or (enough and all(code in self.memory.stored for code in failed))
        self._complete = self.complete_now()

    def _checked(self, code: str, result: bool | None, body: Body) -> None:
        if result is True:
            self.memory.passed(code)
        elif result is False:
            self._fail(code, body)

    def _fail(self, code: str, body: Body) -> None:
        lit = self.memory.mil_on
        self.memory.fail(code, self.cycle, self._freeze(body, self))
        if self.memory.mil_on and not lit:
            self.since_clear.mil_km = self.since_clear.mil_s = 0.0
