"""`coach drive`: coaching on the car, in plain lines. The journal is written from the first answer on."""

import argparse
import select
import signal
import sys
from datetime import datetime
from pathlib import Path
from typing import Any

from coach.cli.common import link_arguments
from coach.cli.exits import COULD_NOT_TELL, DONE, NO_CONNECTION, NOT_READY
from coach.cli.lines import Lines
from coach.cli.rules import check_told, rule_arguments, tell, vehicle_by
from coach.cli.screens import look_argument, on_screen, told
from coach.cli.terminal import ask, say

CLEAN, CLEAN_CYCLES = "clean-cycles", "clean_cycles"
"""The target that is no monitor, as it is written on the command line and in a recording."""
STEP_S = 0.25
AWAY_S = 60.0  # our judgement: a first connection that takes longer is told with what to do, and given up


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The command's arguments."""
    parser = commands.add_parser(
        "drive",
        help="coach a drive on the car",
        description="Coaches a drive: reads the car, plans, says one thing at a time. Ctrl-C ends it.",
        epilog="example: coach drive --plain --port /dev/rfcomm0 --speed-limit 100",
    )
    link_arguments(parser)
    parser.add_argument("--plain", action="store_true", help="plain lines")
    parser.add_argument("--profile", metavar="ID", help="the car's profile or a .toml file; else proposed by the car")
    parser.add_argument(
        "--target",
        action="append",
        default=None,
        metavar="MONITOR",
        help="only this monitor; may be repeated. clean-cycles: driving cycles without the fault, until the MIL is out",
    )
    parser.add_argument(
        "--speak", action="store_true", help="say the cues aloud, through a speech program if there is one"
    )
    parser.add_argument("--bell", action="store_true", help="the terminal's bell with every cue that matters")
    parser.add_argument("--alone", action="store_true", help="no text while the wheels turn")
    look_argument(parser)
    rule_arguments(parser, ("--fuel-type",))  # here --fuel is the level in the tank
    parser.add_argument("--speed-limit", type=float, metavar="N", help="never ask for a phase above N (km/h, or mph)")
    parser.add_argument("--fuel", type=float, metavar="PCT", help="fuel level by the gauge, when the car does not tell")
    parser.add_argument("--parked-hours", type=float, metavar="H", help="how long it stood with the engine off")
    parser.add_argument("--us", action="store_true", help="miles and Fahrenheit")
    parser.add_argument("--job", metavar="ID", help="the job it belongs to; the open one when left out")
    parser.add_argument("--jobs", metavar="DIR", help="where the journals are kept")
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--go-on", action="store_true", help="go on with the drive that was broken off")
    which.add_argument("--new", action="store_true", help="begin a new drive without asking")
    parser.set_defaults(command=run)


def run(arguments: argparse.Namespace) -> int:
    """Begin or go on, coach until the target is reached or the user ends it."""
    from coach.cli.common import job_of, the_port
    from coach.session.live import a_profile, begin, go_on

    lines = Lines(arguments.us)
    _check_numbers(arguments)
    check_told(arguments)
    if arguments.profile:  # what cannot be used is said before the car is asked
        a_profile(arguments.profile)
    asked_for = bool(arguments.target or arguments.rules)
    job = job_of(arguments)
    tell(arguments, job)
    wanted = _wanted(arguments, the_port(arguments.port), job)
    broken = _broken_off(arguments, lines, job)
    if broken is not None:
        lines.say(f"Going on with {broken.name}.")
    if on_screen(arguments.plain):
        return _on_screen(arguments, wanted, broken)
    drive, kept = go_on(broken, wanted, lines.progress) if broken is not None else begin(wanted, lines.progress)
    signal.signal(signal.SIGTERM, _end_on)
    drive.source.start()
    if broken is not None:
        _choose_again(drive, wanted, asked_for)
    try:
        if not _connect(drive, lines):
            return NO_CONNECTION
        _say_differences(drive, lines, arguments)
        _coach(drive, lines, arguments)
    except KeyboardInterrupt:
        lines.say("Ending the drive.")
    finally:
        lines.take(drive, drive.finish("ended by the user"))
        if kept.path is not None and kept.path.exists():
            lines.say(f"The journal: {kept.path}" + (", not to the end of the drive:" if drive.unrecorded else ""))
        if drive.unrecorded:
            lines.say(f"  {drive.unrecorded}")
    lines.summary(drive)
    return outcome_code(drive.core)


def outcome_code(core: Any) -> int:
    """0 the target is reached, 3 nothing surely stands against it and something cannot be told, 1 it is not reached."""
    if core is None:
        return COULD_NOT_TELL
    now = core.standing()
    return DONE if now.reached else COULD_NOT_TELL if now.doubtful else NOT_READY


def _on_screen(arguments: argparse.Namespace, wanted: Any, broken: Path | None) -> int:
    """The same drive on the screen."""
    from coach.screen.app import run_drive

    ended = run_drive(
        wanted,
        going_on=broken,
        speak=arguments.speak,
        bell=arguments.bell,
        alone=arguments.alone,
        look=arguments.look,
    )
    return told(ended)


def _check_numbers(arguments: argparse.Namespace) -> None:
    """Numbers no car and no road has are refused before the car is asked."""
    limits = (("--fuel", arguments.fuel, 0, 100), ("--speed-limit", arguments.speed_limit, 20, 300))
    for name, value, low, high in (*limits, ("--parked-hours", arguments.parked_hours, 0, 24 * 365)):
        if value is not None and not low <= value <= high:
            raise ValueError(f"{name} {value:g}: between {low} and {high}")
    if arguments.go_on and (arguments.parked_hours is not None or arguments.profile):
        raise ValueError("--parked-hours and --profile belong to the beginning of a drive, not to --go-on")


def _choose_again(drive: Any, wanted: Any, asked_for: bool) -> None:
    """What is asked for anew on going on stands in the journal as a choice."""
    if wanted.speed_max_kmh is not None:
        drive.choose({"speed_max_kmh": wanted.speed_max_kmh})
    if wanted.clean_cycles:
        drive.choose({"target": CLEAN_CYCLES})
    elif asked_for:
        target, rule = wanted.target(drive.core.car), wanted.rule(drive.core.car)
        if target is not None:
            drive.choose({"target": list(target), **({"rule": rule} if rule is not None else {})})


def _wanted(arguments: argparse.Namespace, port: str, job: Any) -> Any:
    from coach.cli.common import folder_of
    from coach.drive.facts import USERS_WORD
    from coach.j1979.monitors import MONITORS
    from coach.session.for_job import for_job
    from coach.session.live import Wanted
    from coach.words.units import KM_PER_MILE

    clean = _for_clean_cycles(arguments)
    for monitor in () if clean else arguments.target or ():
        if monitor not in MONITORS:
            raise ValueError(f"--target {monitor}: no such monitor; known: clean-cycles, {', '.join(MONITORS)}")
    limit = arguments.speed_limit
    known: dict[str, Any] = {}
    if arguments.parked_hours is not None:
        known = {"soak_s": arguments.parked_hours * 3600, "soak_proof": USERS_WORD}
    wanted = Wanted(
        port,
        arguments.baud,
        arguments.protocol,
        arguments.profile,
        (lambda _car: None) if clean else _target(arguments, job),
        limit * KM_PER_MILE if limit and arguments.us else limit,
        arguments.us,
        folder_of(arguments),
        known,
        rule=(lambda _car: None) if clean else _rule(arguments, job),
        clean_cycles=clean,
    )
    return wanted if job is None else for_job(wanted, job)


def _target(arguments: argparse.Namespace, job: Any) -> Any:
    """What the drive is for: the monitors named, those the rule wants, or all that the car has."""
    if arguments.target:
        return lambda _car: tuple(arguments.target)
    if not arguments.rules:
        return lambda _car: None
    from coach.inspection.findings import findings_of
    from coach.inspection.needs import target
    from coach.session.rules import a_rule

    rule = a_rule(arguments.rules)
    repaired, chosen = (job.record.codes, job.record.chosen) if job is not None else ((), {})

    def wanted(car: Any) -> tuple[str, ...]:
        return target(rule, findings_of(car), vehicle_by(car, arguments)[0], repaired, chosen)

    return wanted


def _rule(arguments: argparse.Namespace, job: Any) -> Any:
    """What the named rule refuses beside the monitors of the target; none where no rule was named."""
    if not arguments.rules:
        return lambda _car: None
    from coach.session.rules import a_rule, refusals

    rule, target = a_rule(arguments.rules), _target(arguments, job)
    return lambda car: refusals(rule, car, vehicle_by(car, arguments)[0], target(car) or ())


def _for_clean_cycles(arguments: argparse.Namespace) -> bool:
    """--target clean-cycles, which goes with no monitor: it is another way."""
    targets = arguments.target or []
    if CLEAN not in targets:
        return False
    if len(targets) > 1 or arguments.rules:
        raise ValueError("--target clean-cycles goes with no other --target and no --rules: it is for the MIL alone")
    return True


def _broken_off(arguments: argparse.Namespace, lines: Lines, job: Any) -> Path | None:
    """A drive that was broken off lately: asked for, or offered where somebody can answer."""
    from coach.cli.common import folder_of
    from coach.session.live import cut_short
    from coach.session.places import broken_off, data_folder, kept_drives

    if arguments.new:
        return None
    kept = kept_drives(data_folder(folder_of(arguments)))
    if job is not None:
        kept = [path for _entry, path in job.files("drive")]
    found = broken_off(kept, datetime.now(), cut_short)
    if found is None:
        if arguments.go_on:
            raise ValueError("no drive was broken off within the last six hours")
        return None
    if arguments.go_on:
        return found
    if not sys.stdin.isatty():
        lines.say(f"A drive was broken off: {found.name}. --go-on goes on with it; this is a new one.")
        return None
    answer = ask(f"The drive {found.name} was broken off. Go on with it? [Y/n] ").strip().lower()
    return found if answer in ("", "y", "yes") else None


def _connect(drive: Any, lines: Lines) -> bool:
    """Until the read-out is over. A first failure is told with what to do; it goes on trying for a minute."""
    told = ""
    while drive.state in ("connecting", "knowing", "reading"):
        lines.take(drive, drive.step(STEP_S))
        if drive.link.state != "up" and drive.link.why and drive.link.why != told:
            told = drive.link.why
            say(f"coach: {told}", aside=True)
        if drive.state == "connecting" and drive.source.now() > AWAY_S:
            return False
    return True


def _say_differences(drive: Any, lines: Lines, arguments: argparse.Namespace) -> None:
    """Where the user and the car say different things of model year and fuel, both are told."""
    from coach.words.two_words import differences

    if drive.core is not None:
        for line in differences(vehicle_by(drive.core.car, arguments)[1]):
            lines.say(line)


def _coach(drive: Any, lines: Lines, arguments: argparse.Namespace) -> None:
    if arguments.fuel is not None:
        drive.choose({"answer": {"fuel_level_pct": arguments.fuel}})
        lines.take(drive, drive.step(STEP_S))
    lines.before_the_wheels_turn(drive)
    keys = (
        sys.stdin.isatty() and sys.platform != "win32"
    )  # elsewhere a pipe or a terminal cannot be looked at without waiting
    if keys:
        lines.say("Keys, each with Enter: n not on this road, q the end.")
    while True:
        lines.take(drive, drive.step(STEP_S))
        if keys and _typed(drive, lines):
            return


def _typed(drive: Any, lines: Lines) -> bool:
    """What somebody typed; true when the drive is to end."""
    from coach.drive.current import current_phase

    if not select.select([sys.stdin], [], [], 0.0)[0]:
        return False
    word = sys.stdin.readline().strip().lower()
    if word == "n":
        phase = current_phase(drive.core, drive.core.plan())
        if phase is not None:
            drive.choose({"skip": phase})
    elif word in ("q", "quit", "end"):
        _part(drive, lines)
        return True
    return False


def _part(drive: Any, lines: Lines) -> None:
    """The last look: some cars show new bits, and erase permanent codes, only after the key was off."""
    lines.parked()
    lines.say(
        "Stop where it is safe. Key off, wait ten seconds, key on; then Enter reads once more. q and Enter: end now."
    )
    while True:
        lines.take(drive, drive.step(STEP_S))
        if select.select([sys.stdin], [], [], 0.0)[0]:
            if sys.stdin.readline().strip().lower() == "q":
                return
            break
    drive.read_again()
    while drive.reading:
        lines.take(drive, drive.step(STEP_S))


def _end_on(_number: int, _frame: object) -> None:
    """Being told to stop by the system is the user's end: the journal gets its last line."""
    raise KeyboardInterrupt
