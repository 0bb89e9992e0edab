"""No phase is credited without what proves it, and none before a clear. The drives are invented.

The holds and limits are those of the shipped profiles, which carry their sources.
"""

from coach.car.arrivals import Arrival, Reading
from coach.car.happenings import Happening
from coach.drive.happenings import MonitorNotConfirmed, PhaseDriven
from tests.recordings import ask, fed, played

OPEN = "410100076565"


def readings(begin: float, seconds: int, **values: float) -> list[Arrival]:
    return [Reading(begin + t, signal, value) for t in range(seconds) for signal, value in values.items()]


def driven(happened: list[Happening]) -> dict[str, PhaseDriven]:
    return {h.phase: h for h in happened if isinstance(h, PhaseDriven)}


def test_an_idle_first_seen_hot_is_no_cold_start() -> None:
    _, happened = played(readings(0, 200, coolant_c=92.0, rpm=750.0, speed_kmh=0.0))
    assert "cold_start_idle" not in driven(happened)


def test_standing_without_a_word_of_the_engine_is_no_idle() -> None:
    _, happened = played(readings(0, 400, speed_kmh=0.0))
    assert driven(happened) == {}


def test_a_hybrid_counts_no_second_without_the_engine_known_to_run() -> None:
    _, happened = played(readings(0, 900, coolant_c=85.0, speed_kmh=75.0), "hybrid")
    assert "hybrid_engine_hold" not in driven(happened)
    _, happened = played(readings(0, 900, coolant_c=85.0, rpm=1500.0, speed_kmh=75.0), "hybrid")
    assert "hybrid_engine_hold" in driven(happened)


def test_what_a_cruise_could_not_watch_is_said() -> None:
    _, happened = played(readings(0, 700, coolant_c=85.0, speed_kmh=90.0))
    assert {"engine_on", "even_foot"} <= set(driven(happened)["highway_cruise"].unwatched)


def test_a_pedal_that_stopped_talking_proves_no_released_foot() -> None:
    idle = readings(0, 20, coolant_c=85.0, rpm=750.0, pedal_d_pct=15.0, speed_kmh=0.0)
    pull = readings(20, 130, rpm=2500.0, pedal_d_pct=30.0, speed_kmh=100.0)
    last = [Reading(150.0, "pedal_d_pct", 15.0)]  # released, and then the channel is dead
    rolls: list[Arrival] = []
    for n in range(4):
        rolls += [Reading(200 + n * 60 + t, "speed_kmh", 100.0 - t * 1.5) for t in range(30)]
        rolls += [Reading(230 + n * 60 + t, "speed_kmh", 56.0 + t * 1.5) for t in range(30)]
    _, happened = played([*idle, *pull, *last, *rolls])
    assert "closed_throttle_decel" not in driven(happened)


def test_a_phase_driven_before_the_readiness_was_read_is_credited_and_another_pattern_comes_next() -> None:
    cruise = readings(0, 500, coolant_c=85.0, rpm=1800.0, speed_kmh=70.0)
    core, happened = fed(cruise)
    assert "sensor_cruise" in driven(happened)
    assert not [h for h in happened if isinstance(h, MonitorNotConfirmed)]  # nobody could see the bit
    for arrival in ask(500, 1, "0101", ("7E8", OPEN)):
        core.feed(arrival)
    later: list[Happening] = [h for arrival in ask(501, 2, "0101", ("7E8", "410100076561")) for h in core.feed(arrival)]
    for arrival in readings(502, 500, coolant_c=85.0, rpm=1800.0, speed_kmh=70.0):
        later.extend(core.feed(arrival))
    assert next(h.next for h in later if isinstance(h, MonitorNotConfirmed)) == "next_rung"
    assert "sensor_cruise" not in driven(later)
    assert "closed_throttle_decel" in core.plan().phases


def test_what_was_held_before_a_clear_does_not_count() -> None:
    half = readings(0, 250, coolant_c=85.0, rpm=1800.0, speed_kmh=70.0)
    again = readings(260, 200, coolant_c=85.0, rpm=1800.0, speed_kmh=70.0)
    core, _ = fed([*half, *ask(255, 1, "04", ("7E8", "44"))])
    assert core.trackers["sensor_cruise"].remaining_s() == 300.0
    happened = [h for arrival in again for h in core.feed(arrival)]
    assert "sensor_cruise" not in driven(happened)
