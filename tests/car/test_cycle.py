"""The driving cycle: what proves a new one, what leaves it unknown, and what a gap may never give away.

General denominator: 40 CFR 86.010-18(d)(4); warm-up cycle: 22 °C and 70 °C, UN light-duty OBD definitions. The
drives are invented; two ECUs count differently, as two ECUs of real cars do.
"""

from coach.car.arrivals import Arrival, ClockStep, Reading
from coach.car.happenings import CodesCleared, CycleBegan, CycleUncertain, WarmUpCycleCompleted
from coach.words.review_data import denominator
from tests.recordings import ask, fed, played


def drive(begin: float, seconds: int, kmh: float = 60.0, **more: float) -> list[Arrival]:
    """One value a second of speed, engine speed and the rest."""
    signals = {"rpm": 1800.0 if kmh else 800.0, **more, "speed_kmh": kmh}
    return [Reading(begin + t, signal, value) for t in range(seconds) for signal, value in signals.items()]


def pattern(begin: float = 0.0, **more: float) -> list[Arrival]:
    """A drive that meets the general denominator: a long idle, ten minutes at 60 km/h."""
    return drive(begin, 40, 0.0, **more) + drive(begin + 40, 620, 60.0, **more)


def test_two_ecus_that_count_differently_prove_nothing() -> None:
    counters: list[Arrival] = []
    for i in range(6):
        t = 30.0 * i
        counters += ask(t, 3 * i, "0131", ("7E9", "41310050"), ("7E8", "41310078"))  # 80 km and 120 km
        counters += ask(t + 1, 3 * i + 1, "011F", ("7E9", "411F0010"), ("7E8", f"411F{int(300 + t):04X}"))
    _, happened = fed(counters)
    assert not [h for h in happened if isinstance(h, CodesCleared | CycleBegan)]


def test_a_run_time_shorter_than_the_silence_proves_a_new_start() -> None:
    first = [Reading(float(t), "run_time_s", float(t)) for t in range(0, 300, 10)]
    later = [Reading(7500.0 + t, "run_time_s", 301.0 + t) for t in range(0, 60, 10)]
    _, happened = played(drive(0, 1) + first + later)
    assert [h.proof for h in happened if isinstance(h, CycleBegan)] == ["run_time_too_short"]


def test_a_warm_up_is_not_counted_across_a_silence_nobody_can_judge() -> None:
    cold = [Reading(float(t), "coolant_c", 20.0 + t / 20) for t in range(300)]
    warm = [Reading(7500.0 + t, "coolant_c", 60.0 + t / 10) for t in range(200)]
    both = sorted(cold + warm + drive(0, 300) + drive(7500, 200), key=lambda a: a.t)
    _, happened = played(both)
    assert [h for h in happened if isinstance(h, CycleUncertain)]
    assert not [h for h in happened if isinstance(h, WarmUpCycleCompleted)]


def test_forty_minutes_without_the_engine_are_no_automatic_stop() -> None:
    half = drive(0, 40, 0.0) + drive(40, 290)
    stopped = [Reading(330.0 + t, s, 0.0) for t in range(2400) for s in ("rpm", "speed_kmh")]
    core, happened = played(half + stopped + drive(2730, 40, 0.0) + drive(2770, 290))
    assert [h for h in happened if isinstance(h, CycleUncertain)]
    assert denominator(core)["met"] is None


def test_what_was_met_stays_met_across_a_hiccup() -> None:
    core, _ = played([*pattern(), *drive(668, 10, 0.0)])  # eight silent seconds at a standstill
    found = denominator(core)
    assert found["met"] is True and found["met_t"] is not None


def test_an_engine_speed_too_old_to_say_makes_the_answer_unknown_not_no() -> None:
    slow = [a for a in pattern() if not (isinstance(a, Reading) and a.signal == "rpm" and a.t % 10)]
    core, _ = played(slow)
    assert denominator(core)["met"] is None
    assert denominator(core)["unseen_s"] > 100


def test_a_recorder_too_slow_to_be_timed_gives_no_zeros() -> None:
    sparse = [a for a in pattern() if a.t % 10 == 0]
    core, _ = played(sparse)
    found = denominator(core)
    assert found["met"] is None
    assert found["running_s"] is None and found["distance_km"] is None and found["longest_idle_s"] is None


def test_a_drive_surely_too_short_is_not_met_whatever_the_gap_held() -> None:
    core, _ = played(drive(0, 40, 0.0) + drive(40, 100) + drive(160, 100))
    assert denominator(core)["met"] is False


def test_a_coolant_at_the_lower_end_of_its_byte_makes_no_warm_up_cycle() -> None:
    """-40 °C is what a sensor without a value shows; the engine was warm from the start."""
    rest = [
        Reading(0.1, "rpm", 800.0),
        *ask(1, 1, "0105", ("7E8", "410500")),
        *ask(2, 2, "01050C", ("7E8", "4105000C0C80")),
    ]
    warm = [arrival for t in range(3, 90) for arrival in ask(t, t, "0105", ("7E8", "410582"))]  # 90 °C
    core, happened = played([*rest, *warm])
    assert not [h for h in happened if isinstance(h, WarmUpCycleCompleted)]
    assert core.car.values["coolant_c"] == 90.0
    _, cold = played([*ask(0, 1, "0146", ("7E8", "414600")), *drive(1, 2)])
    assert not [h for h in cold if type(h).__name__ == "AnswerUnusable"]  # outside it may be so cold


def test_a_throttle_that_was_open_long_ago_takes_no_idle_away() -> None:
    """Without air flow a plate at its rest proves no released pedal; nor does it prove a pressed one."""
    stands = [r for t in range(5) for r in drive(t, 1, 0.0, throttle_pct=12.0)]
    drives = [r for t in range(5, 640) for r in drive(t, 1, 80.0, throttle_pct=25.0)]
    idles = [r for t in range(640, 700) for r in drive(t, 1, 0.0, throttle_pct=12.0)]
    core, _ = played([*stands, *drives, *idles])
    assert denominator(core)["met"] is True


def test_a_clock_that_begins_anew_may_be_the_next_drive() -> None:
    """Two halves of the pattern, one behind the other in one file, are no driving cycle that meets it."""
    half = drive(0, 40, 0.0, coolant_c=20.0) + drive(40, 320, 60.0, coolant_c=60.0)
    again = [Reading(r.t + 360.0, r.signal, r.value) for r in half if isinstance(r, Reading)]
    warm = drive(720, 2, 60.0, coolant_c=85.0)
    core, happened = played([*half, ClockStep(360.0, 359.0), *again, *warm])
    assert denominator(core)["met"] is None
    assert any(isinstance(h, CycleUncertain) for h in happened)
    core, happened = played([*half, ClockStep(360.0, 0.47), *again, *warm])  # as in a published drive, 10.35097/1130
    assert denominator(core)["met"] is True
    assert any(isinstance(h, WarmUpCycleCompleted) for h in happened)
