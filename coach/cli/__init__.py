"""The command line. Results on standard output, everything else on standard error; no traceback reaches a user.

Exit codes: 0 ready or done, 1 not ready, 2 usage, 3 could not tell, 4 no connection.
"""

import argparse
import gc
import os
import sys
from collections.abc import Sequence
from contextlib import nullcontext
from pathlib import Path
from typing import Any, NoReturn

from coach import __version__
from coach.adapter.errors import AdapterError
from coach.cli import check, demo, drive, importing, jobs, report, rules, screens, simulate
from coach.cli.common import Mistakes
from coach.cli.exits import COULD_NOT_TELL, DONE, NO_CONNECTION, USAGE
from coach.cli.long_lines import fold_lines
from coach.cli.terminal import print_json, say, visible_output
from coach.visible import in_line

REPORT_IT = "Please report it with what you did; COACH_TRACEBACK=1 in the environment shows all of it."


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    gc.set_threshold(50_000, 20, 100)  # commands are short and make few circles: looking for them cost a tenth
    with visible_output():
        try:
            code = _run(argv)
            sys.stdout.flush()
            return code
        except BrokenPipeError:  # the reader of our output has enough, as `head` does
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            return DONE
        except KeyboardInterrupt:
            print("coach: stopped; what was written before is kept", file=sys.stderr)
            return COULD_NOT_TELL
        except Exception as error:  # no traceback reaches a user
            if os.environ.get("COACH_TRACEBACK"):
                raise
            from coach.words.faults import where

            say(f"coach: a fault of this program, {where(error)}. {REPORT_IT}", aside=True)
            return COULD_NOT_TELL


def _run(argv: Sequence[str] | None) -> int:
    arguments = _parser().parse_args(argv)
    with nullcontext() if getattr(arguments, "json", False) else fold_lines():
        return _commanded(arguments)


def _commanded(arguments: argparse.Namespace) -> int:
    try:
        code: int = arguments.command(arguments)
    except (ValueError, KeyError) as error:  # every error of ours is a ValueError; a KeyError names an unknown profile
        for line in getattr(error, "mistakes", None) or (str(error.args[0] if error.args else error),):
            say(f"coach: {line}", aside=True)
        return USAGE
    except BrokenPipeError:
        raise
    except AdapterError as error:
        say(f"coach: {error}", aside=True)
        return NO_CONNECTION
    except OSError as error:
        named = f"{error.filename}: " if error.filename else ""
        say(f"coach: {named}{error.strerror or error}", aside=True)
        return USAGE
    return code


class Parser(argparse.ArgumentParser):
    """Says what is wrong with the arguments in one line, whatever they hold."""

    def error(self, message: str) -> NoReturn:
        """Usage, the line, exit code 2."""
        super().error(in_line(message))


def _parser() -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = Parser(
        prog="coach", description="Brings a car back to emissions readiness after a repair."
    )
    parser.add_argument("--version", action="version", version=f"coach {__version__}")
    commands = parser.add_subparsers(title="commands", required=True, metavar="COMMAND")
    _review_parser(commands)
    importing.add(commands)
    _profiles_parser(commands)
    check.add(commands)
    drive.add(commands)
    jobs.add(commands)
    report.add(commands)
    rules.add(commands)
    demo.add(commands)
    simulate.add(commands)
    screens.add(commands)
    return parser


def _review_parser(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    review = commands.add_parser(
        "review",
        help="what happened in a recorded drive",
        description="Judges a recorded drive: phases, holds, driving cycle, monitors, and what is still needed.",
        epilog="example: coach review drive.journal.gz",
    )
    review.add_argument(
        "file", type=Path, metavar="FILE", help="a journal, or anything that coach import takes; - for standard input"
    )
    review.add_argument("--json", action="store_true", help="the same as data")
    review.add_argument("--full", action="store_true", help="every happening, short holds too")
    review.add_argument("--screen", action="store_true", help="on the screen: play, step, jump, plots")
    screens.look_argument(review)
    review.add_argument("--us", action="store_true", help="miles and Fahrenheit")
    review.add_argument("--profile", metavar="ID", help="judge it anew under this profile or .toml file")
    importing.add_readings(review)
    review.set_defaults(command=_review)


def _review_on_screen(path: Path, arguments: argparse.Namespace, profile: Any) -> int:
    from coach.screen.app import run_review

    if not screens.on_screen(False):
        raise ValueError("--screen needs a terminal; without it the review is printed")
    run_review(path, us=True if arguments.us else None, profile=profile, look=arguments.look)
    return DONE


def _review(arguments: argparse.Namespace) -> int:
    from coach.drive.profile import parse_profile
    from coach.library import profile_text
    from coach.session.review import review
    from coach.words.review import page
    from coach.words.review_data import document
    from coach.words.units import Units

    profile = None
    if arguments.profile:
        profile = parse_profile(profile_text(arguments.profile), arguments.profile)
    with importing.the_file(arguments.file) as path:
        if arguments.screen:
            return _review_on_screen(path, arguments, profile)
        reviewed = review(path, profile, arguments.protocol, importing.mapping_of(arguments))
    if reviewed.import_report is not None:
        importing.tell(reviewed.import_report)
    if arguments.json:
        print_json(document(reviewed))
        return DONE
    us = arguments.us or (reviewed.context is not None and reviewed.context.units == "us")
    print(page(reviewed, Units(us), arguments.full))
    return DONE


def _profiles_parser(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    profiles = commands.add_parser(
        "profiles",
        help="list, explain and check profiles",
        description="Profiles describe the phases by technology, each number with its source.",
        epilog="example: coach profiles show hybrid",
    )
    actions = profiles.add_subparsers(required=True, metavar="ACTION")
    listing = actions.add_parser("list", help="the shipped profiles", epilog="example: coach profiles list")
    listing.add_argument("--json", action="store_true", help="the same as data")
    listing.set_defaults(command=_profiles_list)
    show = actions.add_parser(
        "show", help="one profile, every number with its source", epilog="example: coach profiles show hybrid"
    )
    show.add_argument("id", metavar="ID")
    show.set_defaults(command=_profiles_show)
    check = actions.add_parser(
        "check", help="check a profile of your own", epilog="example: coach profiles check my.toml"
    )
    check.add_argument("files", type=Path, nargs="+", metavar="FILE")
    check.set_defaults(command=_profiles_check)


def _profiles_list(arguments: argparse.Namespace) -> int:
    from coach.drive.profile import parse_profile
    from coach.library import profile_paths

    profiles = [parse_profile(path.read_text(encoding="utf-8"), path.name) for path in profile_paths()]
    if arguments.json:
        rows = [{"id": p.id, "name": p.name, "technology": p.technology, "phases": list(p.phase)} for p in profiles]
        print_json({"schema": "coach.profiles", "version": 1, "profiles": rows})
    else:
        for profile in profiles:
            say(f"{profile.id:<24} {profile.name}, {len(profile.phase)} phases")
    return DONE


def _profiles_show(arguments: argparse.Namespace) -> int:
    from coach.drive.profile import parse_profile
    from coach.library import profile_text
    from coach.words.profiles import explain

    print(explain(parse_profile(profile_text(arguments.id), arguments.id)))
    return DONE


def _profiles_check(arguments: argparse.Namespace) -> int:
    """Check every file, whatever is wrong with the one before."""
    mistakes: list[str] = []
    for file in arguments.files:
        try:
            say(_checked(file))
        except ValueError as error:
            mistakes += getattr(error, "mistakes", (str(error),))
    if mistakes:
        raise Mistakes(mistakes)
    return DONE


def _checked(file: Path) -> str:
    from coach.drive.profile import parse_profile
    from coach.ordinary import small_text

    profile = parse_profile(small_text(file), str(file))
    return f"{file}: in order, {len(profile.phase)} phases, {sum(1 for _ in profile.numbers())} sourced values"


if __name__ == "__main__":
    sys.exit(main())
