"""The one ruler: where the number stands against its band, in marks and in a word; and the bar of what is held."""

import math

from textual.content import Content

from coach.words.coaching import Gauge

STEPS = (1, 2, 5, 10, 20, 50)
PLACE_FOR_A_LABEL = 7  # columns from one figure to the next
BESIDE = 1.0  # bands' widths shown on each side; our judgement: enough to see where one has strayed to
LEAST_WIDE = 20.0  # in the gauge's unit: a narrow band is not blown up, so that a small move looks small


BAND, LEAVE = "━", "─"
"""Heavy where a hold begins and counts, light where one that has begun still counts."""


def where(gauge: Gauge) -> str:
    """The number's state in a word: inside, 3 mph over, 12 mph under, unknown; and whether it counts all the same."""
    word = _where(gauge)
    return f"{word}, still counts" if gauge.counts and word.endswith(("under", "over")) else word


def _where(gauge: Gauge) -> str:
    if gauge.value is None:
        return "no value now"
    if gauge.low == gauge.high == 0:
        return "standing" if gauge.value == 0 else "moving"
    if gauge.low is not None and gauge.high is None and gauge.value < gauge.low:
        return f"{gauge.low - gauge.value:.0f} {gauge.unit} to go"
    if gauge.low is not None and gauge.value < gauge.low:
        return f"{gauge.low - gauge.value:.0f} {gauge.unit} under"
    if gauge.high is not None and gauge.value > gauge.high:
        return f"{gauge.value - gauge.high:.0f} {gauge.unit} over"
    return "inside" if gauge.high is not None else "reached"


def inside(gauge: Gauge) -> bool:
    """Whether the number is known and in its band."""
    return where(gauge) in ("inside", "standing", "reached")


def reach(gauge: Gauge) -> tuple[float, float]:
    """The two ends of the ruler; they do not move with the value."""
    low = gauge.low if gauge.low is not None else 0.0
    if gauge.high is None:
        return min(0.0, low), low + LEAST_WIDE
    wide = max(gauge.high - low, LEAST_WIDE) * BESIDE
    return max(0.0, low - wide), gauge.high + wide


def ruler(gauge: Gauge, width: int) -> Content:
    """Three lines: the pointer, the rail with the band and the wider limits a hold bears, the figures."""
    width = max(width, 12)
    left, right = reach(gauge)

    def column(value: float) -> int:
        return round((value - left) / (right - left) * (width - 1))

    first = column(gauge.low if gauge.low is not None else left)
    last = column(gauge.high) if gauge.high is not None else width - 1
    begins = min(first, column(gauge.leave_low)) if gauge.leave_low is not None else first
    ends = max(last, column(gauge.leave_high)) if gauge.leave_high is not None else last
    begins, ends = max(0, begins), min(width - 1, ends)
    rail = Content.assemble(
        ("·" * begins, "$quiet"),
        (LEAVE * (first - begins), "$band"),
        (BAND * (last - first + 1), "$band"),
        (LEAVE * (ends - last), "$band"),
        ("·" * (width - 1 - ends), "$quiet"),
    )
    return Content("\n").join([_pointer(gauge, column, width), rail, _labels(left, right, column, width)])


def _pointer(gauge: Gauge, column: object, width: int) -> Content:
    assert callable(column)
    if gauge.value is None:
        return Content(" " * width)
    at = column(gauge.value)
    mark = "▼" if 0 <= at < width else ("◀" if at < 0 else "▶")
    return Content.styled((" " * min(max(at, 0), width - 1) + mark).ljust(width), "$ink bold")


def _labels(left: float, right: float, column: object, width: int) -> Content:
    assert callable(column)
    room = max(2, width // PLACE_FOR_A_LABEL)
    step = next((s for s in STEPS if (right - left) / s <= room), 100)
    line = [" "] * (width + 4)
    value = math.ceil(left / step) * step
    while value <= right:
        text = f"{value:.0f}"
        at = min(max(column(value) - len(text) // 2, 0), width - len(text))
        line[at : at + len(text)] = text
        value += step
    return Content.styled("".join(line)[:width], "$quiet")


def bar(share: float, width: int) -> Content:
    """What is done, as a heavy line that grows over a broken one."""
    done = min(width, max(0, math.floor(share * width)))
    return Content.assemble(("━" * done, "$band"), ("╌" * (width - done), "$quiet"))


def fitting(words: str, width: int) -> str:
    """As many of the pieces between commas as fit, the first always: a piece cut in two tells a time of nothing."""
    first, *others = words.split(", ")
    for other in others:
        if len(first) + 2 + len(other) > width:
            break
        first += f", {other}"
    return first
