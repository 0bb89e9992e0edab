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
    ├── CarRefuses         control units answer, and refuse the question or put it off
    │   └── OnlyNewerDiagnostics   they refuse the services this program knows
    ├── Unreadable         something answers, and it cannot be read
    ├── BusTrouble         the adapter's question does not get through on the car's bus
    └── AdapterTrouble     the adapter broke off its own question
"""

from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from coach.adapter.exchange import Exchange

NoCarState = Literal["ignition_off", "no_car", "refused", "unreadable", "bus_error", "adapter_error"]


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
    """The adapter answers, and no control unit says what is asked. `state`: what is told of the link."""

    state: NoCarState = "no_car"


class CarSilent(NoCar):
    """No car on the adapter's connector, as far as it can tell."""

    def __init__(self, said: str) -> None:
        super().__init__(
            f"The adapter answers, but no car does ({said}).",
            "Push the adapter fully into the car's connector and turn the key to on; the engine need not run.",
        )


class IgnitionOff(NoCar):
    """The adapter has the car's power, but the car is silent."""

    state = "ignition_off"

    def __init__(self, voltage_v: float, said: str) -> None:
        super().__init__(
            f"The adapter has {voltage_v:.1f} V from the car, but no control unit answers ({said}).",
            "Turn the key to on (a button car: press start without the brake). If it is on, this car may speak only "
            "the newer diagnostic services, which this program does not know.",
        )


class CarRefuses(NoCar):
    """Control units answer, but not what they are asked."""

    state = "refused"

    def __init__(self, said: str) -> None:
        super().__init__(
            f"The car answers, but does not tell what it is asked ({said}).",
            "Turn the key fully to on and wait a moment: it is asked again. Some cars refuse while the engine starts, "
            "or while another tool is at work.",
        )


class OnlyNewerDiagnostics(CarRefuses):
    """Control units answer, but refuse the services this program knows."""

    def __init__(self, said: str) -> None:
        AdapterError.__init__(
            self,
            f"The car refuses the classic diagnostic services ({said}).",
            "It may speak only the newer ones (SAE J1979-2, from about model year 2023), which cannot be read here.",
        )


class Unreadable(NoCar):
    """Something came in to the question that is no whole reply."""

    state = "unreadable"

    def __init__(self, said: str) -> None:
        super().__init__(
            f"Something answers, but it cannot be read ({said}).",
            "Unplug the adapter, wait a moment, plug it in again; nothing else may speak on the same connector. If it "
            "stays so, the adapter's connection is disturbed, or the adapter is a poor copy.",
        )


class BusTrouble(NoCar):
    """The adapter tells that its question did not get through on the bus."""

    state = "bus_error"

    def __init__(self, said: str) -> None:
        super().__init__(
            f"The adapter cannot get its question through to the car ({said}).",
            "Unplug it, plug it in again with the key on. If it stays so, the car's bus may run at another speed than "
            "the adapter tries, or something else on the bus or in the plug disturbs it.",
        )


class AdapterTrouble(NoCar):
    """The adapter broke off its own question. `meaning`: what its word stands for."""

    state = "adapter_error"

    def __init__(self, said: str, meaning: str, remedy: str) -> None:
        super().__init__(f"The adapter broke off its question: {meaning} ({said}).", remedy)
