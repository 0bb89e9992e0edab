"""Every happening that its types allow can be told, wherever happenings are told; a fault in words ends nothing.

What a happening may hold follows from its types and from the tables of ids; the figures are invented.
"""

import json
from collections import Counter
from dataclasses import replace
from itertools import product

import pytest

from coach.car.arrivals import Mark
from coach.car.happenings import Happening, NoteMade
from coach.drive.core import Core, make_core
from coach.drive.happenings import HoldPaused, HoldReset
from coach.drive.trackers import Holding
from coach.library import shipped
from coach.report.html import html
from coach.report.markdown import markdown
from coach.report.text import text
from coach.screen.speech import spoken
from coach.screen.timeline import breaks, completed, stretches
from coach.session.filed import FiledDrive, FileReport, file_drive
from coach.visible import HIDDEN, json_text
from coach.words import announce, sentences
from coach.words.announce import CUES, Announcer, line
from coach.words.coaching import _note, view
from coach.words.report import page_of
from coach.words.report_data import report_document
from coach.words.review import page
from coach.words.review_data import document
from coach.words.sentences import SENTENCES, sentence
from coach.words.units import Units
from tests.recordings import a_profile
from tests.words.every import NAMES, PROFILES, REASONS, ROWS, happenings, kinds, of_kind

BOTH = (Units(), Units(us=True))
FEW = 30


def test_no_kind_of_happening_is_left_out_of_the_walk() -> None:
    assert len(kinds()) > 30
    assert kinds() == set(ROWS) == set(SENTENCES)
    told = Counter(type(h) for h in happenings())
    assert set(told) == kinds()
    assert told.total() > 20_000
    assert len(NAMES) > 10 and len(REASONS) > 40


def test_every_happening_has_one_line_of_words_in_both_units() -> None:
    for happening in happenings():
        for units in BOTH:
            said = sentence(happening, units, NAMES)
            assert said and "None" not in said and " nan" not in said, happening
            assert "\n" not in said and not HIDDEN.search(said), happening


def test_a_break_whose_figures_are_not_known_is_told_without_them() -> None:
    told = sentence(HoldReset(9.0, "phase", 40.0, "foot_moved"), Units(), {})
    assert told == "phase starts afresh, 40 s lost: the foot moved."
    told = sentence(HoldPaused(9.0, "phase", 8.0, 40.0, "above_band", None, None), Units(us=True), {})
    assert told == "phase paused at 40 s: too fast."


# ---------------------------------------------------------------- while driving


def some_of(kind: type[Happening]) -> list[Happening]:
    """Some forms of a kind, from all over it."""
    forms = list(of_kind(kind))
    return forms[:: max(1, len(forms) // FEW)]


def test_every_happening_that_is_said_while_driving_becomes_plain_lines_and_speech() -> None:
    said: Counter[str] = Counter()
    for profile, units in zip(PROFILES, (*BOTH, *BOTH), strict=True):
        core = make_core(profile)
        core.planned = tuple(core.trackers)
        for happening in (happening for kind in CUES for happening in some_of(kind)):
            if getattr(happening, "phase", "") in core.trackers or not hasattr(happening, "phase"):
                announcer = Announcer(core, units, _instruction=view(core, units).instruction)
                words = [entry for entry in announcer.take((happening,)) if entry.cue != "fault"]
                assert not announcer._guard._told, (happening, announcer._guard._told)
                said.update(type(happening).__name__ for entry in words if line(entry) and spoken(entry.text))
    delayed = {kind.__name__ for kind, cue in CUES.items() if cue.delay_s}
    silent = {"HoldResumed", "HoldReset", "PlanChanged", "GateClosed"}  # not said of what nobody was told or asked of
    assert {kind.__name__ for kind in CUES} - set(said) <= delayed | silent


def test_every_break_and_every_gate_that_does_not_hold_is_told_beside_the_instruction() -> None:
    notes = set()
    for units in BOTH:
        core = make_core(a_profile())
        core.planned = tuple(core.trackers)
        holding = next(tracker for tracker in core.trackers.values() if isinstance(tracker, Holding))
        for reason, value, limit in product(REASONS, (None, 0.0, 61.5), (None, 0.0, 61.5)):
            holding.gate.failed, holding.hold.last_break, holding.hold.breaks = (), (reason, value, limit), 2
            notes.add(_note(holding, units))
    assert len(notes) > len(REASONS)
    assert not [note for note in notes if "None" in note or not note.startswith("Broke 2 times")]


# ---------------------------------------------------------------- review, report, data, screen


@pytest.fixture(scope="module")
def filed() -> FiledDrive:
    """A recorded drive in which everything happened that can happen."""
    drive = file_drive(shipped("replays") / "misfire_comes_back.journal.gz")
    known = set(drive.reviewed.profile.names())
    every = [h for kind in sorted(kinds(), key=lambda kind: kind.__name__) for h in some_of(kind)]
    own = tuple(h for h in every if getattr(h, "phase", next(iter(known))) in known)
    assert {type(h) for h in own} == kinds()
    return replace(drive, reviewed=replace(drive.reviewed, happenings=own))


@pytest.mark.parametrize("units", BOTH, ids=["metric", "us"])
def test_everything_that_can_happen_stands_in_review_and_report(filed: FiledDrive, units: Units) -> None:
    full = page(filed.reviewed, units, full=True)
    assert len(full.splitlines()) > len(filed.reviewed.happenings)
    assert page(filed.reviewed, units, full=False)
    report = page_of(FileReport(filed, "2026-11-21T09:00+01:00"), units)
    for form in (text, markdown, html):
        assert "What happened" in form(report)


def test_everything_that_can_happen_is_data_that_reads_back(filed: FiledDrive) -> None:
    whole = json.loads(json_text(document(filed.reviewed)))
    assert len(whole["happenings"]) == len(filed.reviewed.happenings)
    assert any("\u202e" in happening.get("text", "") for happening in whole["happenings"])
    assert json.loads(json_text(report_document(FileReport(filed, "2026-11-21T09:00+01:00"))))


def test_everything_that_can_happen_has_its_place_on_the_timeline(filed: FiledDrive) -> None:
    every = filed.reviewed.happenings
    assert stretches(every) and breaks(every) and completed(every)


# ---------------------------------------------------------------- a fault


def failing(_happening: Happening, _units: Units, _names: dict[str, str]) -> str:
    raise TypeError("unsupported format\nstring \x1b[31m")


def test_a_sentence_that_fails_is_told_once_in_one_line_and_the_others_are_said(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(sentences.SENTENCES, NoteMade, failing)
    core = make_core(a_profile())
    announcer = Announcer(core, Units())
    first = announcer.take((NoteMade(1.0, "a"), *_link(core)))
    told = [entry for entry in first if entry.cue == "fault"]
    assert len(told) == 1
    assert told[0].text.startswith("A fault of this program, TypeError in sentences.py, line ")
    assert told[0].text.endswith("coaching and recording go on.")
    assert "\n" not in told[0].text and "[U+001B]" in told[0].text
    assert {"LinkChanged", "instruction"} <= {entry.cue for entry in first}
    assert [entry.cue for entry in announcer.take((NoteMade(2.0, "b"),))] == []


def test_a_page_that_cannot_be_made_leaves_what_happened_to_be_said(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(_core: Core, _units: Units) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(announce, "view", broken)
    core = make_core(a_profile())
    said = Announcer(core, Units()).take(core.feed(Mark(1.0, "a note")))
    assert [entry.cue for entry in said] == ["NoteMade", "fault"]


def _link(_core: Core) -> tuple[Happening, ...]:
    return tuple(of_kind(next(kind for kind in kinds() if kind.__name__ == "LinkChanged")))[:1]
