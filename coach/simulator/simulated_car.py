"""A whole car: body, control units, ignition key, its own clock. It answers as `Vehicle` wants it."""

import random

from coach.simulator.answers import answer, is_can
from coach.simulator.body import SLOW_STEPS, STEP_S, Body
from coach.simulator.circumstances import CIRCUMSTANCES
from coach.simulator.ecu import Ecu
from coach.simulator.faults import FAULTS
from coach.simulator.nearest import known
from coach.simulator.pid_bytes import frame_of
from coach.simulator.rules import EcuSpec
from coach.simulator.vehicle import BusProtocol, Reply

LOOK_S = SLOW_STEPS * STEP_S
STEPS_A_SECOND = round(1 / STEP_S)
TROUBLES = {**{name: fault.words for name, fault in FAULTS.items()}, **{n: c.words for n, c in CIRCUMSTANCES.items()}}
"""Names that `inject` takes, and what each is in words."""


class SimulatedCar:
    """One car. `name` and `description` say which; `body` is what it really is, `ecus` what its units think.

    Pedals (`accelerator`, `brake`, 0-1) and `grade` are set at any time and hold until changed.
    """

    def __init__(
        self, name: str, description: str, bus: BusProtocol, body: Body, units: tuple[EcuSpec, ...], rng: random.Random
    ) -> None:
        self.name = name
        self.description = description
        self.bus: BusProtocol = bus
        self.body = body
        self.ecus = tuple(Ecu(spec, rng, frame_of) for spec in units)
        self.faults: set[str] = set()
        self._steps = 0

    # ------------------------------------------------------------ Vehicle

    @property
    def clock_s(self) -> float:
        """The car's own time, seconds since it was made."""
        return self._steps / STEPS_A_SECOND

    @property
    def ignition_on(self) -> bool:
        """With the ignition off no unit answers."""
        return self.body.ignition != "off"

    @property
    def battery_v(self) -> float:
        """Voltage at the diagnostic connector, V."""
        return self.body.module_v

    def advance(self, t: float) -> None:
        """Let the car live on until time `t`, in seconds; an earlier `t` changes nothing."""
        target = int(t * STEPS_A_SECOND + 1e-6)
        while self._steps < target:
            if self.body.ignition == "off" and self.body.speed_ms == 0:
                self._rest(target - self._steps)
            else:
                self._step()

    def ask(self, request: bytes) -> tuple[Reply, ...]:
        """What every unit answers to this request, in bus order."""
        if not self.ignition_on or self.body.battery.browned_out:
            return ()
        return tuple(
            Reply(self.address(ecu), payload)
            for ecu in self.ecus
            for payload in answer(ecu, self.body, self.bus, request)
        )

    def address(self, ecu: Ecu) -> str:
        """The id this unit answers with on the car's bus."""
        if not is_can(self.bus):
            return f"{ecu.spec.source:02X}"
        return ecu.spec.can_id if self.bus.startswith("can_11") else f"18DAF1{ecu.spec.source:02X}"

    # ------------------------------------------------------------ key, tank, night

    @property
    def accelerator(self) -> float:
        """Accelerator pedal, 0-1."""
        return self.body.accelerator

    @accelerator.setter
    def accelerator(self, value: float) -> None:
        self.body.accelerator = min(1.0, max(0.0, value))

    @property
    def brake(self) -> float:
        """Brake pedal, 0-1."""
        return self.body.brake

    @brake.setter
    def brake(self, value: float) -> None:
        self.body.brake = min(1.0, max(0.0, value))

    @property
    def grade(self) -> float:
        """Slope of the road, rise per length."""
        return self.body.grade

    @grade.setter
    def grade(self, value: float) -> None:
        self.body.grade = value

    @property
    def speed_kmh(self) -> float:
        """Road speed, km/h."""
        return self.body.speed_kmh

    def key_on(self) -> None:
        """Ignition on, engine off."""
        if self.body.ignition == "off":
            self.body.ignition = "on"
            self.body.run_time_s = 0.0
            for ecu in self.ecus:
                ecu.key_on()

    def start(self) -> None:
        """Key on and crank; the engine runs about a second later."""
        self.key_on()
        if self.body.ignition == "on":
            self.body.ignition = "crank"

    def key_off(self) -> None:
        """Ignition off: the driving cycle is over."""
        if self.body.ignition != "off":
            self._end_cycle()
        self.body.ignition = "off"

    def stall(self) -> None:
        """The engine dies with the key on."""
        if self.body.ignition == "run":
            self._end_cycle()
            self.body.ignition = "on"

    def soak(self, hours: float) -> None:
        """Key off and leave the car standing for `hours`; its clock goes on by as much."""
        self.key_off()
        self.body.speed_ms = self.body.acceleration_ms2 = 0.0
        self.advance(self.clock_s + hours * 3600)

    def disconnect_battery(self, hours: float = 0.2) -> None:
        """Key off, the battery off for `hours` (somebody works on the car), and on again."""
        self.soak(hours)
        self.body.oxygen.forget()
        for ecu in self.ecus:
            ecu.lose_power()

    def refuel(self, fuel_pct: float) -> None:
        """Fill the tank up to this level, %, or pump it out down to it."""
        self.body.tank.fill(fuel_pct)

    def switch_start_stop(self, on: bool) -> None:
        """The button by which a driver keeps the engine from stopping at lights."""
        self.body.start_stop_active = on and self.body.spec.start_stop

    def inject(self, fault: str) -> None:
        """Break something, or put the car into a circumstance. ValueError for an unknown name."""
        name = known(fault, TROUBLES, "fault")
        if name in FAULTS:
            FAULTS[name].inject(self.body)
        else:
            CIRCUMSTANCES[name].begin(self.body)
        self.faults.add(name)

    def repair(self, fault: str) -> None:
        """Mend it, or end the circumstance; codes stay until the car finds out. ValueError for an unknown name."""
        name = known(fault, TROUBLES, "fault")
        if name in FAULTS:
            FAULTS[name].repair(self.body)
        else:
            CIRCUMSTANCES[name].end(self.body)
        self.faults.discard(name)

    def clear(self) -> None:
        """Clear all units as service 04 does, whatever the engine does."""
        for ecu in self.ecus:
            ecu.clear()

    # ------------------------------------------------------------ parts

    def _end_cycle(self) -> None:
        for ecu in self.ecus:
            ecu.key_off(self.body)

    def _rest(self, steps: int) -> None:
        self._steps += steps
        seconds = steps / STEPS_A_SECOND
        self.body.rest(seconds)
        for ecu in self.ecus:
            ecu.sleep(self.body, seconds)

    def _step(self) -> None:
        self._steps += 1
        cranking = self.body.ignition == "crank"
        self.body.step()
        if self.body.ignition != "run":
            return
        if cranking:
            for ecu in self.ecus:
                ecu.engine_started(self.body)
        if self._steps % SLOW_STEPS == 0:
            for ecu in self.ecus:
                ecu.look(self.body, LOOK_S)
