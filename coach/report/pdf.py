"""A page as PDF, by the typst library: vector plots, text that can be searched, tagged for readers, PDF/A for filing.

The library's own fonts are used first, the computer's where those lack a letter. A letter that no font has is written
by its number, and the page says so. All texts go in as data, none is read as markup. Nothing is fetched.
"""

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from itertools import count
from pathlib import Path
from typing import Any

from coach.report.errors import NotInstalled, ReportError
from coach.report.svg import svg
from coach.report.text import plain_cell
from coach.words.paper import Block, Cell, Facts, Figure, Lines, Page, Section, Share, Table, broken, over_texts

NEEDED = "typst is needed to write a PDF: pip install 'typst>=0.15.2,<0.16'; or write .html and print it"
PAPERS = {"a4": "a4", "letter": "us-letter"}
STANDARDS = ["a-2a", "ua-1"]  # PDF/A-2a for filing (ISO 19005-2), PDF/UA-1 for readers (ISO 14289-1)
NARROW = 8  # letters after which a word may be broken in a table of figures, where a SHA-256 takes half the width
SOFT = "\N{ZERO WIDTH SPACE}"
_MISSING = re.compile(r'(?:the text|the codepoint) `"((?:[^"\\]|\\.)+)"`')
"""Letters that lack in every font, and those of private use, which mean nothing to another reader."""
_NUMBER = re.compile(r"\\u\{([0-9a-fA-F]+)\}|\\(.)")
NARROWEST, WIDEST = 7, 66  # letters of a column that count for its width: 66 a SHA-256
ROUNDS = 40  # a message may name only the first letters that lack; our judgement: more scripts than a note has


def pdf(page: Page, paper: str, made: datetime) -> bytes:
    """The whole file. `paper` is a4 or letter. NotInstalled without the library."""
    typst = library()
    fonts, lacking = typst.Fonts(include_system_fonts=False), frozenset[str]()
    for attempt in range(ROUNDS):
        try:
            return _compiled(typst, spelled(page, lacking), paper, made, fonts)
        except typst.TypstError as error:
            found = letters(f"{error.message}\n{error.diagnostic}")
            if attempt == 0 and found:
                fonts = typst.Fonts(include_system_fonts=True)
            elif found - lacking:
                lacking |= found
            else:
                raise ReportError(f"the PDF cannot be set: {error.message}; write .html and print it") from None
    raise ReportError("the PDF cannot be set: too many letters that no font here has; write .html and print it")


def library() -> Any:
    """The library. NotInstalled without it."""
    try:
        import typst
    except ImportError:
        raise NotInstalled(NEEDED) from None
    return typst


def _compiled(typst: Any, page: Page, paper: str, made: datetime, fonts: Any) -> bytes:
    inputs = {"page": json.dumps(_data(page)), "paper": PAPERS[paper]}
    source = (Path(__file__).parent / "page.typ").read_bytes()
    done: bytes = typst.compile(
        source,
        sys_inputs=inputs,
        font_paths=fonts,
        ignore_system_fonts=True,
        pdf_standards=STANDARDS,
        timestamp=made.replace(microsecond=0),
    )
    return done


# ---------------------------------------------------------------- letters no font has


def letters(diagnostic: str) -> frozenset[str]:
    """The letters that could not be set, out of the library's message."""
    found: set[str] = set()
    for quoted in _MISSING.findall(diagnostic):
        cluster = _NUMBER.sub(lambda f: chr(int(f[1], 16)) if f[1] else f[2], quoted)
        strange = {letter for letter in cluster if not letter.isascii()}
        found |= strange or set(cluster)  # in a cluster the plain letter is not the one that lacks
    return frozenset(found)


def spelled(page: Page, lacking: frozenset[str]) -> Page:
    """The page with those letters by their number, and a word about it."""
    if not lacking:
        return page
    numbers = {ord(letter): f"[U+{ord(letter):04X}]" for letter in lacking}
    many = f"{len(lacking)} letters that cannot be shown with the fonts of this computer"
    words = f"{many} are written by their number, as [U+65E5]."
    more = Section("Letters that cannot be shown", (Lines((words,)),))
    return over_texts(replace(page, sections=(*page.sections, more)), lambda text: text.translate(numbers))


# ---------------------------------------------------------------- the page as data for the template


def _data(page: Page) -> dict[str, Any]:
    keys = count(1)
    return {
        "title": page.title,
        "heading": soft(page.title),
        "label": page.label,
        "foot": soft(f"{page.title}, made {page.made}"),
        "short": _facts(page.short)["rows"],
        "last": page.last,
        "sections": [
            {"title": soft(s.title), "level": s.level, "blocks": [_block(block, keys) for block in s.blocks]}
            for s in page.sections
        ],
    }


def soft(text: str, at: int = 20) -> str:
    """A text whose words of more than twice `at` letters may be broken; a SHA-256 fits as it is."""
    return text if re.fullmatch("[0-9a-f]{64}", text) else broken(text, at, SOFT)


def _facts(facts: Facts) -> dict[str, Any]:
    return {"kind": "facts", "rows": [[soft(name), soft(found)] for name, found in facts.rows]}


def _block(block: Block, keys: Iterator[int]) -> dict[str, Any]:
    if isinstance(block, Facts):
        return _facts(block)
    if isinstance(block, Lines):
        return {"kind": "lines", "items": [soft(item) for item in block.items]}
    if isinstance(block, Figure):
        return {"kind": "figure", "svg": svg(block, f"plot{next(keys)}"), "words": block.words}
    return {
        "kind": "table",
        "caption": soft(block.caption),
        "head": list(block.head),
        "rows": [[_cell(cell, NARROW if block.plain else 20) for cell in row] for row in block.rows],
        "plain": block.plain,
        "widths": widths(block),
    }


def _cell(cell: Cell, at: int) -> str | dict[str, Any]:
    return {"words": cell.words, "value": cell.value} if isinstance(cell, Share) else soft(cell, at)


def widths(table: Table) -> list[int]:
    """How wide each column is beside the others, by its longest cell within bounds."""
    columns = zip(table.head, *table.rows, strict=True)
    longest = [max(len(plain_cell(cell)) for cell in column) for column in columns]
    return [min(WIDEST, max(NARROWEST, length)) for length in longest]
