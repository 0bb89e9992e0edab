"""Every shipped replay gives the happenings that are stored beside it: a change of a rule shows here first.

The replays are the product's own simulated drives (tests/make_replays.py); no field is left out of the comparison.
"""

import gzip
import json
from pathlib import Path

import pytest
from msgspec import to_builtins

from coach.car.happenings import MonitorChanged
from coach.drive.happenings import CoachingEnded, HoldPaused, PhaseDriven
from coach.journal.reader import open_journal
from coach.library import shipped
from coach.session.review import review

REPLAYS = sorted(shipped("replays").glob("*.journal.gz"))


def test_replays_are_shipped() -> None:
    assert len(REPLAYS) >= 3


@pytest.mark.parametrize("path", REPLAYS, ids=lambda path: path.name.partition(".")[0])
def test_a_replay_gives_its_stored_happenings(path: Path) -> None:
    stored = gzip.decompress(path.with_name(path.name.replace(".journal.gz", ".happenings.json.gz")).read_bytes())
    expected = [json.loads(line) for line in stored.decode().splitlines()]
    found = review(path)
    assert [json.loads(json.dumps(to_builtins(happening))) for happening in found.happenings] == expected
    assert found.header.source == "simulated"
    assert not found.report.cut_short


@pytest.mark.parametrize("path", REPLAYS, ids=lambda path: path.name.partition(".")[0])
def test_no_replay_holds_a_vin_or_a_place(path: Path) -> None:
    for arrival in open_journal(path).arrivals():
        assert not getattr(arrival, "payload", b"").startswith(b"\x49\x02")


def test_together_the_replays_show_what_a_drive_can_bring() -> None:
    kinds = {type(happening) for path in REPLAYS for happening in review(path).happenings}
    assert {CoachingEnded, HoldPaused, PhaseDriven, MonitorChanged} <= kinds
