"""Wall clocks in ISO 8601, as files hold them: what is a moment, and one that can be reckoned with."""

from datetime import datetime

FIRST_YEAR, LAST_YEAR = 1971, 2999
"""Our judgement: every car with these diagnostics was built within; a month or a zone more or less stays a date."""


def is_moment(text: str) -> bool:
    """Whether this is a date and a time in ISO 8601, of a year in which there may be a car."""
    try:
        return FIRST_YEAR <= datetime.fromisoformat(text).year <= LAST_YEAR
    except ValueError:
        return False
