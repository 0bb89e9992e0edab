"""The laws: live equals replay, nothing vanishes, unknown is not zero. The car here is invented for the test."""

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from coach.car.arrivals import Answer, Arrival, Outcome, Reading, Request
from coach.car.happenings import CodeAppeared, Happening, MonitorChanged
from coach.drive.core import make_core
from coach.j1979.monitors import MONITORS
from tests.recordings import SCHEDULES, a_profile, arrivals_of, ask, fed, played

READY, NOT_READY = "410100076500", "410100076501"


def test_a_copy_taken_anywhere_goes_on_to_the_same_happenings() -> None:
    arrivals = arrivals_of(SCHEDULES / "udds.csv")
    _, whole = played(arrivals)
    core = make_core(a_profile(), can=True)
    happened: list[Happening] = []
    for number, arrival in enumerate(arrivals):
        if number % 97 == 0:
            core = core.copy()
        happened.extend(core.feed(arrival))
    happened.extend(core.finish(core.now))
    assert happened == whole


def test_a_gap_never_counts() -> None:
    arrivals: list[Arrival] = [Reading(float(t), "speed_kmh", 90.0) for t in range(100)]
    arrivals += [Reading(float(t), "speed_kmh", 90.0) for t in range(1000, 1100)]
    core, _ = played(arrivals)
    assert core.trackers["highway_cruise"].remaining_s() == 600.0 - 99.0 - 99.0
    assert core.car.denominator.distance_km < 90 * 198.1 / 3600


def test_a_monitor_is_complete_only_if_every_ecu_says_so() -> None:
    core, _ = fed(ask(1, 1, "0101", ("7E8", READY), ("7E9", NOT_READY)))
    assert core.monitor_states()["catalyst"] == "incomplete"
    core, happened = fed(ask(1, 1, "0101", ("7E8", READY), ("7E9", READY)))
    assert core.monitor_states()["catalyst"] == "complete"
    assert MonitorChanged(1.05, "catalyst", None, "complete") in happened


def test_an_ecu_that_falls_silent_leaves_the_finding_uncertain() -> None:
    arrivals = ask(1, 1, "0101", ("7E8", READY), ("7E9", READY)) + ask(2, 2, "0101", ("7E8", READY))
    core, _ = fed([*arrivals, Request(3, 3, "010D")])
    assert core.monitor_states()["catalyst"] is None


def test_a_short_refused_late_or_unasked_readiness_is_never_complete() -> None:
    for request, raw in (
        ("0101", "4101000765"),  # one byte short: the library pads it to "all complete"
        ("0101", "7F0122"),
        ("0101", "41410007FF00"),
        ("010D", READY),
    ):
        core, _ = fed(ask(1, 1, request, ("7E8", raw)))
        assert "complete" not in core.monitor_states().values()
    core, _ = fed([Answer(1.0, None, "7E8", bytes.fromhex(READY))])
    assert "complete" not in core.monitor_states().values()


def test_no_codes_needs_a_well_formed_answer() -> None:
    ready = ask(1, 1, "0101", ("7E8", READY))
    for raw in ("43", "7F0322", "4301", "410D37"):
        core, _ = fed(ready + ask(2, 2, "03", ("7E8", raw)))
        assert core.car.codes("stored") is None
    core, _ = fed([*ready, Request(2, 2, "03"), Outcome(2.5, 2, "no_answer", "NO DATA"), Request(3, 3, "010D")])
    assert core.car.codes("stored") is None
    core, _ = fed(ready + ask(2, 2, "03", ("7E8", "4300")))
    assert core.car.codes("stored") == ()


def test_a_code_of_any_ecu_is_told_with_its_owner() -> None:
    _, happened = fed(ask(1, 1, "07", ("7E8", "4700"), ("7E9", "47010301")))
    assert CodeAppeared(1.05, "7E9", "pending", "P0301") in happened


arrival_lists = st.lists(
    st.one_of(
        st.builds(Request, st.floats(0, 100), st.integers(0, 5), st.sampled_from(["0101", "0141", "03", "010D", "0C"])),
        st.builds(
            Answer,
            st.floats(0, 100),
            st.none() | st.integers(0, 5),
            st.sampled_from(["7E8", "7E9"]),
            st.binary(max_size=8) | st.sampled_from([bytes.fromhex(READY), bytes.fromhex(NOT_READY), b"\x43\x00"]),
        ),
        st.builds(Reading, st.floats(0, 100), st.sampled_from(["speed_kmh", "rpm", "coolant_c"]), st.floats(0, 200)),
    ),
    max_size=40,
)


@settings(max_examples=120, deadline=None, derandomize=True)
@given(arrival_lists)
def test_anything_in_any_order_never_raises_and_never_invents_a_complete_monitor(arrivals: list[Arrival]) -> None:
    core, _ = fed(arrivals)
    core.finish(200.0)
    said: set[str] = set()
    for arrival in arrivals:
        if isinstance(arrival, Answer) and arrival.payload[:2] == b"\x41\x01" and len(arrival.payload) == 6:
            said |= set(MONITORS)
    assert {m for m, state in core.monitor_states().items() if state == "complete"} <= said


def test_a_shuffled_drive_never_raises_and_drives_no_phase() -> None:
    arrivals = arrivals_of(SCHEDULES / "udds.csv")
    random.Random(7).shuffle(arrivals)
    core, _ = played(arrivals)
    assert core.out_of_order > 1000
    assert all(tracker.times == 0 for tracker in core.trackers.values())
