"""`coach import`: makes a journal of a recording of another program."""

import argparse
import os
import stat
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from coach.cli.exits import DONE
from coach.cli.terminal import rewrite, say

if TYPE_CHECKING:
    from coach.importer.imported import Imported, Report
    from coach.journal.records import Context, Header

QUIET_S = 2.0  # our judgement: shorter work needs no telling
BETWEEN_S = 0.5


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command."""
    parser = commands.add_parser(
        "import",
        help="make a journal of a table, a CAN capture or an adapter's transcript",
        description="Makes a journal of a recording of another program: a table of measured values (CSV, Parquet) with"
        " a column of time, a CAN capture (candump log, ASC, BLF, TRC, MF4), or a transcript of what was asked through"
        " an adapter. What it is shows in its content. Any of them may be packed with gzip.",
        epilog="example: coach import log.csv -o drive.journal.gz --column 'Speed=speed_kmh:mph'",
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="- for standard input")
    parser.add_argument("-o", "--output", type=Path, required=True, metavar="OUT", help="the journal; .gz packs it")
    parser.add_argument("--profile", metavar="ID", help="the car's profile; see coach profiles list")
    add_readings(parser)
    parser.add_argument("--overwrite", action="store_true", help="replace OUT when it exists")
    parser.set_defaults(command=run)


def add_readings(parser: argparse.ArgumentParser) -> None:
    """The options that say how a recording of another program is to be read."""
    parser.add_argument(
        "--column",
        action="append",
        default=[],
        metavar="HEADER=SIGNAL[:UNIT]",
        help="what a table's column is; may be repeated",
    )
    parser.add_argument("--mapping", type=Path, metavar="TOML", help='a file with [columns] "HEADER" = "SIGNAL:UNIT"')
    parser.add_argument(
        "--protocol",
        metavar="NAME",
        help="a transcript's protocol where its lines do not show it: can11, can29, iso9141, kwp, pwm, vpw or 1 to 9",
    )


def run(arguments: argparse.Namespace) -> int:
    """Import one file."""
    from coach.importer.imported import open_import
    from coach.journal.records import Context
    from coach.library import profile_text
    from coach.session.review import DEFAULT_PROFILE, imported_header

    profile = arguments.profile or DEFAULT_PROFILE
    context = Context(profile={"id": profile, "text": profile_text(profile)})
    if arguments.output.exists() and arguments.file.exists() and arguments.output.samefile(arguments.file):
        raise ValueError(f"{arguments.output}: the recording itself; name another file for the journal")
    if str(arguments.output) == "-":
        raise ValueError("-o -: a journal is written to a file; name one")
    mapping = mapping_of(arguments)
    with the_file(arguments.file) as path, _Progress() as progress:
        name = "standard input" if path != arguments.file else None
        found = open_import(path, mapping, arguments.protocol, name=name, tick=progress.tick)
        with closing(found):
            _write(found, arguments.output, imported_header(found), context, arguments.overwrite)
    tell(found.report)
    if arguments.profile is None:
        say(f"no profile named: taken {profile}; --profile names another", aside=True)
    say(str(arguments.output))
    return DONE


def _write(found: "Imported", output: Path, header: "Header", context: "Context", overwrite: bool) -> None:
    """The journal of a recording; whatever ends it early, no half file stays."""
    from coach.journal.writer import JournalWriter

    try:
        with JournalWriter(output, header, context, overwrite=overwrite, steady=True) as journal:
            for arrival in found.arrivals():
                journal.write(arrival)
    except KeyboardInterrupt:  # it may come before the writer can clean up behind itself
        output.with_name(output.name + ".part").unlink(missing_ok=True)
        say(f"{output}: not written", aside=True)
        raise


def tell(report: "Report") -> None:
    """What an import met, on standard error."""
    from coach.words.imports import report_lines

    for line in report_lines(report):
        say(line, aside=True)


@contextmanager
def the_file(named: Path) -> Iterator[Path]:
    """The file itself; standard input, named "-", is kept in a temporary file meanwhile."""
    if str(named) != "-":
        yield named
        return
    from coach.importer.opening import Spooled

    _check_input()
    with Spooled(sys.stdin.buffer) as path:
        yield path


def _check_input() -> None:
    """ValueError for a device that never ends, or gives nothing; a terminal may be typed into."""
    try:
        number = sys.stdin.fileno()
    except (OSError, ValueError):  # a test's own
        return
    if stat.S_ISCHR(os.fstat(number).st_mode) and not os.isatty(number):
        raise ValueError("standard input: a device, not a file or a pipe")


class _Progress:
    """How far a long reading is, on standard error: one line that is written over, or a line each quarter in a log."""

    def __init__(self) -> None:
        self._began = self._told = time.monotonic()
        self._quarter = 0
        self._shown = False

    def __enter__(self) -> "_Progress":
        return self

    def __exit__(self, *_: object) -> None:
        if self._shown:
            rewrite(" " * 40)
            rewrite("")

    def tick(self, read_bytes: int, size_bytes: int) -> None:
        """Told from the reading."""
        now = time.monotonic()
        if now - self._began < QUIET_S or now - self._told < BETWEEN_S:
            return
        self._told = now
        share = read_bytes / size_bytes
        if sys.stderr.isatty():
            self._shown = True
            bar = ("━" * round(20 * share)).ljust(20, "╌")
            rewrite(f"  read {100 * share:3.0f} %  {bar}")
        elif int(4 * share) > self._quarter:
            self._quarter = int(4 * share)
            print(f"  read {25 * self._quarter} %", file=sys.stderr, flush=True)


def mapping_of(arguments: argparse.Namespace) -> dict[str, str]:
    """What the user says of a table's columns."""
    from coach.forms import read_toml
    from coach.ordinary import small_text

    mapping: dict[str, str] = {}
    if arguments.mapping is not None:
        text = small_text(arguments.mapping)
        try:
            table = read_toml(text)
        except ValueError as error:
            raise ValueError(f"{arguments.mapping}: {error}") from None
        columns = table.get("columns")
        if not isinstance(columns, dict) or not all(isinstance(value, str) for value in columns.values()):
            raise ValueError(f'{arguments.mapping}: needs a table [columns] with "HEADER" = "SIGNAL:UNIT"')
        mapping.update(columns)
    for text in arguments.column:
        header, found, signal = text.rpartition("=")
        if not found or not header or not signal:
            raise ValueError(f"--column {text!r}: write HEADER=SIGNAL or HEADER=SIGNAL:UNIT")
        mapping[header] = signal
    return mapping
