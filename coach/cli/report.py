"""`coach report`: one page on a drive or a whole job, on standard output or as a file to hand over or keep."""

import argparse
from datetime import datetime
from pathlib import Path
from typing import Any

from coach.cli import importing
from coach.cli.common import store_of
from coach.cli.exits import DONE
from coach.cli.rules import check_told, rule_arguments, tell
from coach.cli.terminal import say
from coach.ordinary import is_there
from coach.visible import json_text


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The command's arguments."""
    report = commands.add_parser(
        "report",
        help="one page on a drive or a whole job, to hand over or keep",
        description="One page on a recording or a whole job: car, repair, before and after, verdict with its source,"
        " monitors, test results, counters, codes, every drive with plots, cautions, where it all comes from. OUT's"
        " name tells the form: .html (one file, prints well), .md, .json, .pdf or .txt. An earlier report of that name"
        " is replaced; any other file only with --overwrite. Without -o it is printed as text.",
        epilog="example: coach report 2026-11-25-p0135 -o p0135.html --rules us-il --model-year 2012",
    )
    report.add_argument(
        "what",
        metavar="FILE|JOB",
        help="a journal or anything that coach review takes, or a job's id; - for standard input",
    )
    report.add_argument("-o", "--output", metavar="OUT", help="the file to write; - for standard output")
    report.add_argument("--overwrite", action="store_true", help="replace OUT even when it is no report of ours")
    report.add_argument("--json", action="store_true", help="print the same as data")
    report.add_argument("--paper", choices=("a4", "letter"), help="of a .pdf; a4 when left out, letter with miles")
    report.add_argument("--us", action="store_true", help="miles and Fahrenheit; as the drive had it when left out")
    report.add_argument("--vin", action="store_true", help="show the VIN in full: it is personal data")
    report.add_argument("--jobs", metavar="DIR", help="where jobs and journals are kept")
    report.add_argument("--profile", metavar="ID", help="judge the drives anew under this profile or .toml file")
    importing.add_readings(report)
    rule_arguments(report)
    report.set_defaults(command=run)


def run(arguments: argparse.Namespace) -> int:
    """Make the report; what keeps it from being written is said before the work."""
    from coach.report.files import check_place, form_of, put
    from coach.session.rules import a_rule

    if arguments.rules:
        a_rule(arguments.rules)
    out = Path(arguments.output) if arguments.output not in (None, "-") else None
    form = "json" if arguments.json else form_of(out) if out is not None else "text"
    if out is not None:
        if arguments.json and form_of(out) != "json":
            raise ValueError(f"{out}: --json writes data, and the name asks for another form; name it .json")
        check_place(out, _sources(arguments), arguments.overwrite)
    if form == "pdf":
        from coach.report.pdf import library

        library()
    made = datetime.now().astimezone()
    content = _content(form, _made(arguments, made), arguments, made)
    if out is None:
        print(content.decode(errors="replace").removesuffix("\n"))
    else:
        put(out, content)
        say(str(out))
    return DONE


def _sources(arguments: argparse.Namespace) -> list[Path]:
    """The files the report is made from: none of them may be written over."""
    path = Path(arguments.what)
    if _is_file(arguments):
        return [path]
    job = _job(arguments)
    return [job.folder / "job.json", *(file for _, file in job.files())]


def _is_file(arguments: argparse.Namespace) -> bool:
    """Whether it is to be made of a file, whatever kind of file that is; a folder may be a job's."""
    path = Path(arguments.what)
    return arguments.what == "-" or (is_there(path) and not path.is_dir())


def _job(arguments: argparse.Namespace) -> Any:
    from coach.jobs.errors import NoSuchJob

    try:
        return store_of(arguments, make=False).named(arguments.what)
    except NoSuchJob as error:
        raise ValueError(f"{arguments.what}: no such file, and {error}") from None


def _made(arguments: argparse.Namespace, made: datetime) -> Any:
    from coach.session.filed import FileReport, JobReport, file_drive, file_job
    from coach.session.ledger import keep_ledger

    check_told(arguments)
    when = made.isoformat(timespec="minutes")
    if not _is_file(arguments):
        job = _job(arguments)
        keep_ledger(job)
        tell(arguments, job, keep=False)
        seen, drives, hashes = file_job(job, arguments.profile)
        latest, told = seen.latest, seen.evidence
        judged = _judged(latest.car, arguments, told.findings) if latest is not None and told is not None else ()
        return JobReport(seen, when, judged, drives, hashes, arguments.vin)
    with importing.the_file(Path(arguments.what)) as path:
        name = "standard input" if arguments.what == "-" else path.name
        drive = file_drive(path, arguments.profile, arguments.protocol, name, importing.mapping_of(arguments))
    if drive.reviewed.import_report is not None:
        importing.tell(drive.reviewed.import_report)
    return FileReport(drive, when, _judged(drive.reviewed.core.car, arguments), arguments.vin)


def _judged(car: Any, arguments: argparse.Namespace, found: Any = None) -> tuple[Any, ...]:
    from coach.cli.rules import verdict_on

    return (verdict_on(car, arguments, found),) if arguments.rules else ()


def _content(form: str, report: Any, arguments: argparse.Namespace, made: datetime) -> bytes:
    """The report in a form. What is hidden in it is written by its number, which JSON reads back."""
    from coach.words.report import page_of
    from coach.words.report_data import report_document
    from coach.words.units import Units

    if form == "json":
        return f"{json_text(report_document(report))}\n".encode()
    us = arguments.us or report.in_us_units
    page = page_of(report, Units(us))
    if form == "pdf":
        from coach.report.pdf import pdf

        return pdf(page, arguments.paper or ("letter" if us else "a4"), made)
    from coach.report.html import html
    from coach.report.markdown import markdown
    from coach.report.text import text as plain

    return {"html": html, "markdown": markdown, "text": plain}[form](page).encode()
