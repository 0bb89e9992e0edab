"""Paragraphs of a page in a terminal."""

from textwrap import fill

WIDTH = 100  # columns; our judgement: longer lines are lost on the way back


def wrapped(text: str, hang: int = 4) -> str:
    """A paragraph of a page, indented; addresses are not broken."""
    rest = " " * hang
    return fill(
        text, WIDTH, initial_indent="  ", subsequent_indent=rest, break_long_words=False, break_on_hyphens=False
    )
