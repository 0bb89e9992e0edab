"""The physical car: its powertrain moves it in steps of 0.1 s; fuel warms it; air, tyres, slope and brake slow it.

It knows nothing of monitors or codes; the control units look at its attributes. No clock, no threads.
"""

import random
from collections import deque

from coach.simulator.aftertreatment import NoxCatalyst
from coach.simulator.air import pressure_kpa, thin
from coach.simulator.battery import Battery
from coach.simulator.body_spec import BodySpec
from coach.simulator.filter_soot import SootFilter
from coach.simulator.hybrid import HybridPowertrain
from coach.simulator.powertrain import Powertrain
from coach.simulator.secondary_air import AirPump
from coach.simulator.sensors import RATIO_PER_STORAGE, OxygenSensors
from coach.simulator.speed_holder import SpeedHolder
from coach.simulator.surroundings import Ignition
from coach.simulator.tank import Tank
from coach.simulator.thermal import Thermal

STEP_S = 0.1
SLOW_STEPS = 5  # heat and sensors move slowly: every half second is enough (our judgement)
CRANK_S = 0.9  # common practice: a healthy engine fires within a second
WEAK_CRANK_S = 2.2  # a weak battery turns it slowly; our own
FOOT_WINDOW = 8  # half seconds: four seconds of foot movement are looked at
GRAVITY = 9.81
AIR_KG_M3 = 1.2  # at 20 °C and sea level
DENSITY_G_PER_L = {"spark": 745.0, "compression": 835.0}  # fuel at 15 °C, common values, from memory

PURGE_COOLANT_C = 57.0  # our own: canisters are purged once the engine is fairly warm
PURGE_PER_LOAD = 0.9
CATALYST_RATIOS = frozenset({"catalyst_ratio", "catalyst_2_ratio"})


class Body:
    """State and motion of one car. Inputs: `accelerator` and `brake` (0-1), `grade` (rise per length), `ignition`."""

    def __init__(
        self, spec: BodySpec, rng: random.Random, fuel_pct: float, ambient_c: float, soaked_h: float, odometer_km: float
    ) -> None:
        self.spec = spec
        self.rng = rng
        self.accelerator = 0.0
        self.demand = 0.0
        """What the engine is asked for, 0-1: by the foot, or by the speed holder when it wants more."""
        self.brake = 0.0
        self.grade = 0.0
        self.ignition: Ignition = "off"
        self.ambient_c = ambient_c
        self.vin = ""
        self._altitude_m = 0.0
        self.baro_kpa = pressure_kpa(0.0)
        self.air_share = 1.0
        """Density of the air against that at sea level."""
        self.speed_ms = 0.0
        self.acceleration_ms2 = 0.0
        self.odometer_km = odometer_km
        self.fuel_used_l = 0.0
        self.run_time_s = 0.0
        self.start_stop_active = spec.start_stop
        self.foot_range_pct = 0.0
        self._crank_s = 0.0
        self._steps = 0
        self._foot: deque[float] = deque([0.0], maxlen=FOOT_WINDOW)
        self.powertrain: Powertrain | HybridPowertrain = (
            HybridPowertrain(spec, rng) if spec.wheel_power_kw else Powertrain(spec, rng)
        )
        self.thermal = Thermal(spec, ambient_c, soaked_h)
        self.battery = Battery(soaked_h)
        self.oxygen = OxygenSensors()
        self.tank = Tank(spec.tank_l, fuel_pct, ambient_c)
        self.holder = SpeedHolder()
        self.air = AirPump(spec.air_pump)
        self.soot = SootFilter()
        self.nox = NoxCatalyst(ambient_c)
        self.pto_on = False
        self.hold_charge = False
        self.wear: dict[str, float] = {"misfire_share": 0.0}
        """What the monitors measure, by the names in `rules.Measure`: a fault changes it, a unit reads it."""

    # ------------------------------------------------------------ what the control units look at

    @property
    def speed_kmh(self) -> float:
        """Road speed, km/h."""
        return self.speed_ms * 3.6

    @property
    def rpm(self) -> float:
        """Engine speed, rpm."""
        return self.powertrain.rpm

    @property
    def running(self) -> bool:
        """Whether the driver has a started car: also true while the car itself has stopped the engine for a while."""
        return self.ignition == "run"

    @property
    def engine_on(self) -> bool:
        """Whether the engine itself turns on its own fuel."""
        return self.ignition == "run" and self.powertrain.engine_on

    @property
    def load_pct(self) -> float:
        """Calculated load, 0-100 %."""
        return self.powertrain.load_pct

    @property
    def maf_gps(self) -> float:
        """Air into the engine, g/s."""
        return self.powertrain.maf_gps

    @property
    def coolant_c(self) -> float:
        """Coolant temperature, °C."""
        return self.thermal.coolant_c

    @property
    def intake_c(self) -> float:
        """Intake air temperature, °C."""
        return self.thermal.intake_c

    @property
    def catalyst_c(self) -> float:
        """Catalyst temperature (diesel: oxidation catalyst), °C."""
        return self.thermal.catalyst_c

    @property
    def altitude_m(self) -> float:
        """Height above the sea, m; slopes change it."""
        return self._altitude_m

    @altitude_m.setter
    def altitude_m(self, value: float) -> None:
        self._altitude_m = value
        self.baro_kpa = pressure_kpa(value)
        self.air_share = thin(self.baro_kpa)

    @property
    def fuel_pct(self) -> float:
        """Tank level as the sender shows it, 0-100 %."""
        return self.tank.shown_pct

    @property
    def canister_load(self) -> float:
        """How full of vapour the canister is, 0-1."""
        return self.tank.load

    @property
    def vapour_kpa(self) -> float:
        """What a minute with the tank shut adds to its pressure, kPa."""
        return self.tank.vapour_kpa

    @property
    def purge_pct(self) -> float:
        """Commanded evaporative purge, 0-100 %: only warm, in closed loop, more with more air."""
        if self.spec.fuel != "spark" or not self.closed_loop or self.coolant_c < PURGE_COOLANT_C:
            return 0.0
        return min(100.0, PURGE_PER_LOAD * self.load_pct)

    @property
    def closed_loop(self) -> bool:
        """Fuel is controlled by the oxygen sensor."""
        return self.oxygen.status == 2

    @property
    def regenerating(self) -> bool:
        """The diesel's filter is being burnt free."""
        return self.soot.regenerating

    @property
    def scr_c(self) -> float:
        """Temperature of the NOx catalyst, °C."""
        return self.nox.catalyst_c

    @property
    def dosing(self) -> bool:
        """Exhaust fluid is being injected: it is liquid, and the NOx sensors give a value."""
        return self.nox.dosing

    @property
    def pumping_air(self) -> bool:
        """The air pump runs."""
        return self.air.on

    @property
    def foot_pct(self) -> float:
        """Accelerator, 0-100 % of its own travel."""
        return 100 * self.demand

    @property
    def module_v(self) -> float:
        """Voltage at the control units and the diagnostic connector, V."""
        return self.battery.volts

    def measured(self, name: str) -> float:
        """What a monitor measures: from the physics where there is any, else how worn the part is."""
        if name == "secondary_air_gps":
            return self.air.last_gps
        if name == "filter_pressure_kpa":
            return self.soot.pressure_kpa
        if name == "scr_conversion_pct":
            return self.nox.shown_pct
        worn = RATIO_PER_STORAGE * (1 - self.oxygen.storage) if name in CATALYST_RATIOS else 0.0
        return self.wear[name] + worn

    # ------------------------------------------------------------ life

    def step(self) -> None:
        """Live on for 0.1 s."""
        self._steps += 1
        self._crank()
        self._ask_for()
        force_n = self.powertrain.step(self, STEP_S)
        self._move(force_n)
        self._burn()
        if self.ignition == "run":
            self.run_time_s += STEP_S
        if self._steps % 2:
            self.oxygen.step(self, 2 * STEP_S)
        if self.ignition == "crank":
            self.battery.step(self, STEP_S)
        if self._steps % SLOW_STEPS == 0:
            self._slow(STEP_S * SLOW_STEPS)

    def rest(self, seconds: float) -> None:
        """Stand with the ignition off for `seconds` (any length): heat leaves, the battery settles."""
        self.thermal.rest(self.ambient_c, seconds)
        self.battery.rest(seconds)
        self.tank.rest(self.ambient_c, seconds)
        if self.spec.exhaust_fluid:
            self.nox.rest(self.ambient_c, seconds)
        self.powertrain.rest()

    def road_force_n(self, speed_ms: float) -> float:
        """Tyres, air and slope against the car, in newtons."""
        spec = self.spec
        rolling = spec.rolling * spec.mass_kg * GRAVITY if speed_ms > 0.05 else 0.0
        air = 0.5 * AIR_KG_M3 * self.air_share * spec.drag_area_m2 * speed_ms * speed_ms
        return rolling + air + spec.mass_kg * GRAVITY * self.grade

    def pedals_for(self, acceleration_ms2: float) -> tuple[float, float]:
        """Accelerator and brake (0-1 each) that give this acceleration now, as a practised foot finds them."""
        force = acceleration_ms2 * self.spec.mass_kg * ROTATING + self.road_force_n(self.speed_ms)
        accelerator, missing_n = self.powertrain.accelerator_for(self, force)
        brake = max(0.0, -missing_n) / (BRAKE_MS2 * self.spec.mass_kg)
        return accelerator, min(1.0, brake)

    def _ask_for(self) -> None:
        self.demand = self.accelerator
        if self.holder.set_kmh is not None:
            self.holder.step(self, STEP_S)
            self.demand = max(self.accelerator, self.holder.demand)

    def _crank(self) -> None:
        if self.ignition != "crank":
            return
        self._crank_s += STEP_S
        if self._crank_s >= (WEAK_CRANK_S if self.battery.weak else CRANK_S):
            self.ignition, self._crank_s, self.run_time_s = "run", 0.0, 0.0
            self.powertrain.started(self)
            self.air.started(self.coolant_c)

    def _move(self, force_n: float) -> None:
        v = self.speed_ms
        brake = self.brake * BRAKE_MS2 * self.spec.mass_kg
        net = force_n - self.road_force_n(v)
        if v < 0.05 and net <= brake:
            self.speed_ms, self.acceleration_ms2 = 0.0, 0.0
            return
        self.acceleration_ms2 = (net - brake) / (self.spec.mass_kg * ROTATING)
        self.speed_ms = max(0.0, v + self.acceleration_ms2 * STEP_S)
        self.odometer_km += (v + self.speed_ms) * STEP_S / 2000
        if self.grade:
            self.altitude_m += self.speed_ms * self.grade * STEP_S

    def _burn(self) -> None:
        litres = self.powertrain.fuel_gps * STEP_S / DENSITY_G_PER_L[self.spec.fuel]
        self.fuel_used_l += litres
        self.tank.burn(litres)
        self.tank.surge(self.acceleration_ms2, self.grade, STEP_S)

    def _slow(self, dt: float) -> None:
        if self.ignition != "crank":
            self.battery.step(self, dt)
        self._foot.append(self.demand)
        self.foot_range_pct = 100 * (max(self._foot) - min(self._foot))
        if self.spec.fuel == "compression":
            self.soot.step(self, dt)
        if self.spec.exhaust_fluid:
            self.nox.step(self, dt)
        self.air.step(self)
        self.tank.step(self, dt)
        self.thermal.step(self, dt)
        self.powertrain.warm(self)


BRAKE_MS2 = 8.0  # full braking on a dry road, common value
ROTATING = 1.05  # wheels and engine turn with the car: common surcharge on its mass
