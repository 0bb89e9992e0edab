"""A drive that was broken off in the middle of a line and gone on with: live and its journal read again agree.

The car is the product's own invention.
"""

from pathlib import Path

from coach.journal.reader import open_journal
from coach.session.live import Wanted, go_on
from coach.session.review import review
from coach.simulator.cars import make_car
from tests.session.test_drive import driven, session


def broken_off(path: Path) -> Path:
    """A journal whose writer died in the middle of a line."""
    drive, source = session(path, make_car("small"), "spark_engine_off_leak")
    driven(drive, source, 60.0)
    whole = path.read_bytes()
    last = whole.rindex(b'{"footer"')
    path.write_bytes(whole[: last - 9])
    return path


def test_a_line_that_was_torn_is_as_lost_to_the_drive_that_goes_on_as_to_whoever_reads_it_later(tmp_path: Path) -> None:
    path = broken_off(tmp_path / "drive.journal")
    drive, _kept = go_on(path, Wanted("no port is opened"), print)
    assert drive.core is not None
    assert {doubt.why for doubt in drive.core.car.doubts.values()} == {"line_lost"}
    drive.finish("done")
    again = review(path)
    assert drive.core.car == again.core.car
    assert [number for number, _ in again.report.bad_lines] == [path.read_bytes().count(b"\n") - 2]
    assert again.report.footer_disagrees is None


def test_a_drive_whose_last_line_is_whole_goes_on_without_a_doubt(tmp_path: Path) -> None:
    path = broken_off(tmp_path / "drive.journal")
    whole = path.read_bytes()
    path.write_bytes(whole[: whole.rindex(b"\n") + 1])
    drive, _kept = go_on(path, Wanted("no port is opened"), print)
    assert drive.core is not None
    assert not drive.core.car.doubts
    drive.finish("done")
    reader = open_journal(path)
    assert len(list(reader.arrivals())) == reader.report.arrivals
