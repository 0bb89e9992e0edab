"""The lines of the plots: bounded, every spike kept, no gap ever bridged; and when a phase was held."""

import re
from itertools import pairwise
from xml.etree import ElementTree

from hypothesis import given, settings
from hypothesis import strategies as st

from coach.car.arrivals import ClockStep, LinkChange, Reading
from coach.car.happenings import DataLost, DataReturned
from coach.drive.happenings import HoldPaused, HoldResumed, HoldStarted, PhaseDriven, RepeatCounted
from coach.report.svg import grouped, scale, svg
from coach.session.trace import MOST, Line, Trace
from coach.words.paper import Figure, Panel, Strip
from coach.words.phases import silences, stretches, without
from tests.recordings import a_profile
from tests.report.conftest import Filed
from tests.report.test_page import figures

BRIDGE_S = 6.0


def drawn(line: Line, most: int = 100) -> tuple[tuple[tuple[float, float], ...], ...]:
    return line.pieces(most)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(st.sampled_from((0.2, 0.5, 1.0, 3.0, 6.0, 6.5, 40.0)), st.integers(0, 250)), min_size=1, max_size=900
    )
)
def test_a_line_is_bounded_keeps_its_ends_and_bridges_no_gap(steps: list[tuple[float, int]]) -> None:
    line, t, readings = Line(BRIDGE_S), 0.0, []
    for step_s, value in steps:
        t = round(t + step_s, 3)
        line.take(t, float(value))
        readings.append((t, float(value)))
    pieces = drawn(line)
    points = [point for piece in pieces for point in piece]
    assert len(points) <= 4 * 100
    assert set(points) <= set(readings)
    assert points == sorted(points, key=lambda point: point[0])
    assert (points[0][0], points[-1][0]) == (readings[0][0], readings[-1][0])
    assert max(v for _, v in points) == max(v for _, v in readings)
    assert min(v for _, v in points) == min(v for _, v in readings)
    gaps = [(a[0], b[0]) for a, b in pairwise(readings) if b[0] - a[0] > BRIDGE_S]
    joined = [(a[0], b[0]) for piece in pieces for a, b in pairwise(piece)]
    assert not [(gap, pair) for gap in gaps for pair in joined if pair[0] <= gap[0] and gap[1] <= pair[1]]


def test_five_hours_ten_times_a_second_stay_small_and_a_single_spike_is_kept() -> None:
    line = Line(BRIDGE_S)
    for number in range(5 * 36_000):
        line.take(number / 10, 200.0 if number == 77_777 else 50.0 + number % 3)
    assert len(line.buckets) <= MOST
    pieces = drawn(line, 500)
    assert len(pieces) == 1
    assert len(pieces[0]) <= 2000
    assert (7777.7, 200.0) in pieces[0]


def test_a_lost_link_and_a_stepping_clock_break_every_line() -> None:
    from coach.drive.core import make_core

    core, trace = make_core(a_profile()), Trace()
    arrivals = [
        Reading(1.0, "speed_kmh", 50.0),
        Reading(2.0, "speed_kmh", 51.0),
        LinkChange(2.5, "lost", ""),
        LinkChange(3.0, "up", ""),
        Reading(3.5, "speed_kmh", 52.0),
        ClockStep(4.0, 1.0),
        Reading(4.5, "speed_kmh", 53.0),
    ]
    for arrival in trace.watch(arrivals, core):
        core.feed(arrival)
    assert trace.lines["speed_kmh"].pieces(100) == (((1.0, 50.0), (2.0, 51.0)), ((3.5, 52.0),), ((4.5, 53.0),))
    assert trace.foot() == "throttle_pct"


def test_a_time_that_proved_wrong_is_taken_back() -> None:
    line = Line(BRIDGE_S)
    for t in (1.0, 2.0, 9000.0, 3.0, 4.0):
        line.take(t, t)
    assert line.pieces(100) == (((1.0, 1.0), (2.0, 2.0)), ((3.0, 3.0), (4.0, 4.0)))


def test_a_hold_is_drawn_while_it_counted_and_not_through_a_silence() -> None:
    happened = [
        HoldStarted(12.0, "a", 10.0),
        HoldPaused(33.0, "a", 30.0, 20.0, "below_band", 40.0, 60.0),
        HoldResumed(42.0, "a", 40.0, 20.0),
        DataLost(56.0, 50.0),
        DataReturned(90.0, 40.0),
        PhaseDriven(130.0, "a", 70.0, 1, ()),
        RepeatCounted(200.0, "b", "deceleration", 1, 3, 25.0),
        HoldStarted(302.0, "c", 300.0),
    ]
    found = stretches(happened, {"c": 15.0}, 400.0)
    assert found == {"a": [(10.0, 30.0), (40.0, 90.0)], "b": [(175.0, 200.0)], "c": [(300.0, 315.0)]}
    assert silences(happened, 400.0) == [(50.0, 90.0)]
    assert list(without((40.0, 130.0), [(50.0, 90.0)])) == [(40.0, 50.0), (90.0, 130.0)]
    assert silences([DataLost(56.0, 50.0)], 400.0) == [(50.0, 400.0)]


def test_the_drawing_is_well_formed_named_and_stays_inside_its_frame(filed: Filed) -> None:
    figure = figures(filed.page)[0]
    root = ElementTree.fromstring(svg(figure, "plot1"))
    space = {"s": "http://www.w3.org/2000/svg"}
    assert root.get("role") == "img"
    named = {root.find(f"s:{tag}", space).get("id") for tag in ("title", "desc")}  # type: ignore[union-attr]
    assert set((root.get("aria-labelledby") or "").split()) == named
    _, _, width, height = (float(part) for part in (root.get("viewBox") or "").split())
    lines = [path.get("d") or "" for path in root.findall("s:path[@class='line']", space)]
    assert len(lines) == 4
    for line in lines:
        points = [(float(x), float(y)) for x, y in re.findall(r"([\d.]+) ([\d.]+)", line)]
        assert 50 < len(points) <= 2000
        assert all(0 <= x <= width and 0 <= y <= height for x, y in points)
    for bar in root.findall("s:rect", space):
        assert float(bar.get("x") or 0) + float(bar.get("width") or 0) <= width


def test_a_drawing_of_hostile_names_and_of_one_reading_is_still_one() -> None:
    panel = Panel("<a&b>\"'", "%", 5.0, 5.0, (((1.0, 5.0),),))
    strip = Strip("<x>", ((0.0, 1.0),), 1.0)
    figure = Figure("</title><script>", "]]>", 2.0, (panel,), (strip,), ((1.0, 1), (1.02, 2)))
    root = ElementTree.fromstring(svg(figure, "k"))
    assert "<a&b>\"', %" in [text.text for text in root.iter("{http://www.w3.org/2000/svg}text")]
    assert "1–2" in [text.text for text in root.iter("{http://www.w3.org/2000/svg}text")]


def test_axes_have_round_ticks_around_the_values() -> None:
    for low, high in ((0.0, 98.0), (18.0, 87.0), (-20.0, -20.0), (0.0, 3804.0), (0.0, 0.0), (14.9, 15.1)):
        bottom, top, step = scale(low, high, from_zero=False)
        assert bottom <= low <= high <= top
        assert 2 <= round((top - bottom) / step) + 1 <= 7


def test_numbers_of_marks_do_not_stand_on_each_other() -> None:
    labels = grouped([(100.0, 1), (105.0, 2), (110.0, 3), (300.0, 4)])
    assert labels == [(105.0, "1–3"), (300.0, "4")]
