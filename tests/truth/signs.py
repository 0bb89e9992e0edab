"""What a fair reader knows of who the car is: the signs it was told, link by link."""

from dataclasses import dataclass, field

VIN = "0902"
SIGNS = (VIN, "0904", "0906")
"""Questions that bring a sign: VIN, CALID, CVN."""

Key = tuple[str, str]
"""The address of a unit and the question it answered."""


@dataclass(slots=True)
class Signs:
    """`known`: told over earlier links by a car that surely was the first; `here`: told over the present link."""

    known: dict[Key, bytes] = field(default_factory=dict)
    here: dict[Key, bytes] = field(default_factory=dict)

    def parted(self) -> None:
        """The link is over: what was told over it is known if one sign agrees and none contradicts."""
        agrees = not self.known or any(self.known.get(key) == told for key, told in self.here.items())
        if agrees and not any(self.known.get(key, told) != told for key, told in self.here.items()):
            self.known.update(self.here)
        self.here.clear()

    def excuse(self, address: str) -> None:
        """The user says that this unit's calibration was changed."""
        for item in SIGNS[1:]:
            self.known.pop((address, item), None)

    @property
    def knows_vin(self) -> bool:
        """Whether a VIN of the first car is known, by which another can be told."""
        return any(item == VIN for _, item in self.known)

    @property
    def another(self) -> bool:
        """Whether a VIN was told over the present link that is not the known one."""
        vins = {told for (_, item), told in self.known.items() if item == VIN}
        return bool(vins) and any(told not in vins for (_, item), told in self.here.items() if item == VIN)
