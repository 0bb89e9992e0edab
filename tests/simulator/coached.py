"""A driver who does what the coach's core asks, phase by phase, in-process: no adapter, no screen, no waiting."""

from collections.abc import Callable
from dataclasses import dataclass, field

from coach.car.arrivals import Answer, LinkChange, Request
from coach.car.happenings import Happening
from coach.drive.core import Core, make_core
from coach.drive.profile import Profile
from coach.drive.schema import CruiseHold, DecelerationHold, LoadStepHold, StopAndGoHold, WarmUpHold
from coach.simulator.answers import is_can
from coach.simulator.driver import Cue, Driver
from coach.simulator.simulated_car import SimulatedCar
from tests.recordings import a_profile

FAST = (0x0D, 0x0C, 0x11, 0x49)
SLOW = (0x05, 0x0F, 0x03, 0x1F, 0x2E, 0x2F, 0x42, 0x46, 0x33, 0x04, 0x3C, 0x78, 0x7C, 0x8B, 0x0B, 0x1E)
RARE = ("0101", "0141", "03", "07", "0A", "0130", "0131")
EASY = Cue("cruise", 60, 80)
"""Between phases, as long as a monitor may still confirm."""


def cue_of(profile: Profile, phase: str) -> Cue:
    """What a driver makes of a phase."""
    hold = profile.phase[phase].hold
    if isinstance(hold, CruiseHold):
        return Cue("cruise", hold.speed.low, hold.speed.high)
    if isinstance(hold, WarmUpHold):
        return Cue("warm_up", hold.speed.low, hold.speed.high)
    if isinstance(hold, DecelerationHold):
        return Cue("roll", hold.end.value - 2, hold.start.value + 2)
    if isinstance(hold, StopAndGoHold):
        return Cue("stop_and_go", hold.speed.low, hold.speed.high)
    if isinstance(hold, LoadStepHold):
        return Cue("load_step", None, hold.end.value + 1)
    return Cue("idle")


Meanwhile = Callable[["Coached"], Cue | None]
"""What comes between once a second, and what the driver then has to do instead of what the coach asks."""


def nothing(_coached: "Coached") -> Cue | None:
    """An undisturbed drive."""
    return None


@dataclass
class Coached:
    """One coached drive: the car, the core that watched it, what happened, and which phases were driven."""

    car: SimulatedCar
    profile: Profile
    core: Core = field(init=False)
    happened: list[Happening] = field(default_factory=list)
    phases: list[str] = field(default_factory=list)
    _asked: int = 0

    def __post_init__(self) -> None:
        self.core = make_core(self.profile, can=is_can(self.car.bus))
        self.feed(LinkChange(self.car.clock_s, "up", "connected"))

    def feed(self, arrival: Request | Answer | LinkChange) -> None:
        """One arrival into the core."""
        self.happened.extend(self.core.feed(arrival))

    def ask_pids(self, pids: tuple[int, ...]) -> None:
        """Current data: up to six PIDs a question on CAN, one before it."""
        at_once = 6 if is_can(self.car.bus) else 1
        for i in range(0, len(pids), at_once):
            self.ask("01" + bytes(pids[i : i + at_once]).hex().upper())

    def ask(self, text: str) -> None:
        """One question and its answers."""
        t = round(self.car.clock_s, 3)
        self._asked += 1
        self.feed(Request(t, self._asked, text))
        for reply in self.car.ask(bytes.fromhex(text)):
            self.feed(Answer(t, self._asked, reply.ecu, reply.payload))

    def drive(self, seed: int, longest_s: float, meanwhile: Meanwhile = nothing) -> None:
        """Follow the plan until nothing is left to drive or wait for, or the time is up; then stop, key off."""
        driver = Driver(self.car, seed)
        end_s = self.car.clock_s + longest_s
        self.car.key_on()
        tick = 0
        while self.car.clock_s < end_s:
            if tick % 5 == 0:
                plan = self.core.plan()
                if tick > 10 and not plan.drive and not plan.waiting:
                    break
                self._follow(driver, plan.phases[0] if plan.drive else None)
            other = meanwhile(self)
            if other is not None:
                driver.follow(other)
            driver.advance(self.car.clock_s + 1)
            self.ask_pids(FAST)
            if tick % 4 == 0:
                self.ask_pids(SLOW)
            for text in RARE if tick % 5 == 0 else ():
                self.ask(text)
            tick += 1
        driver.follow(Cue("key_off"))
        driver.advance(self.car.clock_s + 40)

    def _follow(self, driver: Driver, phase: str | None) -> None:
        if phase is not None and phase not in self.phases[-1:]:
            self.phases.append(phase)
        driver.follow(cue_of(self.profile, phase) if phase is not None else EASY)


def coach(
    car: SimulatedCar,
    profile: str,
    seed: int = 1,
    longest_s: float = 5400,
    model_year: int | None = None,
    meanwhile: Meanwhile = nothing,
) -> Coached:
    """Coach one drive under a shipped profile; the job knows that the car stood for the night, and its model year."""
    coached = Coached(car, a_profile(profile))
    coached.core.learn({"soak_s": 10 * 3600.0, "soak_proof": "test", "car": {"model_year": model_year}})
    coached.drive(seed, longest_s, meanwhile)
    return coached
