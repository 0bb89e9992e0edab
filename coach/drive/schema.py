"""The form of a profile: pydantic models that refuse every unknown key. Reading and wording errors: `profile.py`."""

from difflib import get_close_matches
from typing import Annotated, Literal

from pydantic import Field, model_validator

from coach.drive.given import (
    Basis,
    Count,
    Difference,
    Flag,
    Given,
    Pressure,
    Rpm,
    Rpms,
    Share,
    Shares,
    Speed,
    Speeds,
    Strict,
    Temperature,
    Temperatures,
    Time,
    Torques,
    Voltage,
)
from coach.j1979.signals import SIGNALS


class Windows(Strict):
    """Conditions at the beginning of a phase, each with its limits."""

    soak_min: Time | None = None
    coolant_start: Temperatures | None = None
    coolant_over_intake_max: Difference | None = None
    intake_over_coolant_max: Difference | None = None
    fuel: Shares | None = None
    ambient: Temperatures | None = None
    ambient_min: Temperature | None = None
    ambient_change_max: Difference | None = None
    coolant_min: Temperature | None = None
    run_time_min: Time | None = None
    run_time_max: Time | None = None
    closed_loop: Flag | None = None
    intake_min: Temperature | None = None
    refuelled_max: Share | None = None
    throttle_open_before: Time | None = None
    pto_off: Flag | None = None
    driven_min: Time | None = None
    purged: Time | None = None
    baro_min: Pressure | None = None
    voltage_min: Voltage | None = None


class Gates(Windows):
    """What must be true before a phase can count: the widest limits that are published for its own monitors.

    What no PID tells is `advice`: unwatched, never blocking.
    """

    advice: tuple[str, ...] = ()


class Part(Strict):
    """A part of a hold with a clock of its own: seconds in which `watch` lies inside its band.

    A part nothing in the car can show is unwatched: it is told and never blocks. `band` is in the unit of `watch`.
    """

    watch: Literal["speed", "in_drive", "regeneration", "exhaust_temperature", "scr_temperature", "torque"]
    duration: Time
    count: Literal["cumulative", "continuous"]
    temperature: Temperatures | None = None
    torque: Torques | None = None

    @model_validator(mode="after")
    def _one_band(self) -> "Part":
        wanted = {"exhaust_temperature": "temperature", "scr_temperature": "temperature", "torque": "torque"}
        for band in ("temperature", "torque"):
            if (getattr(self, band) is not None) != (wanted.get(self.watch) == band):
                raise ValueError(f'watch = "{self.watch}" and its band do not fit: {band}')
        return self


class IdleHold(Strict):
    """Standing with the engine idling."""

    kind: Literal["idle"]
    duration: Time
    speed_max: Speed
    cold_start: bool
    part: dict[str, Part] = Field(default_factory=dict)


class WarmUpHold(Strict):
    """Driving until the coolant is warm."""

    kind: Literal["warm_up"]
    until_coolant: Temperature
    speed: Speeds
    longest: Time
    fault_below: Temperature


class CruiseHold(Strict):
    """A steady cruise inside a band."""

    kind: Literal["cruise"]
    duration: Time
    count: Literal["cumulative", "continuous"]
    speed: Speeds
    speed_leave: Speed
    foot: Share | None = None
    foot_leave: Share | None = None
    rpm: Rpms | None = None
    rpm_leave: Rpm | None = None
    engine_on: Flag | None = None
    part: dict[str, Part] = Field(default_factory=dict)


class StopAndGoHold(Strict):
    """Town driving with stops and steady stretches."""

    kind: Literal["stop_and_go"]
    duration: Time
    speed: Speeds
    steady_within: Speed
    steady_stretch: Time
    steady_count: Count
    idle_stop: Time
    idle_count: Count


class DecelerationHold(Strict):
    """Rolling with the accelerator released."""

    kind: Literal["deceleration"]
    start: Speed
    end: Speed
    shortest: Time
    speed_min: Speed
    repeats: Count


class LoadStepHold(Strict):
    """Idle, a firm acceleration, a short cruise."""

    kind: Literal["load_step"]
    idle_before: Time
    accelerator: Shares
    end: Speed
    cruise: Time
    cruise_within: Speed
    repeats: Count


class ParkedHold(Strict):
    """Parked with the engine off."""

    kind: Literal["parked"]
    duration: Time


HoldForm = Annotated[
    IdleHold | WarmUpHold | CruiseHold | StopAndGoHold | DecelerationHold | LoadStepHold | ParkedHold,
    Field(discriminator="kind"),
]


class Phase(Strict):
    """One phase. `expected` is the driving time it takes with nothing going wrong; `regime` the road it wants.

    `better`: narrower windows inside the gates; they are told and stop nothing.
    """

    name: str
    serves: tuple[str, ...]
    after: tuple[str, ...] = ()
    regime: Literal["standing", "town", "road", "highway", "parked"]
    instruction: str
    cautions: tuple[str, ...] = ()
    expected: Time
    gates: Gates = Gates()
    better: Windows = Windows()
    hold: HoldForm


class NeedForm(Strict):
    """What one monitor needs: an ordered ladder of sets of phases."""

    rungs: tuple[tuple[str, ...], ...]
    any_order: bool = False
    helps: tuple[str, ...] = ()
    why: str


class Bridges(Strict):
    """How far apart two samples may be and still be bridged."""

    cruise: Time
    idle: Time
    deceleration: Time
    temperature: Time
    fuel_level: Time


class Timing(Strict):
    """How a hold judges its edges."""

    settle: Time
    short_break: Time


class AfterHold(Strict):
    """When a hold is full and the bit has not moved."""

    wait: Time
    repeats: Count


class AfterClear(Given):
    """What makers want done with the key right after a clear, in a sentence."""

    words: str


class StopCoaching(Strict):
    """When coaching ends at once."""

    coolant_hot: Temperature
    voltage_run_low: Voltage


class Witness(Strict):
    """Which signals tell something, the best first; and what is done where the car offers none of them.

    `ask`: the user is asked once. `advice`: the words are shown, the condition is unwatched, it never blocks.
    """

    first: tuple[str, ...]
    otherwise: Literal["ask", "advice"]
    why: str

    @model_validator(mode="after")
    def _known(self) -> "Witness":
        for signal in self.first:
            if signal not in SIGNALS:
                near = get_close_matches(signal, SIGNALS, n=1, cutoff=0.5)
                raise ValueError(f"no signal {signal!r}" + (f", the nearest is {near[0]!r}" if near else ""))
        return self


class Witnesses(Strict):
    """What can be watched, and how, for every gate, hold and abort of the profile."""

    accelerator_closed: Witness
    throttle_steady: Witness
    coolant: Witness
    intake: Witness
    ambient: Witness
    fuel_level: Witness
    voltage: Witness
    altitude: Witness
    run_time: Witness
    closed_loop: Witness
    purge: Witness
    pto: Witness
    in_drive: Witness
    torque: Witness
    exhaust_temperature: Witness
    scr_temperature: Witness
    regeneration: Witness
    soak: Witness
    refuelled: Witness
    brake: Witness
    loads_off: Witness
    hard_turn: Witness
    hill: Witness
    cruise_control: Witness
    def_ok: Witness

    def orders(self) -> dict[str, tuple[str, ...]]:
        """Signals by what they tell, the best first."""
        return {role: getattr(self, role).first for role in type(self).model_fields}


class Depend(Strict):
    """Monitors that must be complete before this one can run."""

    after: tuple[str, ...]
    basis: Basis
    src: tuple[str, ...] = ()


class Source(Strict):
    """A published source."""

    title: str
    year: str


class ProfileForm(Strict):
    """A whole profile."""

    schema_version: Literal[1]
    id: str
    name: str
    technology: str
    ignition: Literal["spark", "compression"]
    description: str
    cautions: tuple[str, ...]
    overlap: tuple[tuple[str, str], ...] = ()
    timing: Timing
    bridge: Bridges
    after_hold: AfterHold
    after_clear: AfterClear | None = None
    stop_coaching: StopCoaching
    signals: Witnesses
    gates: Gates = Gates()
    better: Windows = Windows()
    phase: dict[str, Phase]
    needs: dict[str, NeedForm]
    depends: dict[str, Depend] = Field(default_factory=dict)
    sources: dict[str, Source]
