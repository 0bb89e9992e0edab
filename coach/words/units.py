"""Numbers as the user reads them, in metric or US units. Unknown is said as unknown, never as a number."""

from dataclasses import dataclass
from datetime import datetime

from coach.visible import one_line

KM_PER_MILE = 1.609344


@dataclass(frozen=True, slots=True)
class Units:
    """The user's units. `us` is miles and Fahrenheit, else kilometres and Celsius."""

    us: bool = False

    def speed(self, kmh: float | None) -> str:
        """A speed, whole numbers."""
        if kmh is None:
            return "unknown speed"
        return f"{kmh / KM_PER_MILE:.0f} mph" if self.us else f"{kmh:.0f} km/h"

    def temperature(self, celsius: float | None) -> str:
        """A temperature, whole degrees."""
        if celsius is None:
            return "unknown temperature"
        return f"{celsius * 1.8 + 32:.0f} °F" if self.us else f"{celsius:.0f} °C"

    def degrees(self, kelvin: float | None) -> str:
        """A difference of temperatures."""
        if kelvin is None:
            return "unknown"
        return f"{kelvin * 1.8:.0f} °F" if self.us else f"{kelvin:.0f} °C"

    def distance(self, km: float | None) -> str:
        """A distance, one decimal; none where it is thousands."""
        if km is None:
            return "unknown distance"
        far = km / KM_PER_MILE if self.us else km
        return f"{far:.{0 if far >= 1000 else 1}f} {'mi' if self.us else 'km'}"

    def height(self, metres: float) -> str:
        """A height above the sea, to the ten."""
        return f"{round(metres / 0.3048, -1):,.0f} ft" if self.us else f"{metres:,.0f} m"


def clock(seconds: float) -> str:
    """A moment of the recording: 7:05 or 1:02:03, cut to the second, as a stopwatch shows it."""
    whole = int(seconds)
    minutes, rest = divmod(whole, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"


def span(seconds: float | None) -> str:
    """A length of time as people say it: 40 s, 2 min 10 s, 45 min, 8 h."""
    if seconds is None:
        return "unknown time"
    if seconds < 10 and round(seconds, 1) != round(seconds):
        return f"{seconds:.1f} s"
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        minutes, rest = divmod(whole, 60)
        return f"{minutes} min {rest} s" if rest else f"{minutes} min"
    hours, rest = divmod(whole, 3600)
    return f"{hours} h {rest // 60} min" if rest >= 60 else f"{hours} h"


def at_least(words: str, more: bool) -> str:
    """A figure in words; with `more` it is a lower bound, since something was not seen."""
    return f"at least {words}" if more else words


def listed(words: list[str]) -> str:
    """a, b and c."""
    if not words:
        return "none"
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def capital(words: str) -> str:
    """The same with a capital in front."""
    return words[:1].upper() + words[1:]


def pattern_words(units: Units) -> str:
    """The general denominator's drive in words (40 CFR 86.010-18(d)(4)(ii))."""
    return f"10 minutes running, 5 of them at {units.speed(40.2)} or more, one idle of 30 s"


def when_words(moment: str) -> str:
    """A wall clock in ISO 8601 as people write it: 2026-11-20 06:42. What is no moment stays as it is."""
    try:
        return f"{datetime.fromisoformat(moment):%Y-%m-%d %H:%M}"
    except ValueError:
        return one_line(moment)


def zoned_words(moment: str | None) -> str:
    """The same with its zone, for a page that is handed over: 2026-11-20 06:42 (UTC+01:00)."""
    if not moment:
        return "at an unknown time"
    try:
        zone = f"{datetime.fromisoformat(moment):%z}"
    except ValueError:
        return one_line(moment)
    return when_words(moment) + (f" (UTC{zone[:3]}:{zone[3:]})" if zone else "")
