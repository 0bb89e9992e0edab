"""`coach demo`: a simulated car taken through a whole drive cycle, from codes just cleared to all monitors complete."""

import argparse
import time
from datetime import datetime, timedelta
from typing import Any

from coach.cli.drive import outcome_code
from coach.cli.exits import COULD_NOT_TELL
from coach.cli.lines import Lines
from coach.cli.screens import look_argument, on_screen, told

PROFILES = {
    "small": "spark_engine_off_leak",
    "estate": "spark_running_leak",
    "hybrid": "hybrid",
    "diesel": "light_diesel",
    "hatch": "spark_engine_off_leak",
}
NIGHT_H = 10.0
EVENING_H = 0.3
LONGEST_REAL_S = 1800.0  # a demo that lasts longer than this on the wall has gone wrong
STANDING_S = 12.0  # car's seconds with the key off before it is turned on again for the last read-out


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The command's arguments."""
    parser = commands.add_parser(
        "demo",
        help="a whole drive cycle with a simulated car",
        description="Takes a simulated car through a whole drive cycle, through python-OBD on a pseudo-terminal.",
        epilog="example: coach demo --car small --pace 60",
    )
    parser.add_argument("--car", default="small", choices=tuple(PROFILES), help="which simulated car")
    parser.add_argument("--fault", action="append", default=[], metavar="NAME", help="a fault it has; may be repeated")
    parser.add_argument("--pace", type=float, default=60.0, metavar="N", help="times real time (default 60)")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="another driver, another road")
    parser.add_argument("--plain", action="store_true", help="plain lines (always so without a terminal)")
    parser.add_argument(
        "--speak", action="store_true", help="say the cues aloud, through a speech program if there is one"
    )
    look_argument(parser)
    parser.add_argument("--us", action="store_true", help="miles and Fahrenheit")
    parser.add_argument("--jobs", metavar="DIR", help="where the journals are kept")
    parser.set_defaults(command=run)


def run(arguments: argparse.Namespace) -> int:
    """Day one: read out, drive, park. If something must wait for the night: the next morning's read-out."""
    from coach.cli.common import checked_pace, folder_of
    from coach.session.live import Wanted
    from coach.simulator.cars import CARS, make_car

    pace = checked_pace(arguments.pace)
    if on_screen(arguments.plain):
        return _on_screen(arguments, pace)
    car = make_car(arguments.car, faults=tuple(arguments.fault), seed=arguments.seed, soaked_h=EVENING_H)

    def wanted(parked_h: float) -> Wanted:
        known = {"soak_s": parked_h * 3600, "soak_proof": "by the simulation's own record"}
        return Wanted("", profile_id=PROFILES[arguments.car], us=arguments.us, folder=folder_of(arguments), known=known)

    lines = Lines(arguments.us)
    lines.say(f"SIMULATED, {pace:g} times real time. {CARS[arguments.car]}.")
    lines.say("The evening: a sensor was replaced, the codes were cleared, the engine is still warm. Can I drive now?")
    began = datetime.now().astimezone().replace(hour=20, minute=40, second=0, microsecond=0)
    evening = Day(car, wanted(EVENING_H), pace, lines, began, arguments.seed)
    evening.read_only(before=True)
    began = _night(car, lines, began)
    day = Day(car, wanted(NIGHT_H), pace, lines, began, arguments.seed)
    day.drive_out()
    if day.parked:
        began = _night(car, lines, began + timedelta(seconds=day.lasted_s))
        day = Day(car, wanted(NIGHT_H), pace, lines, began, arguments.seed + 1)
        day.read_only()
    lines.say("")
    lines.say("All of this was SIMULATED: an invented car, an invented driver.")
    return day.code


def _on_screen(arguments: argparse.Namespace, pace: float) -> int:
    """The morning drive alone: who looks at a screen drives it himself, key by key."""
    from coach.cli.common import folder_of
    from coach.screen.app import run_demo
    from coach.session.live import Wanted

    wanted = Wanted("", profile_id=PROFILES[arguments.car], us=arguments.us, folder=folder_of(arguments))
    faults = tuple(arguments.fault)
    ended = run_demo(
        arguments.car, wanted, pace, faults=faults, seed=arguments.seed, speak=arguments.speak, look=arguments.look
    )
    return told(ended)


def _night(car: Any, lines: Lines, began: datetime) -> datetime:
    """Nothing is asked through the night; the clock jumps to the morning, which is a new journal."""
    lines.say("")
    lines.say(f"Parked for {NIGHT_H:g} hours; nothing is asked. The simulated clock jumps on.")
    car.key_off()
    car.soak(NIGHT_H)
    return began + timedelta(hours=NIGHT_H)


class Day:
    """One journal: a drive, or a read-out in the morning."""

    def __init__(self, car: object, wanted: object, pace: float, lines: Lines, began: datetime, seed: int) -> None:
        from coach.session.simulated import SimulatedDrive

        self.simulated = SimulatedDrive(car, wanted, pace, lines.progress, began, seed)  # type: ignore[arg-type]
        self.lines = lines
        self.code = COULD_NOT_TELL
        self.parked = False
        self.lasted_s = 0.0
        self._deadline = time.monotonic() + LONGEST_REAL_S

    def drive_out(self) -> None:
        """Read out, drive what the coach asks, key off, key on, read once more."""
        with self.simulated as simulated:
            simulated.key_on()
            if not self._until(lambda: simulated.drive.state == "driving"):
                return
            self.lines.before_the_wheels_turn(simulated.drive)
            self._until(lambda: simulated.steer() == "key_off" and not simulated.car.ignition_on)
            self._part()
            self._end()

    def read_only(self, before: bool = False) -> None:
        """Key on, read out, say what is complete, or what could be driven now."""
        with self.simulated as simulated:
            simulated.key_on()
            if not self._until(lambda: simulated.drive.state == "driving"):
                return
            if before:
                self.lines.before_the_wheels_turn(simulated.drive)
            self._end(summary=not before)

    def _part(self) -> None:
        """Every drive ends with key off, key on, and a last look: some cars show new bits only then."""
        self.lines.say("Parked, key off. Key on again in a moment, for the last look.")
        self.simulated.wait()
        self.lines.parked()
        off_t = self.simulated.car.clock_s
        self._until(lambda: self.simulated.car.clock_s - off_t >= STANDING_S)
        self.simulated.key_on()
        self._until(lambda: self.simulated.drive.link.state == "up")
        self.simulated.drive.read_again()
        self._until(lambda: not self.simulated.drive.reading)

    def _until(self, done: object) -> bool:
        from coach.session.simulated import TICK_S

        while not done():  # type: ignore[operator]
            if time.monotonic() > self._deadline:
                self.lines.say("The simulation did not come to an end in time; what happened so far is kept.")
                return False
            self.simulated.live()
            self.lines.take(self.simulated.drive, self.simulated.drive.step(TICK_S))
        return True

    def _end(self, summary: bool = True) -> None:
        drive = self.simulated.drive
        self.lasted_s = drive.source.now()
        self.lines.take(drive, drive.finish("done"))
        self.lines.closed()
        if summary:
            self.lines.summary(drive)
        core = drive.core
        if core is not None:
            plan = core.plan()
            self.parked = bool(plan.park)
            self.code = outcome_code(core)
        if self.simulated.kept.path is not None:
            self.lines.say(f"The journal: {self.simulated.kept.path}")
