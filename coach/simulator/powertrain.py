"""Engine and gearbox of a car without an electric drive: torque from the pedal, idle control, fuel cut, air and fuel.

Fuel follows a Willans line: power at the pistons over a fixed efficiency, friction included (textbook, from memory).
"""

import math
import random

from coach.simulator.body_spec import BodySpec
from coach.simulator.outputs import DriveOutputs
from coach.simulator.surroundings import Surroundings

KJ_PER_G = {"spark": 43.4, "compression": 42.8}  # heating value of the fuel, common values
AIR_PER_FUEL = 14.6  # stoichiometric, petrol
AIR_G_PER_L = 1.18  # air at 25 °C, sea level
DRIVELINE = 0.93  # share of the torque that reaches the wheels, common value
ACCESSORIES_KW = 0.45  # generator, pumps, fan on average
FOOT_OFF = 0.012  # a pedal below this is at rest
CUT_IN_RPM = 1150.0  # fuel comes back below this on overrun; common practice is 1000 to 1500
CUT_OUT_RPM = 1400.0
COLD_IDLE_RPM = 450.0  # added at 0 °C, gone at 60 °C
SHIFT_S = 1.6  # shortest time in a gear
CLOSED_AIR = 0.13  # share of full air that a closed throttle still lets by
PTO_IDLE_RPM = 1180.0  # the idle is raised while the power take-off works; our own
AUTO_STOP_S = 2.5  # standing on the brake so long stops the engine of a start-stop car; common practice 1 to 3 s
AUTO_STOP_COOLANT_C = 55.0  # start-stop waits for a warm engine


class Powertrain(DriveOutputs):
    """State of engine and gearbox. `step` gives the force at the wheels in newtons."""

    def __init__(self, spec: BodySpec, rng: random.Random) -> None:
        super().__init__(spec, rng)
        self._in_gear_s = 0.0
        self._standing_s = 0.0
        self._ripple = 0.0
        self._friction_nm = 20.0
        self._idle_rpm = spec.idle_rpm
        self._odd_step = False

    # ------------------------------------------------------------ life

    def started(self, body: Surroundings) -> None:
        """The engine has fired."""
        self.warm(body)
        self.engine_on, self.rpm, self.gear = True, self._idle_rpm + 250, 0

    def warm(self, body: Surroundings) -> None:
        """Take over the coolant temperature: a cold engine idles faster and turns harder."""
        share = max(0.0, min(1.0, (60.0 - body.coolant_c) / 60.0))
        self._idle_rpm = self.spec.idle_rpm + COLD_IDLE_RPM * share
        share = max(0.0, min(1.0, (75.0 - body.coolant_c) / 75.0))
        mean_bar = self.spec.friction_bar * (1 + 0.7 * share)
        self._friction_nm = mean_bar * self.spec.displacement_l * 100 / (4 * math.pi)

    def step(self, body: Surroundings, dt: float) -> float:
        """Live on for `dt` seconds; the force at the wheels in newtons."""
        if body.ignition == "crank":
            self.rest()
            self.rpm = 220.0
            return 0.0
        if body.ignition != "run" or self._auto_stopped(body, dt):
            self.rest()
            self.map_kpa = body.baro_kpa
            return 0.0
        self._shift(body, dt)
        locked = self._turn(body, dt)
        self._torque(body, locked)
        self._odd_step = not self._odd_step
        if self._odd_step:  # air follows every other step: 0.2 s is how fast an intake fills anyway
            self._breathe(body)
        return self.torque_nm * DRIVELINE * self._ratio() if locked else 0.0

    def accelerator_for(self, body: Surroundings, force_n: float) -> tuple[float, float]:
        """Pedal (0-1) for this force at the wheels, and the force that is then still missing (negative: brake)."""
        ratio = DRIVELINE * self._ratio()
        drag, most = self._drag_nm(), self._most_nm(body)
        wanted = force_n / ratio
        lock_rpm = self._lock_rpm(body, self.gear)
        floor = -drag if lock_rpm > CUT_IN_RPM else (-0.25 * drag if lock_rpm > self.spec.idle_rpm else 0.0)
        if wanted <= floor:
            return 0.0, (wanted - floor) * ratio
        return min(1.0, max(FOOT_OFF, (wanted + drag) / (most + drag))), 0.0

    # ------------------------------------------------------------ parts

    def _ratio(self) -> float:
        """Newtons at the wheel for one newton metre at the crankshaft."""
        return 2 * math.pi * 60 / self.spec.kmh_per_1000rpm[self.gear]

    def _lock_rpm(self, body: Surroundings, gear: int) -> float:
        return 3600 * body.speed_ms / self.spec.kmh_per_1000rpm[gear]

    def _auto_stopped(self, body: Surroundings, dt: float) -> bool:
        if not body.start_stop_active:
            self.engine_on = True
            return False
        standing = body.speed_ms < 0.1 and body.demand <= FOOT_OFF and body.brake > 0.05
        self._standing_s = self._standing_s + dt if standing else 0.0
        self.engine_on = not (self._standing_s > AUTO_STOP_S and body.coolant_c > AUTO_STOP_COOLANT_C)
        return not self.engine_on

    def _shift(self, body: Surroundings, dt: float) -> None:
        """The highest gear that keeps the revs this pedal asks for; down only when they have clearly fallen."""
        self._in_gear_s += dt
        if self._in_gear_s < SHIFT_S:
            return
        diesel = self.spec.fuel == "compression"
        wanted = (1250 + 1700 * body.demand) if diesel else (1380 + 2100 * body.demand)
        top = len(self.spec.kmh_per_1000rpm) - 1
        if self.gear < top and self._lock_rpm(body, self.gear + 1) >= wanted:
            self.gear, self._in_gear_s = self.gear + 1, 0.0
        elif self.gear > 0 and self._lock_rpm(body, self.gear) < 0.72 * wanted:
            self.gear, self._in_gear_s = self.gear - 1, 0.0

    def _turn(self, body: Surroundings, dt: float) -> bool:
        """Engine speed; true while the wheels are connected."""
        idle = max(self._idle_rpm, PTO_IDLE_RPM) if body.pto_on else self._idle_rpm
        lock = self._lock_rpm(body, self.gear)
        pressed = body.demand > FOOT_OFF
        target = max(lock, idle + 1500 * body.demand if pressed else idle)
        if lock < idle:
            self._ripple += (self.rng.uniform(-12, 12) - self._ripple) * 0.2
            target += self._ripple
        self.rpm += (target - self.rpm) * dt / 0.25
        return pressed or lock > idle

    def _drag_nm(self) -> float:
        """What a closed throttle holds back: friction and the pumping against it."""
        return self._friction_nm * (1.25 if self.spec.fuel == "spark" else 1.05)

    def _most_nm(self, body: Surroundings) -> float:
        x = max(self.rpm, self.spec.idle_rpm) / self.spec.torque_peak_rpm
        return body.air_share * self.spec.torque_nm * max(0.35, 1 - 0.38 * (x - 1) * (x - 1))

    def _torque(self, body: Surroundings, locked: bool) -> None:
        a, friction = body.demand, self._friction_nm
        omega = self.rpm * math.pi / 30
        drag = self._drag_nm()
        self.fuel_cut = (
            a <= FOOT_OFF
            and locked
            and body.coolant_c > 30
            and not body.pto_on
            and self.rpm > (CUT_IN_RPM if self.fuel_cut else CUT_OUT_RPM)
        )
        if a > FOOT_OFF:
            self.torque_nm = a * self._most_nm(body) - (1 - a) * drag
        elif self.fuel_cut:
            self.torque_nm = -drag
        else:
            self.torque_nm = -0.25 * drag if locked else 0.0
        pistons_kw = (max(0.0, self.torque_nm + friction) * omega) / 1000 + ACCESSORIES_KW
        pistons_kw += self.spec.pto_kw if body.pto_on else 0.0
        burnt = pistons_kw / self.spec.efficiency / KJ_PER_G[self.spec.fuel]
        self.fuel_gps = 0.0 if self.fuel_cut else burnt

    def _breathe(self, body: Surroundings) -> None:
        """Air, load, manifold pressure and throttle from what is burnt."""
        swept = self.spec.displacement_l * self.rpm / 120 * AIR_G_PER_L * body.air_share
        full = max(0.01, swept * 0.92)
        if self.spec.fuel == "compression":
            share = max(0.0, self.torque_nm) / self.spec.torque_nm
            self.boost += (share - self.boost) * 0.06
            self.maf_gps = full * (0.82 + 1.05 * self.boost)
            self.load_pct = min(100.0, 100 * self.fuel_gps / max(0.01, full * 1.9 / 20))
            self.map_kpa = body.baro_kpa * (0.98 + 1.1 * self.boost)
        else:
            self.maf_gps = min(full, max(full * CLOSED_AIR, self.fuel_gps * AIR_PER_FUEL))
            self.load_pct = 100 * self.maf_gps / full
            self.map_kpa = body.baro_kpa * (0.12 + 0.88 * self.maf_gps / full)
        self.absolute_load_pct = 100 * self.maf_gps / max(0.01, swept)
        self._throttle(body)

    def _throttle(self, body: Surroundings) -> None:
        rest = self.spec.throttle_rest_pct
        if self.spec.fuel == "compression":
            self.throttle_pct = 88.0  # a diesel's flap stands open
        elif self.spec.electronic_throttle:
            opening = max(0.0, self.load_pct - 100 * CLOSED_AIR) / 100 if body.demand > FOOT_OFF else 0.0
            self.throttle_pct = rest + (92 - rest) * opening * opening
        else:
            self.throttle_pct = rest + (92 - rest) * body.demand
