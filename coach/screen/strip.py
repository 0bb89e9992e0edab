"""The strip: the last minutes of speed as one pen line, with the band drawn in behind it. Drawn, never computed on."""

from collections.abc import Sequence

from textual.content import Content

PEN = ("▁", "─", "▔")
"""Three heights within a line of the screen, the lowest first."""
STANDS_S = 2.0  # the trail has a value a second; the next may come a moment late
Ends = tuple[float, float]
Trail = tuple[tuple[float, float | None], ...]
"""(seconds, speed in the user's unit or none) once a second, the oldest first."""


def strip(
    trail: Trail, now: float, span_s: float, low: float | None, high: float | None, width: int, height: int
) -> Content:
    """The lines, the newest at the right edge; left in figures the band's ends, else nought and the highest."""
    room = max(1, width - 5)
    columns = _columns(trail, now, span_s, room)
    known = [value for value in columns if value is not None]
    top = max([*known, (high or 0.0) * 1.2, 40.0])
    band = (low, high) if low is not None and high is not None and high > 0 else None
    figures = band or (0.0, max(known, default=0.0))
    lines = [_line(row, columns, band, figures, top, height) for row in range(height)]
    return Content("\n").join(lines)


def _columns(trail: Trail, now: float, span_s: float, room: int) -> Sequence[float | None]:
    each_s = span_s / room
    columns: list[float | None] = [None] * room
    for t, value in trail:
        at = room - 1 - int((now - t) / each_s)
        if 0 <= at < room:
            columns[at] = value
    return _joined(columns, each_s)


def _joined(columns: list[float | None], each_s: float) -> list[float | None]:
    """With columns shorter than the second between two values, the value stands; longer gaps stay empty."""
    stands = max(1, round(STANDS_S / each_s))
    joined, last = list(columns), -stands - 1
    for at, value in enumerate(columns):
        if value is not None:
            last = at
        elif at - last <= stands:
            joined[at] = columns[last]
    return joined


def _line(
    row: int, columns: Sequence[float | None], band: Ends | None, figures: Ends, top: float, height: int
) -> Content:
    floor, ceiling = (height - 1 - row) / height * top, (height - row) / height * top
    label = next((f"{figure:>4.0f}" for figure in figures if floor <= figure < ceiling or figure == top == ceiling), "")
    ground = "·" if band is not None and floor < band[1] and ceiling > band[0] else " "
    parts: list[tuple[str, str]] = [(label.rjust(4) + " ", "$quiet")]
    before: float | None = None
    for value in columns:
        mark = _mark(value, before, floor, ceiling)
        parts.append((mark, "$ink") if mark else (ground, "$band"))
        before = value
    return Content.assemble(*_runs(parts))


def _mark(value: float | None, before: float | None, floor: float, ceiling: float) -> str:
    """What the pen leaves in this place: a level, an upright where the speed passes through, or nothing."""
    if value is None:
        return ""
    if floor <= value < ceiling:
        return PEN[min(2, int((value - floor) / (ceiling - floor) * 3))]
    if before is not None and min(value, before) < floor and max(value, before) >= ceiling:
        return "│"
    return ""


def _runs(parts: list[tuple[str, str]]) -> list[tuple[str, str]]:
    """Neighbours of one style as one piece."""
    runs: list[tuple[str, str]] = []
    for text, style in parts:
        if runs and runs[-1][1] == style:
            runs[-1] = (runs[-1][0] + text, style)
        else:
            runs.append((text, style))
    return runs
