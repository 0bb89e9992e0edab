"""What goes out on the bus: every payload decodes with our own tables, and says what the car really is."""

import random

import pytest

from coach.j1979.freeze_frame import decode_frozen
from coach.j1979.monitors import CONTINUOUS
from coach.j1979.pids import LENGTHS, PIDS, split_current_data
from coach.j1979.services import check_echo
from coach.j1979.supported import decode_supported
from coach.j1979.test_results import decode_test_results
from coach.j1979.vehicle_info import (
    decode_calibration_ids,
    decode_cvns,
    decode_ecu_name,
    decode_in_use,
    decode_vin,
    item_bytes,
)
from coach.simulator.answers import is_can
from coach.simulator.cars import CARS, PECULIAR_CARS, make_car
from coach.simulator.driver import Cue
from coach.simulator.simulated_car import SimulatedCar
from coach.simulator.vehicle import BusProtocol
from tests.simulator.helpers import codes, cycle_status, data, drive, payloads, readiness

NAMES = (*CARS, *PECULIAR_CARS)
DIESELS = ("diesel", "van")
SHORT = (
    (Cue("idle"), 20),
    (Cue("cruise", 40, 60), 47),
    (Cue("roll", 30, 60), 21),
)


def truth(car: SimulatedCar) -> dict[str, tuple[float, float]]:
    """Signal to true value and the resolution of its PID."""
    body = car.body
    percent, degree = 100 / 255, 1.0
    return {
        "speed_kmh": (body.speed_kmh, 1),
        "rpm": (body.rpm, 0.25),
        "coolant_c": (body.coolant_c, degree),
        "intake_c": (body.intake_c, degree),
        "ambient_c": (body.ambient_c, degree),
        "load_pct": (body.load_pct, percent),
        "maf_gps": (body.maf_gps, 0.01),
        "map_kpa": (body.powertrain.map_kpa, 1),
        "throttle_pct": (body.powertrain.throttle_pct, percent),
        "pedal_d_pct": (body.spec.pedal_d_rest_pct + 71 * body.accelerator, percent),
        "fuel_level_pct": (body.fuel_pct, percent),
        "module_v": (body.module_v, 0.001),
        "catalyst_b1s1_c": (body.catalyst_c, 0.1),
        "exhaust_b1_1_c": (body.catalyst_c, 0.1),
        "o2_b1s1_v": (body.oxygen.front_v, 0.005),
        "short_trim_b1_pct": (body.oxygen.short_trim_pct, 100 / 128),
        "run_time_s": (body.run_time_s, 2),
        "odometer_km": (body.odometer_km, 0.1),
    }


def supported_pids(car: SimulatedCar, ecu: int) -> set[int]:
    """As a tester finds them: map after map."""
    found: set[int] = set()
    for first in range(0, 0x100, 0x20):
        if first and first not in found:
            break
        (payload,) = payloads(car, f"01{first:02X}", ecu)
        found |= decode_supported(first, payload[2:])
    return found


@pytest.mark.parametrize("name", NAMES)
def test_every_reading_equals_the_true_state_within_its_resolution(name: str) -> None:
    car = make_car(name)
    compared = 0
    for stage in SHORT:
        drive(car, (stage,))
        true = truth(car)
        for pid in supported_pids(car, 0) & PIDS.keys():
            for signal, value in PIDS[pid].decode(data(car, pid)):
                if signal in true:
                    expected, resolution = true[signal]
                    assert value == pytest.approx(expected, abs=resolution * 0.51 + 1e-6), signal
                    compared += 1
    assert compared > 25


@pytest.mark.parametrize("name", NAMES)
def test_the_maps_of_supported_pids_are_honest(name: str) -> None:
    car = make_car(name)
    car.key_on()
    for number in range(len(car.ecus)):
        supported = supported_pids(car, number)
        answered = {pid for pid in range(1, 0x100) if payloads(car, f"01{pid:02X}", number)}
        assert answered == supported
        assert {0x01, 0x0D} <= supported


@pytest.mark.parametrize("name", NAMES)
def test_all_cars_reset_look_reset_and_continuous_monitors_of_spark_cars_always_read_complete(name: str) -> None:
    car = make_car(name)
    car.key_on()
    found = readiness(car)
    assert found.odd == ()
    assert not found.mil_on
    assert found.incomplete
    assert found.ignition == ("compression" if name in DIESELS else "spark")
    if name not in DIESELS:
        assert set(CONTINUOUS) <= found.complete
    assert codes(car, "03") == codes(car, "07") == set()


def test_six_pids_are_answered_in_one_message_by_each_unit_with_what_it_has() -> None:
    car = make_car("small")
    car.key_on()
    asked = (0x05, 0x0C, 0x0D, 0x11, 0x2F, 0x42)
    replies = car.ask(bytes((0x01, *asked)))
    assert [reply.ecu for reply in replies] == ["7E8", "7E9"]
    found = [tuple(pid for pid, _ in split_current_data(reply.payload, asked)) for reply in replies]
    assert found == [asked, (0x0D, 0x42)]
    assert car.ask(bytes((0x01, *asked, 0x0F))) == ()


def test_before_can_several_pids_and_unknown_services_are_unanswered() -> None:
    car = make_car("estate")
    car.key_on()
    assert car.ask(bytes.fromhex("010C0D")) == ()
    for request in ("0A", "0601", "0141", "012F", "0908", "22F190", ""):
        assert car.ask(bytes.fromhex(request)) == ()
    assert len(car.ask(bytes.fromhex("010C"))) == 1


def test_on_kwp_what_is_not_there_is_refused() -> None:
    car = make_car("estate", bus="kwp_fast")
    car.key_on()
    assert [reply.payload.hex() for reply in car.ask(b"\x01\x2f")] == ["7f0112"]
    assert [reply.payload.hex() for reply in car.ask(b"\x0a")] == ["7f0a11"]


@pytest.mark.parametrize("name", NAMES)
def test_vehicle_information_decodes_and_the_vin_is_nobodys(name: str) -> None:
    car = make_car(name)
    car.key_on()
    can = is_can(car.bus)
    vin = decode_vin(payloads(car, "0902"), can)
    assert vin.startswith("ZZZ")
    assert decode_calibration_ids(payloads(car, "0904"), can)[0].startswith("SIM")
    assert len(decode_cvns(payloads(car, "0906"), can)) == 1
    (found,) = payloads(car, "0900")
    infotypes = decode_supported(0, found[2:] if can else found[3:])
    answered = {number for number in range(1, 0x20) if payloads(car, f"09{number:02X}")}
    assert infotypes == answered
    if can:
        assert decode_ecu_name(payloads(car, "090A"), can) == "ECM -EngineControl"
        compression = name in DIESELS
        counters = decode_in_use(payloads(car, "090B" if compression else "0908"), compression, can)
        assert counters.ignition_cycles > counters.general_denominator > 0
        assert counters.surplus == 0


def test_a_vin_before_can_comes_as_five_numbered_lines() -> None:
    car = make_car("estate")
    car.key_on()
    lines = payloads(car, "0902")
    assert [line[2] for line in lines] == [1, 2, 3, 4, 5]
    assert all(len(line) == 7 for line in lines)
    assert payloads(car, "0901") == [b"\x49\x01\x05"]


@pytest.mark.parametrize("bus", ["can_11_250", "can_29_500", "j1850_pwm", "kwp_slow"])
def test_a_car_can_be_put_on_any_transport(bus: BusProtocol) -> None:
    car = make_car("small", bus=bus, faults=["lazy_oxygen_sensor"], cleared=False)
    car.key_on()
    addresses = {reply.ecu for reply in car.ask(b"\x01\x01")}
    assert addresses == {
        "can_11_250": {"7E8", "7E9"},
        "can_29_500": {"18DAF110", "18DAF118"},
    }.get(bus, {"10", "18"})
    can = is_can(bus)
    assert decode_vin(payloads(car, "0902"), can) == car.body.vin
    assert decode_in_use(payloads(car, "0908"), False, can).ignition_cycles > 0
    assert codes(car, "03") == {"P0133"}
    _, count = item_bytes(payloads(car, "0908"), 0x08, can)
    assert len(count) == 40


def test_more_than_three_codes_before_can_take_more_messages_padded_with_zeros() -> None:
    car = make_car("estate", cleared=False)
    for code in ("P0133", "P0420", "P0442", "P0135"):
        car.ecus[0].mature(code, car.body)
    car.key_on()
    assert [len(payload) for payload in payloads(car, "03")] == [7, 7]
    assert payloads(car, "03")[1].endswith(b"\0\0\0\0")
    assert codes(car, "03") == {"P0133", "P0420", "P0442", "P0135"}


def test_test_results_read_zero_until_run_and_lie_within_their_limits_then() -> None:
    car = make_car("small")
    car.key_on()
    (maps,) = payloads(car, "0600")
    assert decode_supported(0, maps[2:]) == {0x01, 0x02, 0x20}
    (fresh,) = decode_test_results(payloads(car, "0601")[0])
    assert fresh.passed is None
    aged = make_car("small", cleared=False)
    aged.key_on()
    for mid in (0x01, 0x02, 0x21, 0x31, 0x3C, 0x41, 0x42):
        for result in decode_test_results(payloads(aged, f"06{mid:02X}")[0]):
            assert result.passed
            assert result.unit is not None
            assert result.monitor is not None
            assert result.share_of_limit_used is not None
            assert result.share_of_limit_used < 1


def test_a_freeze_frame_holds_the_code_and_the_moment() -> None:
    car = make_car("small", faults=["lazy_oxygen_sensor"], cleared=False)
    car.key_on()
    (payload,) = payloads(car, "020200")
    assert decode_frozen(payload) == ("P0133", ())
    (payload,) = payloads(car, "020500")
    assert decode_frozen(payload)[1][0][0] == "coolant_c"
    (payload,) = payloads(car, "020200050004000C00"[:14])
    assert decode_frozen(payload)[0] == "P0133"
    car.clear()
    assert payloads(car, "020200") == [bytes.fromhex("4202000000")]
    assert payloads(car, "020500") == []


def test_with_the_ignition_off_and_in_a_brown_out_nobody_answers() -> None:
    car = make_car("small", faults=["weak_battery"])
    assert car.ask(b"\x01\x00") == ()
    car.key_on()
    car.advance(2)
    assert len(car.ask(b"\x01\x00")) == 2
    assert car.battery_v < 12
    car.start()
    car.advance(3)
    assert car.ignition_on
    assert car.ask(b"\x01\x00") == ()
    car.advance(20)
    assert len(car.ask(b"\x01\x00")) == 2
    assert 12 < car.battery_v < 13


def test_unknown_names_are_refused_with_the_nearest() -> None:
    with pytest.raises(ValueError, match="nearest is 'hybrid'"):
        make_car("hybird")
    with pytest.raises(ValueError, match="nearest is 'lazy_oxygen_sensor'"):
        make_car("small", faults=["lazy_sensor"])


def test_every_pid_a_car_has_is_of_known_length_but_one() -> None:
    """PID 13, the sensors present, is not in our tables and is read alone."""
    for name in NAMES:
        car = make_car(name)
        car.key_on()
        unknown = {pid for pid in supported_pids(car, 0) if pid not in LENGTHS}
        assert unknown <= {0x13}
        for pid in supported_pids(car, 0) - unknown:
            assert len(data(car, pid)) == LENGTHS[pid]
    assert cycle_status(make_car_on("small")).odd == ()


def make_car_on(name: str) -> SimulatedCar:
    car = make_car(name)
    car.key_on()
    return car


@pytest.mark.parametrize(("name", "bus"), [(name, None) for name in NAMES] + [("small", "kwp_fast")])
def test_whatever_is_asked_no_unit_fails_and_every_answer_echoes_the_question(
    name: str, bus: BusProtocol | None
) -> None:
    car = make_car(name, bus=bus, faults=["lazy_oxygen_sensor"], cleared=False)
    car.start()
    car.advance(30)
    rng = random.Random(11)
    answers = 0
    for _ in range(3000):
        service = rng.choice((1, 1, 2, 3, 4, 6, 7, 9, 10, rng.randrange(256)))
        request = bytes((service, *(rng.randrange(0xC0) for _ in range(rng.choice((0, 0, 1, 1, 1, 2, 3, 6, 7))))))
        for reply in car.ask(request):
            answers += 1
            check_echo(request, reply.payload)
            if reply.payload[0] == 0x41 and 0x13 not in request:
                for pid, found in split_current_data(reply.payload, tuple(request[1:])):
                    if pid in PIDS:
                        PIDS[pid].decode(found)
    assert answers > 150
    assert car.body.running
