"""The plots of a drive as data: readings over time, the phases held beneath them, and the happenings marked."""

from collections.abc import Iterator

from coach.car.happenings import ClockSteppedBack
from coach.session.filed import FiledDrive
from coach.session.trace import SLOW, Pieces, Trace
from coach.words.paper import Figure, Lines, Panel
from coach.words.phases import strips
from coach.words.units import KM_PER_MILE, Units, listed, span

MOST_BUCKETS = 500  # our judgement: on a page 17 cm wide a bucket is at most 0.7 mm, finer is not seen
FEWEST_BUCKETS = 60
ALL_BUCKETS = 4000  # of all drives of a report together: with four readings at most some 600 kB of page
FOOT_NAMES = {"throttle_pct": "throttle", "relative_throttle_pct": "throttle, relative"}


def buckets_each(drives: int) -> int:
    """How fine the plots of each of so many drives may be, so that the page stays of a moderate size."""
    return max(FEWEST_BUCKETS, min(MOST_BUCKETS, ALL_BUCKETS // max(1, drives)))


def figure(drive: FiledDrive, marks: tuple[tuple[float, int], ...], most: int, units: Units) -> Figure | Lines:
    """The plots of a drive, or why there are none."""
    found, trace = drive.reviewed, drive.trace
    if any(isinstance(h, ClockSteppedBack) and h.back_s == 0 for h in found.happenings):
        return Lines(("No plots: the recording has no times of its own.",))
    if not trace.lines or found.end_t <= 0:
        return Lines(("No plots: no speed, accelerator, coolant or engine speed was recorded.",))
    wanted = ("speed_kmh", trace.foot(), "coolant_c", "rpm")
    panels = tuple(_panel(signal, trace, most, units) for signal in wanted if signal in trace.lines)
    words = ". ".join([*_said(panels, trace, found.end_t), *_absent(wanted, trace)]) + "."
    title = "Speed, accelerator, coolant and engine speed over the drive"
    return Figure(title, words, found.end_t, panels, strips(drive.reviewed), marks)


def _absent(wanted: tuple[str, ...], trace: Trace) -> Iterator[str]:
    names = [_names(signal, Units())[0] for signal in wanted if signal not in trace.lines]
    if names:
        yield f"Not recorded: {listed(names)}"


def _names(signal: str, units: Units) -> tuple[str, str]:
    known = {
        "speed_kmh": ("speed", "mph" if units.us else "km/h"),
        "coolant_c": ("coolant", "°F" if units.us else "°C"),
        "rpm": ("engine speed", "rpm"),
    }
    return known.get(signal) or (FOOT_NAMES.get(signal, "accelerator pedal"), "%")


def _panel(signal: str, trace: Trace, most: int, units: Units) -> Panel:
    name, unit = _names(signal, units)
    pieces: Pieces = tuple(
        tuple((t, _in_units(signal, value, units)) for t, value in piece) for piece in trace.lines[signal].pieces(most)
    )
    values = [value for piece in pieces for _, value in piece]
    return Panel(name, unit, min(values), max(values), pieces)


def _in_units(signal: str, value: float, units: Units) -> float:
    if units.us and signal == "speed_kmh":
        return value / KM_PER_MILE
    return value * 1.8 + 32 if units.us and signal == "coolant_c" else value


def _said(panels: tuple[Panel, ...], trace: Trace, end_t: float) -> Iterator[str]:
    ranges = [f"{panel.name} {panel.low:.0f} to {panel.high:.0f} {panel.unit}" for panel in panels]
    yield f"Over {span(end_t)}: {listed(ranges)}"
    breaks = max(len(panel.pieces) - 1 for panel in panels)
    if breaks:
        bridges = {signal in SLOW: span(line.bridge_s) for signal, line in trace.lines.items()}
        told = [bridges[slow] + (" (coolant)" if slow else "") for slow in sorted(bridges)]
        times = "once" if breaks == 1 else f"up to {breaks} times"
        yield f"A line is broken {times}, where nothing came in for longer than {' or '.join(told)}"
