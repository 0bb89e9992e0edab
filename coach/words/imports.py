"""What an import met, in lines for the person who ran it."""

from collections.abc import Iterator, Sequence

from coach.importer.capture import FORMATS, CaptureReport
from coach.importer.columns import column_option, on_a_line
from coach.importer.imported import Report
from coach.importer.table import TableReport
from coach.importer.transcript import TranscriptReport
from coach.visible import in_line
from coach.words.units import clock, listed, span

_ALONE = "questions for readiness or codes put to one control unit alone, what others would say is not in it"
SENTENCES = 5
SHOWN = 20
"""Lines that could not be read are listed up to so many; the rest is counted."""


def report_lines(report: Report) -> list[str]:
    """What was taken, and everything that was not, counted; each in one line, whatever the file says."""
    if isinstance(report, CaptureReport):
        lines = list(_capture(report))
    else:
        lines = list(_transcript(report)) if isinstance(report, TranscriptReport) else _table(report)
    return [in_line(line) for line in lines]


def _headers(headers: Sequence[str]) -> str:
    """Headers of a table, so many as a reader takes in."""
    more = f" and {len(headers) - SHOWN} more" if len(headers) > SHOWN else ""
    return ", ".join(map(on_a_line, headers[:SHOWN])) + more


def _counted(*rows: tuple[int, str]) -> Iterator[str]:
    """The rows that count something."""
    for count, what in rows:
        if count:
            yield f"{what}: {count}"


def _capture(report: CaptureReport) -> Iterator[str]:
    said = report.dialogue
    ecus = listed(sorted(said.ecus)) if said.ecus else "nobody"
    yield (
        f"{FORMATS[report.format]}, {report.frames} frames over {span(report.duration_s)}:"
        f" {said.requests} OBD requests, {said.replies} replies from {ecus}"
    )
    rest = report.frames - report.diagnostic - report.other_bus - report.errors
    yield from _counted(
        (rest, "frames of other traffic, passed over"),
        (said.other, "frames of other diagnostics, passed over"),
        (report.errors, "error frames"),
        (report.other_bus, f"OBD frames on another channel than {report.bus}, not used"),
        (said.unasked, "replies to no request that was recorded, findings they concern are uncertain"),
        (said.broken, "frames of replies that are not whole, findings they concern are uncertain"),
        (said.unanswered, "requests nobody answered"),
        (said.alone, _ALONE),
        (said.refusals, "refusals"),
        (said.repeated, "frames that came twice, taken once"),
        (report.steps_back, "times the clock was set, that interval will not count"),
        (report.bad_count, f"lines that could not be read ({_numbers(report.bad_lines, report.bad_count)})"),
    )
    if report.damaged:
        yield f"read up to a damaged place: {report.damaged}"
    if report.truncated:
        yield "the file ends in the middle of its compressed data; what could be read was used"


def _numbers(lines: list[tuple[int, str]], count: int, shown: int = SHOWN) -> str:
    numbers = ", ".join(str(number) for number, _ in lines[:shown])
    return numbers + (" and on" if count > shown else "")


def _sentences(report: TranscriptReport) -> str:
    return _numbers(report.sentences, report.sentence_count, SENTENCES)


def _transcript(report: TranscriptReport) -> Iterator[str]:
    protocol = (
        f"{report.protocol}, {report.protocol_why}" if report.protocol else "protocol not known; --protocol names it"
    )
    ecus = listed(sorted(report.ecus)) if report.ecus else "nobody"
    yield f"transcript of {report.lines} lines, {protocol}; requests: {report.requests}, replies from {ecus}"
    yield (
        f"times read as {report.form}" if report.form else "no times in it: nothing in it can be timed, no hold counts"
    )
    if not report.headers and report.ecus:
        yield "the lines do not say which control unit speaks; they are taken as one without a name"
    yield from _counted(
        (report.merged, "times several control units answered without a name, those findings are uncertain"),
        (report.fewer, "times fewer answered than before, without a name, those findings are uncertain"),
        (report.alone, _ALONE),
        (report.outcomes["no_answer"], "requests nobody answered"),
        (report.outcomes["refused"], "requests that were refused"),
        (report.outcomes["garbled"], "requests that brought nothing that can be read"),
        (report.unasked, "replies to no request that was recorded, findings they concern are uncertain"),
        (report.traffic, "lines of other traffic on the bus, passed over"),
        (report.other, "questions of other kinds, passed over"),
        (report.commands, "commands to the adapter"),
        (report.comments, "comments"),
        (report.sentence_count, f"lines in words, no part of the dialogue ({_sentences(report)})"),
        (report.steps_back, "times the clock was set, that interval will not count"),
        (report.unread_count, "lines that could not be read"),
    )
    for number, text in report.unread[:SHOWN]:
        yield f"  line {number}: {text[:80]}"
    if report.unread_count > SHOWN:
        yield f"  and {report.unread_count - SHOWN} more"
    if report.truncated:
        yield "the file ends in the middle of its compressed data; what could be read was used"


def _table(report: TableReport) -> list[str]:
    """Columns, layout, and everything that was not taken, counted."""
    taken = ", ".join(f"{on_a_line(column.header)} as {column.signal}" for column in report.columns)
    lines = [f"{report.rows} rows; {taken}"]
    lines.append(f"time from {on_a_line(report.time_header) or 'the first column'}, read as {report.time_form}")
    if report.notes:
        lines.append(f"{report.notes} lines before the header were passed over")
    if report.encoding not in ("utf-8", "utf-8-sig"):
        lines.append(f"the text is not UTF-8; it was read as {report.encoding}")
    if report.layout == "turns":
        lines.append("one column is new in each row, in turn; the cells carried forward were not taken as readings")
    if report.layout == "held":
        lines.append(
            f"values are carried forward, new about every {report.refresh_s:.1f} s; repeats between were not taken as"
            " readings"
        )
    if report.layout == "long":
        lines.append("one value in each row, by its name")
    if report.without_unit:
        lines.append(
            f"no unit shows in {_headers(report.without_unit)}, not used;"
            f" name it, as {column_option(report.without_unit[0])}"
        )
    if report.doubled_columns:
        lines.append(f"the same signal again, not used: {_headers(report.doubled_columns)}")
    for _number, begin, end in report.frozen[:5]:
        lines.append(f"{clock(begin)}: no column changed for {span(end - begin)} with the engine running: not counted")
    if report.unknown_columns:
        lines.append(f"columns not known and not used: {_headers(report.unknown_columns)}; --column names them")
    for number, back_s in report.steps_back[:5]:
        lines.append(f"row {number}: the clock steps back by {back_s:.3f} s; that interval will not count")
    if report.gap_count:
        number, begin, end = report.gaps[0]
        lines.append(
            f"gaps: {report.gap_count}, the first at row {number}, {clock(begin)}, {span(end - begin)}: not counted"
        )
    for count, what in (
        (report.blank_cells, "empty cells gave no reading"),
        (report.bad_cells, "cells are no numbers and were not used"),
        (report.out_of_range, "cells are outside the signal's range and were not used"),
        (report.at_the_rail, "cells hold what a sensor without a value shows and were not used"),
        (report.bad_row_count, f"rows without a time were not used, the first: {report.bad_rows[:3]}"),
        (report.resyncs, "rows broke the turn; it was followed"),
    ):
        if count:
            lines.append(f"{count} {what}")
    if report.truncated:
        lines.append("the file ends in the middle of its compressed data; what could be read was used")
    return lines
