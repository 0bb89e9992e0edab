"""Live equals replay: what went into a journal gives, read back, the same happenings to the byte."""

from pathlib import Path

import msgspec
import pytest

from coach.journal import reader
from coach.journal.records import Context, Header
from coach.journal.writer import JournalWriter
from coach.library import profile_text
from coach.session.review import review
from tests.recordings import DRIVES, SCHEDULES, arrivals_of, played

PROFILE = "spark_engine_off_leak"
RECORDINGS = [SCHEDULES / "udds.csv", DRIVES / "2018-02-27_ka_ka_normal.csv.gz"]


@pytest.mark.parametrize("recording", RECORDINGS, ids=["udds", "cold"])
@pytest.mark.parametrize(("name", "chunk"), [("a.journal", 1 << 18), ("a.journal", 997), ("a.journal.gz", 64)])
def test_a_journal_read_back_in_any_batches_gives_the_same_happenings(
    tmp_path: Path, recording: Path, name: str, chunk: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    arrivals = arrivals_of(recording)
    _, live = played(arrivals)
    context = Context(profile={"id": PROFILE, "text": profile_text(PROFILE)})
    with JournalWriter(tmp_path / name, Header(1, "imported", "0", can=True), context, steady=True) as journal:
        for arrival in arrivals:
            journal.write(arrival)
    monkeypatch.setattr(reader, "CHUNK", chunk)
    replayed = review(tmp_path / name)
    assert msgspec.json.encode(replayed.happenings) == msgspec.json.encode(live)


def test_a_journal_that_names_its_limits_is_judged_under_them(tmp_path: Path) -> None:
    context = Context(
        profile={"id": PROFILE, "text": profile_text(PROFILE)},
        target=["catalyst", "oxygen_sensor"],
        limits={"speed_max_kmh": 70},
        known={"soak_s": 30000},
    )
    with JournalWriter(tmp_path / "a", Header(1, "live", "0"), context, steady=True) as journal:
        for arrival in arrivals_of(SCHEDULES / "hwfet.csv")[:300]:
            journal.write(arrival)
    plan = review(tmp_path / "a").core.plan()
    assert "highway_cruise" not in plan.phases  # a phase above the limit the user set is never asked for
    assert [(found.monitor, found.reason) for found in plan.not_today] == [("catalyst", "above_speed_limit")]
