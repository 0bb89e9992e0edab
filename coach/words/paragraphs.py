"""Paragraphs of a page in a terminal."""

from textwrap import fill

WIDTH = 80  # columns; our judgement: the narrowest usual terminal, where a wider page would break anew


def wrapped(text: str, hang: int = 4) -> str:
    """A paragraph of a page, indented; addresses are not broken."""
    rest = " " * hang
    return fill(
        text, WIDTH, initial_indent="  ", subsequent_indent=rest, break_long_words=False, break_on_hyphens=False
    )
