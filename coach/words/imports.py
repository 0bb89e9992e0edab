"""What an import met, in lines for the person who ran it."""

from coach.importer.table import TableReport
from coach.words.units import clock, span


def report_lines(report: TableReport) -> list[str]:
    """Columns, layout, and everything that was not taken, counted."""
    taken = ", ".join(f"{column.header} as {column.signal}" for column in report.columns)
    lines = [f"{report.rows} rows; {taken}"]
    lines.append(f"time from {report.time_header or 'the first column'}, read as {report.time_form}")
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
    if report.doubled_columns:
        lines.append(f"the same signal again, not used: {', '.join(report.doubled_columns)}")
    for _number, begin, end in report.frozen[:5]:
        lines.append(f"{clock(begin)}: no column changed for {span(end - begin)} with the engine running: not counted")
    if report.unknown_columns:
        lines.append(f"columns not known and not used: {', '.join(report.unknown_columns)}; --column names them")
    for number, back_s in report.steps_back[:5]:
        lines.append(f"row {number}: the clock steps back by {back_s:.3f} s; that interval will not count")
    if report.gap_count:
        number, begin, end = report.gaps[0]
        lines.append(
            f"{report.gap_count} gaps, the first at row {number}, {clock(begin)}, {span(end - begin)}: not counted"
        )
    for count, what in (
        (report.blank_cells, "empty cells gave no reading"),
        (report.bad_cells, "cells are no numbers and were not used"),
        (report.out_of_range, "cells are outside the signal's range and were not used"),
        (report.bad_row_count, f"rows without a time were not used, the first: {report.bad_rows[:3]}"),
        (report.resyncs, "rows broke the turn; it was followed"),
    ):
        if count:
            lines.append(f"{count} {what}")
    if report.truncated:
        lines.append("the file ends in the middle of its compressed data; what could be read was used")
    return lines
