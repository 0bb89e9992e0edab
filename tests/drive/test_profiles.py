"""The shipped profiles load and carry the published figures; a mistake names file, key and the nearest known key."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.drive.core import make_core
from coach.drive.profile import ProfileError, parse_profile
from coach.drive.quantity import parse_quantity
from coach.library import profile_paths, profile_text
from coach.words.coaching import view
from coach.words.units import Units
from tests.recordings import a_profile, ask

NAMES = [path.stem for path in profile_paths()]


def test_the_four_technologies_are_shipped() -> None:
    assert NAMES == ["hybrid", "light_diesel", "spark_engine_off_leak", "spark_running_leak"]


@pytest.mark.parametrize("name", NAMES)
def test_every_shipped_profile_loads_and_drives(name: str) -> None:
    profile = a_profile(name)
    assert profile.id == name
    assert set(make_core(profile).trackers) == set(profile.phase)
    assert all(given.src or given.why for _, given in profile.numbers())


PUBLISHED = [
    # Ford/Mazda service information, drive mode (2012-2016): 77 °C, five steady speeds between 40 and 72 km/h
    ("phase.warm_up_drive.hold.until_coolant", 77.0),
    ("phase.stop_and_go.hold.steady_count", 5),
    # Ford owner's manuals (2014-2015): stop-and-go with at least four idles of 30 s
    ("phase.stop_and_go.hold.idle_count", 4),
    ("phase.stop_and_go.hold.idle_stop", 30.0),
    # Toyota Tacoma repair information (2005-2015): catalyst monitor, 10 min
    ("phase.highway_cruise.hold.duration", 600.0),
    # Ford, mode 6 reference (2015): a soak of 6 h is enough for one maker; Chrysler, Toyota and others ask for 8 h
    ("phase.cold_start_idle.gates.soak_min", 6 * 3600.0),
    ("phase.cold_start_idle.better.soak_min", 8 * 3600.0),
    # Toyota bulletin (1996-2002): within 7 °C; Volkswagen service information, Passat (2012): within 4 °C of intake air
    ("phase.cold_start_idle.gates.coolant_over_intake_max", 7.0),
    ("phase.cold_start_idle.better.coolant_over_intake_max", 4.0),
    # Ford (2009 on): rear sensor test above 28 mph (45 km/h)
    ("phase.closed_throttle_decel.hold.speed_min", 45.0),
    # Lexus service information (2012): 6 h for the engine-off leak test
    ("phase.engine_off_leak_soak.hold.duration", 6 * 3600.0),
]


@pytest.mark.parametrize(("path", "value"), PUBLISHED)
def test_the_profile_carries_the_published_figure(path: str, value: float) -> None:
    given = dict(a_profile().numbers())[path]
    assert getattr(given, "value", None) == value


BROKEN = [
    ("speed_leave =", "speed_leaf =", "the nearest known key is 'speed_leave'"),
    ('"77 °C"', '"77 mph"', "temperature"),
    ('src = ["S42", "S30", "S10"]', 'src = ["S999"]', "S999"),
    ('serves = ["oxygen_sensor",', 'serves = ["oxygen_sensors",', "the nearest is 'oxygen_sensor'"),
    ('rungs = [["sensor_cruise"]', 'rungs = [["sensor_cruse"]', "the nearest is 'sensor_cruise'"),
    ("schema_version = 1", "schema_version = ", "not TOML"),
]


@pytest.mark.parametrize(("old", "new", "said"), BROKEN)
def test_a_mistake_names_the_file_the_key_and_what_would_be_right(old: str, new: str, said: str) -> None:
    text = profile_text("spark_engine_off_leak")
    assert old in text
    with pytest.raises(ProfileError, match=r"mine\.toml: ") as found:
        parse_profile(text.replace(old, new, 1), "mine.toml")
    assert said in str(found.value)


def test_a_profile_that_cannot_keep_its_own_deadline_is_refused_with_the_key_and_both_times() -> None:
    # two procedures merged: the idle of one maker (150 s), the time window of another (30 min)
    text = profile_text("spark_running_leak")
    long = text.replace('expected = { value = "70 s"', 'expected = { value = "4 min"', 1)
    assert long != text
    with pytest.raises(
        ProfileError, match=r"mine\.toml: phase\.leak_test_cruise\.gates\.run_time_max: 1800 s"
    ) as found:
        parse_profile(long, "mine.toml")
    # 15 s to the idle, 30 s and 60 s and 60 s between the kinds of road, and the four phases
    assert f"{15 + 240 + 30 + 420 + 60 + 360 + 60 + 660} s after a cold start" in str(found.value)


@pytest.mark.parametrize("name", NAMES)
def test_on_a_fresh_cold_start_no_monitor_is_left_out_for_want_of_an_order(name: str) -> None:
    # a car just cleared: everything supported and open; spark and compression layouts of PID 01
    opened = "4101003FFFFF" if name == "light_diesel" else "41010007FFFF"
    core = make_core(a_profile(name), can=True)
    for arrival in ask(0.0, 1, "0101", ("7E8", opened)):
        core.feed(arrival)
    plan = core.plan()
    left_out = {found.monitor: found.reason for found in plan.not_today}
    assert set(left_out.values()) <= {"no_known_phase"}
    driven_for = {monitor for planned in (*plan.drive, *plan.park) for monitor in planned.monitors}
    assert driven_for | set(left_out) == set(core.ladders)
    order = plan.phases
    for phase in order:  # before the engine runs, too, what has to come before comes before
        assert not set(order[order.index(phase) :]) & set(core.built.phases[phase].after)
    if "leak_test_cruise" in order:
        assert order.index("leak_test_cruise") == order.index("sensor_cruise") + 1


DEAD = [
    ("brake = { first = []", 'brake = { first = ["speed_kmh"]', "signals.brake.first: nothing watches it"),
    (
        'run_time = { first = ["run_time_s"]',
        'run_time = { first = ["rpm"]',
        "signals.run_time.first: it is always told by",
    ),
    ('"relative_pedal_pct", "pedal_d_pct"', '"coolant_c", "pedal_d_pct"', "'coolant_c' tells nothing"),
    ("closed_loop = { value = true", "closed_loop = { value = false", "closed_loop.value"),
    ('speed_min = { value = "45 km/h"', 'speed_min = { value = "98 km/h"', "hold.speed_min: not below start"),
    (
        'rungs = [["cold_start_idle"], ["cold_start_idle", "idle_in_gear"]]',
        'rungs = [["cold_start_idle"]]',
        "idle_in_gear",
    ),
]


@pytest.mark.parametrize(("old", "new", "said"), DEAD)
def test_what_nothing_would_look_at_is_refused_with_its_key(old: str, new: str, said: str) -> None:
    text = profile_text("spark_engine_off_leak")
    assert old in text
    with pytest.raises(ProfileError, match=r"mine\.toml: ") as found:
        parse_profile(text.replace(old, new, 1), "mine.toml")
    assert said in str(found.value)


def test_a_profile_of_a_new_technology_needs_no_code() -> None:
    # other names for the technology and for every phase: nothing else may hang on them
    text = profile_text("spark_engine_off_leak").replace('technology = "spark_engine_off_leak"', 'technology = "gas"')
    for phase in a_profile().phase:
        text = text.replace(phase, f"other_{phase}").replace('kind = "other_', 'kind = "')
    core = make_core(parse_profile(text, "gas.toml"), can=True)
    for arrival in ask(0.0, 1, "0101", ("7E8", "41010000FFFF")):
        core.feed(arrival)
    plan = core.plan()
    assert plan.phases[0] == "other_cold_start_idle"
    assert "other_sensor_cruise" in plan.phases
    assert [planned.phase for planned in plan.park] == ["other_engine_off_leak_soak"]


def test_a_diesel_with_misfire_open_is_driven_for_it() -> None:
    # compression layout, misfire, fuel system and NOx aftertreatment supported and open
    core = make_core(a_profile("light_diesel"), can=True)
    for arrival in ask(0.0, 1, "0101", ("7E8", "4101003B0202")):
        core.feed(arrival)
    plan = core.plan()
    assert "misfire" in {monitor for planned in plan.drive for monitor in planned.monitors}
    assert {left.monitor: left.reason for left in plan.not_today} == {"fuel_system": "no_known_phase"}
    assert "misfire" in view(core, Units()).to_run


def test_quantities_are_converted_exactly() -> None:
    # mph and °F by definition
    assert parse_quantity("50 mph", "speed") == pytest.approx(80.4672)
    assert parse_quantity("212 °F", "temperature") == pytest.approx(100.0)
    assert parse_quantity("7 °F", "difference") == pytest.approx(35 / 9)
    assert parse_quantity("8 h", "time") == 28800.0
    with pytest.raises(ValueError, match="the unit may be"):
        parse_quantity("50 furlongs", "speed")


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.integers(0, 300), st.sampled_from(["", "x = 1", "[", "duration = 5"]), st.booleans())
def test_a_damaged_profile_is_refused_in_words_or_still_in_order(at: int, line: str, insert: bool) -> None:
    lines = profile_text("hybrid").split("\n")
    at = min(at, len(lines) - 1)
    lines[at : at + (0 if insert else 1)] = [line]
    try:
        parse_profile("\n".join(lines), "hybrid")
    except ProfileError as error:
        assert all(mistake.startswith("hybrid: ") for mistake in error.mistakes)
