"""What an import met, in lines for the person who ran it."""

from coach.importer.table import TableReport
from coach.words.units import clock, span


def report_lines(report: TableReport) -> list[str]:
    """Columns, layout, and everything that was not taken, counted."""
    taken = ", ".join(f"{column.header} as {column.signal}" for column in report.columns)
    lines = [f"{report.rows} rows; {taken}"]
    if report.layout == "turns":
        lines.append("one column is new in each row, in turn; the cells carried forward were not taken as readings")
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
