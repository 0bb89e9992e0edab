"""Lines longer than the terminal are broken between words; a pipe gets them whole. Texts are invented."""

import io
import sys

import pytest

from coach.cli import main
from coach.cli.long_lines import folded

LONG = "The car erases it itself, after its monitor has run and passed in a drive of the regulated pattern."


@pytest.mark.parametrize(
    ("line", "hang"),
    [
        (LONG, 2),
        (f"  {LONG}", 4),
        (f"  permanent    {LONG}", 15),
        (f"   10:42 > {LONG}", 11),
        (f"  2. {LONG}", 5),
    ],
)
def test_the_rest_of_a_long_line_stands_under_its_words(line: str, hang: int) -> None:
    rows = folded(line, 50).split("\n")
    assert len(rows) > 1
    assert all(len(row) - len(row.lstrip()) == hang for row in rows[1:])
    assert all(len(row) <= 50 for row in rows)
    assert " ".join(" ".join(rows).split()) == " ".join(line.split())


def test_a_line_that_fits_and_a_path_without_blanks_stay_as_they_are() -> None:
    assert folded("  MIL          off", 50) == "  MIL          off"
    assert folded("/" + "folder" * 20, 50) == "/" + "folder" * 20


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        """It is one."""
        return True


def printed(monkeypatch: pytest.MonkeyPatch, *form: str) -> list[str]:
    """What a terminal of 40 columns gets."""
    monkeypatch.setenv("COLUMNS", "40")
    terminal = Terminal()
    monkeypatch.setattr(sys, "stdout", terminal)
    assert main(["profiles", "show", "hybrid"] if not form else ["profiles", "list", *form]) == 0
    return terminal.getvalue().splitlines()


def test_a_terminal_gets_folded_lines_and_data_stay_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    assert all(len(line) <= 40 or len(line.split()) == 1 for line in printed(monkeypatch)), "an address stays whole"
    assert max(map(len, printed(monkeypatch, "--json"))) > 40


def test_a_mistake_is_folded_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    assert main(["profiles", "show", "nothing"]) == 2
    assert max(map(len, terminal.getvalue().splitlines())) <= 40


def test_a_pipe_gets_every_line_whole(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    assert main(["profiles", "show", "hybrid"]) == 0
    assert max(map(len, capsys.readouterr().out.splitlines())) > 40
