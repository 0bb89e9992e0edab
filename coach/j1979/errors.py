"""What can be wrong with an answer. Every decoder raises these and nothing else.

J1979Error
├── WrongLength    too few or too many bytes; never padded, never cut
├── WrongEcho      another service or PID than was asked
├── UnknownItem    not in the tables: no accusation, only no reading
└── NotAVin        17 characters are there, but not those of a VIN
"""


class J1979Error(ValueError):
    """Root of all decoding errors."""


class WrongLength(J1979Error):
    """The answer has too few or too many bytes."""

    def __init__(self, what: str, got: int, wanted: str | int) -> None:
        super().__init__(f"{what}: {got} bytes, not {wanted}")


class WrongEcho(J1979Error):
    """The answer belongs to another service or PID."""


class UnknownItem(J1979Error):
    """A PID, unit or layout that the tables do not hold."""


class NotAVin(J1979Error):
    """Seventeen characters that no VIN can have (ISO 3779 leaves out I, O and Q)."""
