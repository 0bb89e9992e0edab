"""What a session needs of whatever the answers come from. The adapter's live source is one; a test's script another."""

from collections.abc import Iterable, Mapping
from typing import Any, Literal, Protocol

from coach.car.arrivals import Arrival


class LinkFacts(Protocol):
    """What a journal's header says of the link."""

    @property
    def adapter(self) -> str:
        """What the adapter says it is."""

    @property
    def protocol(self) -> str:
        """The transport as the trade names it."""

    @property
    def can(self) -> bool:
        """Whether the car speaks CAN."""


class Source(Protocol):
    """Arrivals in order of time. Times in seconds since the source was made."""

    @property
    def info(self) -> LinkFacts | None:
        """What the link is; none before the car first answered."""

    def start(self) -> None:
        """Begin."""

    def arrivals(self, timeout_s: float) -> tuple[Arrival, ...]:
        """What came in; waits up to `timeout_s` for the first."""

    def want(self, periods_s: Mapping[str, float]) -> None:
        """What is to be asked how often."""

    def once(self, requests: Iterable[str]) -> None:
        """What is to be asked once, before everything else."""

    def choose(self, made: Mapping[str, Any]) -> None:
        """A choice of the user; it comes back as an arrival, in its place."""

    def now(self) -> float:
        """Seconds by the source's own clock."""

    def close(self) -> None:
        """End."""


def label_of(adapter: str, label: Literal["live", "simulated"]) -> Literal["live", "simulated"]:
    """A simulated adapter says so by its name; whatever it answers is marked simulated, by whatever way it came."""
    return "simulated" if adapter.startswith("simulated") else label
