"""Which commands open a screen, and when: at a terminal, unless plain lines are asked for. Textual loads only then."""

import argparse
import sys
from typing import Any

from coach.cli.exits import COULD_NOT_TELL, DONE, NOT_READY
from coach.cli.terminal import say

LOOKS = ("dark", "light")


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """`coach start` and `coach serve`."""
    start = commands.add_parser(
        "start", help="the screen to begin from: a car, a simulated car, a recording", epilog="example: coach start"
    )
    look_argument(start)
    start.set_defaults(command=_start)
    serve = commands.add_parser(
        "serve",
        help="the same screens in a browser, on a tablet say",
        description="Serves the screens to a browser, on this computer only unless --host says otherwise.",
        epilog="example: coach serve --port 8750",
    )
    serve.add_argument("--host", default="127.0.0.1", metavar="ADDRESS", help="127.0.0.1 (default): this computer only")
    serve.add_argument("--port", type=int, default=8750, metavar="N", help="default 8750")
    serve.set_defaults(command=_serve)
    for parser in (start, serve):
        parser.add_argument("--us", action="store_true", help="miles and Fahrenheit")
        parser.add_argument("--jobs", metavar="DIR", help="where jobs and journals are kept")


def look_argument(parser: argparse.ArgumentParser) -> None:
    """How the screen looks."""
    parser.add_argument(
        "--look", choices=LOOKS, default="dark", help="dark or light; NO_COLOR in the environment takes all colour away"
    )


def on_screen(plain: bool) -> bool:
    """True when a screen can be opened: both ends are a terminal and nobody asked for plain lines."""
    return not plain and sys.stdin.isatty() and sys.stdout.isatty()


def told(ended: Any) -> int:
    """What a drive on the screen brought, once the screen is gone: lines, where it is written, the exit code."""
    if ended is None:
        return COULD_NOT_TELL
    if ended.problem:
        say(f"coach: {ended.problem}", aside=True)
    if ended.path:
        say(f"The journal: {ended.path}" + (", not to the end of the drive:" if ended.unrecorded else ""))
    if ended.unrecorded:
        say(f"  {ended.unrecorded}")
    for text in ended.lines:
        say(text)
    if ended.reached:
        return DONE
    sure = ended.lines and not ended.problem and not ended.doubtful
    return NOT_READY if sure else COULD_NOT_TELL


def _start(arguments: argparse.Namespace) -> int:
    from coach.cli.common import folder_of
    from coach.screen.app import run_start
    from coach.session.places import data_folder

    if not on_screen(False):
        raise ValueError("coach start needs a terminal; coach demo --plain and coach drive --plain do without")
    data_folder(folder_of(arguments))  # what cannot be kept is told before a screen opens
    ended = run_start(us=arguments.us, folder=folder_of(arguments), look=arguments.look)
    return told(ended) if ended is not None else DONE


def _serve(arguments: argparse.Namespace) -> int:
    from coach.cli.common import folder_of
    from coach.screen.serve import serve
    from coach.session.places import data_folder

    data_folder(folder_of(arguments))
    serve(host=arguments.host, port=arguments.port, us=arguments.us, folder=arguments.jobs)
    return DONE
