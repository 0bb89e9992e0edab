"""Drive-cycle coach: brings a car back to emissions readiness after a repair."""

__version__ = "0.1.0"
