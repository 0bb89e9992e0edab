"""The simulated car's feed, by way of the adapter: its guided end comes to an end however slowly keys are hit."""

import time
from pathlib import Path

from coach.screen.feed import simulated_feed
from coach.session.live import Wanted

PACE = 120.0
PATIENCE_S = 40.0
SLOW_S = 0.5  # a minute of the car's time


def test_the_simulated_key_goes_off_and_on_and_stays_on(tmp_path: Path) -> None:
    feed = simulated_feed("small", Wanted("", profile_id="spark_engine_off_leak", folder=tmp_path), PACE)
    feed.open()
    end = time.monotonic() + PATIENCE_S
    try:
        while feed.drive.state != "driving":
            feed.step()
            assert time.monotonic() < end
        feed.key_off()
        slow = time.monotonic() + SLOW_S  # the user reads the page before pressing the next key
        while not feed.may_read() or time.monotonic() < slow:
            feed.step()
            assert time.monotonic() < end
        feed.key_on()
        on_t = feed.drive.source.now()
        while feed.drive.link.state != "up" or feed.drive.source.now() < on_t + 10:
            feed.step()
            assert time.monotonic() < end
        feed.drive.read_again()
        while feed.drive.reading:
            feed.step()
            assert time.monotonic() < end
    finally:
        feed.drive.finish("done")
        feed.close()
