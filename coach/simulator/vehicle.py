"""What the adapter dialect needs of a car on the bus, simulated or scripted: a clock, power, and answers per ECU."""

from typing import Literal, NamedTuple, Protocol

BusProtocol = Literal[
    "j1850_pwm", "j1850_vpw", "iso_9141", "kwp_slow", "kwp_fast", "can_11_500", "can_29_500", "can_11_250", "can_29_250"
]
"""SAE J1979's transports, in the order in which adapters number them 1 to 9."""


class Reply(NamedTuple):
    """One ECU's answer. `ecu` is its response id as sent: "7E8", "18DAF110", or the source byte "10" before CAN.

    `payload` begins with the service byte plus 0x40, or with 7F for a refusal.
    """

    ecu: str
    payload: bytes


class Vehicle(Protocol):
    """A car that answers. Times are seconds of its own clock."""

    bus: BusProtocol

    @property
    def ignition_on(self) -> bool:
        """With the ignition off no ECU answers."""

    @property
    def battery_v(self) -> float:
        """Voltage at the diagnostic connector, in volts."""

    def advance(self, t: float) -> None:
        """Let the car live on until time `t`; an earlier `t` is no error and changes nothing."""

    def ask(self, request: bytes) -> tuple[Reply, ...]:
        """What every ECU answers to this request (service, then PIDs), in bus order; empty when all are silent."""
