"""The engine, the driving cycle and the warm-up cycle, from engine speed, run time, ignition counter and coolant.

Key-off, automatic stop, a lost link and a cranking brown-out all look like silence or zero rpm: a new driving cycle is
proved by the run time (PID 1F) falling or the ignition counter (service 09) rising, else it stays unknown.
"""

from dataclasses import dataclass, replace

from coach.car.happenings import (
    CycleBegan,
    CycleUncertain,
    EngineRestarted,
    EngineStarted,
    EngineStopped,
    Happening,
    WarmUpCycleCompleted,
)

RUNNING_RPM = 400.0  # a maker's service text on engine-on time of hybrids (2025); below it the starter may be turning
RISE_C = 22.0  # warm-up cycle: 40 °F, 13 CCR 1968.2(c); UN light-duty OBD definitions: 22 K
REACHED_C = 70.0  # warm-up cycle: 343 K, UN light-duty OBD definitions; 160 °F (71 °C) in 13 CCR 1968.2(c), from memory
START_VALUES_S = 60.0  # our judgement: a temperature first heard within a minute of the start is still the start's
RUN_TIME_FELL_S = 5.0  # our judgement: PID 1F counts whole seconds and two ECUs may differ by a few
MOVING_KMH = 20.0  # our judgement: a car that moves at both ends of a short silence was not switched off in it
LONGEST_STOP_S = 600.0  # our judgement: no start-stop system keeps the engine off so long at standstill
SHORT_SILENCE_S = 60.0  # our judgement, with the line above


@dataclass(slots=True)
class Start:
    """One start of the engine: its time and the temperatures then, none where not heard in time."""

    t: float
    seen: bool
    coolant_c: float | None = None
    intake_c: float | None = None
    ambient_c: float | None = None

    def note(self, signal: str, value: float, t: float) -> None:
        """Take the first temperature heard within a minute of the start."""
        if t - self.t > START_VALUES_S:
            return
        if signal == "coolant_c" and self.coolant_c is None:
            self.coolant_c = value
        elif signal == "intake_c" and self.intake_c is None:
            self.intake_c = value
        elif signal == "ambient_c" and self.ambient_c is None:
            self.ambient_c = value


@dataclass(slots=True)
class Cycle:
    """The driving cycle now running. `running` is none until an engine speed was heard."""

    running: bool | None = None
    number: int = 1
    start: Start | None = None
    latest_start: Start | None = None
    stopped_t: float | None = None
    stop_s: float = 0.0
    uncertain_since_t: float | None = None
    warm_up_t: float | None = None
    moved: bool = False
    run_time_s: float | None = None
    run_time_t: float = 0.0
    stop_moved: bool = False
    _counted_for: int = 1
    _check: tuple[float, float] | None = None
    _begun_t: float = -1e9

    def copy(self) -> "Cycle":
        """An independent copy."""
        start = replace(self.start) if self.start else None
        latest = start if self.latest_start is self.start else self.latest_start and replace(self.latest_start)
        return replace(self, start=start, latest_start=latest)

    def run_time_now_s(self, t: float) -> float | None:
        """Seconds since the engine start of this cycle, by PID 1F or by our own count since a start we saw."""
        if self.run_time_s is not None and self.running:
            return self.run_time_s + (t - self.run_time_t)
        if self.start is not None and self.start.seen and self.uncertain_since_t is None:
            return t - self.start.t
        return None

    def run_time_at_least_s(self, t: float) -> float | None:
        """Like `run_time_now_s`, but counts from when the engine was first seen running: a lower bound."""
        known = self.run_time_now_s(t)
        if known is not None or self.start is None:
            return known
        return t - (self.uncertain_since_t if self.uncertain_since_t is not None else self.start.t)

    def on_rpm(
        self, t: float, rpm: float, values: dict[str, float], heard: dict[str, float], out: list[Happening]
    ) -> None:
        """Engine speed decides whether the engine runs. `values` and `heard`: the car's signals and their times."""
        running = rpm >= RUNNING_RPM
        was = self.running
        if running is was:
            return
        self.running = running
        if running:
            self._started(Start(t, was is False), values, heard, out)
        elif was:
            self.stopped_t, self.stop_moved = t, False
            out.append(EngineStopped(t))

    def on_temperature(self, t: float, signal: str, value: float, out: list[Happening]) -> None:
        """Coolant, intake or ambient: the start's values and the warm-up cycle."""
        if self.latest_start is not None:
            self.latest_start.note(signal, value, t)
        if signal != "coolant_c" or self.warm_up_t is not None or self.start is None:
            return
        began = self.start.coolant_c
        if began is not None and value >= REACHED_C and value - began >= RISE_C and self.running:
            self.warm_up_t = t
            out.append(WarmUpCycleCompleted(t, began, value))

    def on_run_time(
        self, t: float, before: tuple[float, float] | None, run_time_s: float, out: list[Happening]
    ) -> bool:
        """PID 1F of one ECU; `before`: its last value and when. True when it proves a new driving cycle."""
        self.run_time_s, self.run_time_t = run_time_s, t
        if before is None:
            return False
        silent_s = t - before[1]
        if run_time_s < before[0] - RUN_TIME_FELL_S:
            proof = "run_time_fell"
        elif silent_s > SHORT_SILENCE_S and run_time_s < silent_s - RUN_TIME_FELL_S:
            proof = "run_time_too_short"  # the engine was started within the silence
        else:
            self._check = None
            return False
        if t - self._begun_t <= SHORT_SILENCE_S:  # another ECU's run time tells of the same start
            return False
        self._begin(t, proof, out)
        return True

    def on_ignition_count(self, t: float, before: int | None, count: int, out: list[Happening]) -> bool:
        """The ignition cycle counter of one ECU (service 09). True when it proves a new driving cycle."""
        already, self._counted_for = self._counted_for != self.number, self.number
        if before is None or count <= before or already:
            return False
        self._begin(t, "ignition_counter_rose", out)
        self._counted_for = self.number
        return True

    def after_silence(self, t: float, silent_s: float, kmh: float | None, out: list[Happening]) -> None:
        """Data came back. Without a witness nobody knows whether the key was off in between."""
        if silent_s <= SHORT_SILENCE_S and kmh is not None and kmh > MOVING_KMH:
            return
        if self.run_time_s is not None:
            self._check = (t, silent_s)
            return
        self._unknown(t, silent_s, out)

    def _unknown(self, t: float, silent_s: float, out: list[Happening]) -> None:
        """Nobody knows whether a new cycle began: what is counted from the start begins again here, unseen."""
        self.uncertain_since_t = t
        if self.start is not None:
            self.start = self.latest_start = Start(t, False)
        self.warm_up_t = None
        out.append(CycleUncertain(t, silent_s))

    @property
    def unproved(self) -> bool:
        """True while a silence stands that no run time has judged yet, or that nothing can judge."""
        return self._check is not None or self.uncertain_since_t is not None

    def _started(self, start: Start, values: dict[str, float], heard: dict[str, float], out: list[Happening]) -> None:
        t = start.t
        for signal in ("coolant_c", "intake_c", "ambient_c"):
            if t - heard.get(signal, -START_VALUES_S) < START_VALUES_S:
                start.note(signal, values[signal], t)
        self.latest_start = start
        if self.start is None:
            self.start = start
            out.append(EngineStarted(t, start.seen, start.coolant_c, start.intake_c, start.ambient_c))
            return
        stopped_s = t - self.stopped_t if self.stopped_t is not None else 0.0
        self.stop_s += stopped_s
        out.append(EngineRestarted(t, stopped_s))
        if stopped_s > LONGEST_STOP_S and not self.stop_moved and self.run_time_s is None:
            self._unknown(t, stopped_s, out)

    def _begin(self, t: float, proof: str, out: list[Happening]) -> None:
        self.number += 1
        self._begun_t = t
        self.start = self.latest_start if self.running else None
        self.uncertain_since_t = self.warm_up_t = self._check = self.stopped_t = None
        self.stop_s = 0.0
        self.moved = False
        out.append(CycleBegan(t, proof))
