"""Everything that can go wrong between this program and the car, each with what happened and what to do.

AdapterError
├── NotAllowed             a command that is not on the list of what may be sent
├── PortError
│   ├── NoSuchPort         there is no such port
│   ├── PortBusy           another program holds it
│   ├── NoPermission       this user may not open it
│   └── PortFailed         it cannot be opened for another reason
├── NoAdapter              the port opens, but no adapter answers on it
├── LinkLost               the adapter went away, fell silent or answers rubbish
├── Cancelled              the user closed the link while it was busy
└── NoCar
    ├── CarSilent          the adapter answers, no car does
    ├── IgnitionOff        the adapter has the car's power, the car is silent
    └── OnlyNewerDiagnostics   the car refuses the services this program knows
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from coach.adapter.exchange import Exchange


class AdapterError(Exception):
    """Root of all faults of the link. `happened` and `remedy` are sentences for the reader."""

    def __init__(self, happened: str, remedy: str = "") -> None:
        super().__init__(f"{happened} {remedy}".strip())
        self.happened = happened
        self.remedy = remedy


class NotAllowed(AdapterError):
    """A command outside the list of what may be sent."""

    def __init__(self, command: str) -> None:
        super().__init__(f"The command {command!r} was not sent: it is not on the list of what this program may send.")


class PortError(AdapterError):
    """The port could not be opened."""


class NoSuchPort(PortError):
    """There is no such port."""

    def __init__(self, port: str) -> None:
        super().__init__(
            f"There is no port {port}.",
            "Plug the adapter in (or pair it, if it is a Bluetooth one) and run `coach ports` to see what there is.",
        )


class PortBusy(PortError):
    """Another program holds the port."""

    def __init__(self, port: str) -> None:
        super().__init__(f"The port {port} is in use.", "Close the other program that uses it, then try again.")


class NoPermission(PortError):
    """This user may not open the port."""

    def __init__(self, port: str) -> None:
        super().__init__(
            f"You may not open {port}.",
            "On Linux: run `sudo usermod -aG dialout $USER`, log out and in again (some systems name the group uucp).",
        )


class PortFailed(PortError):
    """The port cannot be opened for another reason."""

    def __init__(self, port: str, why: str) -> None:
        super().__init__(
            f"The port {port} cannot be opened: {why}.",
            "Is the adapter switched on and in range? A Wi-Fi adapter needs this computer in its own network.",
        )


class NoAdapter(AdapterError):
    """The port opens, but no adapter answers on it."""

    def __init__(self, port: str, why: str) -> None:
        super().__init__(
            f"No diagnostic adapter answers on {port}: {why}.",
            "Is it pushed fully into the car's connector, and is this the right port? Unplug it, plug it in again.",
        )


class LinkLost(AdapterError):
    """The adapter went away, fell silent or answers rubbish. `exchange`: the question it happened in, if in one."""

    exchange: "Exchange | None" = None


class Cancelled(AdapterError):
    """The link was closed while it was busy."""

    def __init__(self) -> None:
        super().__init__("The link was closed.")


class NoCar(AdapterError):
    """The adapter answers, the car does not."""


class CarSilent(NoCar):
    """No car on the adapter's connector, as far as it can tell."""

    def __init__(self, said: str) -> None:
        super().__init__(
            f"The adapter answers, but no car does ({said}).",
            "Push the adapter fully into the car's connector and turn the key to on; the engine need not run.",
        )


class IgnitionOff(NoCar):
    """The adapter has the car's power, but the car is silent."""

    def __init__(self, voltage_v: float, said: str) -> None:
        super().__init__(
            f"The adapter has {voltage_v:.1f} V from the car, but no control unit answers ({said}).",
            "Turn the key to on (a button car: press start without the brake). If it is on, this car may speak only "
            "the newer diagnostic services, which this program does not know.",
        )


class OnlyNewerDiagnostics(NoCar):
    """Control units answer, but refuse the services this program knows."""

    def __init__(self, said: str) -> None:
        super().__init__(
            f"The car refuses the classic diagnostic services ({said}).",
            "It may speak only the newer ones (SAE J1979-2, from about model year 2023), which cannot be read here.",
        )
