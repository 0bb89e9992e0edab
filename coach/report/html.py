"""A page as one HTML file that needs nothing else: styles and drawings inside, no script, nothing fetched.

Every text is escaped where it is set; a rule in the head forbids the browser to fetch anything whatever stands here.
"""

from collections.abc import Iterator
from html import escape as escape_html
from itertools import count
from pathlib import Path

from coach.report.svg import svg
from coach.words.paper import Block, Cell, Facts, Figure, Lines, Page, Section, Share, Table, broken

GENERATOR = "drive-cycle-coach report"
POLICY = "default-src 'none'; style-src 'unsafe-inline'"
AUTO = ' dir="auto"'  # a note in another script runs its own way


def escape(text: str) -> str:
    """A text as the page's own words; very long words may be broken, and copy as they are."""
    return escape_html(broken(text, 12, "\0")).replace("\0", "<wbr>")


def html(page: Page) -> str:
    """The whole file."""
    keys = count(1)
    label = f'<p class="label">{escape(page.label)}</p>' if page.label else ""
    body = [
        f"<header><h1{AUTO}>{escape(page.title)}</h1>{label}</header>",
        f'<main><section class="short" aria-label="In short">{"".join(_facts(page.short))}</section>',
        *(part for section in page.sections for part in _section(section, keys)),
        f'<p class="last">{escape(page.last)}</p></main>',
    ]
    return "\n".join([*_head(page), "<body>", *body, "</body>", "</html>", ""])


def _head(page: Page) -> Iterator[str]:
    style = (Path(__file__).parent / "page.css").read_text(encoding="utf-8")
    yield '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">'
    yield f'<meta http-equiv="Content-Security-Policy" content="{escape_html(POLICY)}">'
    yield '<meta name="viewport" content="width=device-width, initial-scale=1">'
    yield f'<meta name="generator" content="{GENERATOR}">'
    yield f"<title>{escape_html(page.title)}</title>\n<style>\n{style}{paged(page)}</style>\n</head>"


def paged(page: Page) -> str:
    """The margins of printed pages, with title and number at the foot; the browser knows its paper."""
    number = 'content: "page " counter(page) " of " counter(pages);'
    left = f'content: "{css_text(f"{page.title}, made {page.made}")}";'
    look = "font: 8pt system-ui, sans-serif; color: #555555;"
    return f"@page {{ margin: 15mm 14mm 17mm; @bottom-left {{ {left} {look} }} @bottom-right {{ {number} {look} }} }}\n"


def css_text(text: str) -> str:
    """A text inside quotes of a stylesheet: all but plain letters, figures and blanks by number.

    The blank behind a number belongs to it.
    """
    return "".join(c if c.isascii() and (c.isalnum() or c == " ") else f"\\{ord(c):x} " for c in text)


def _section(section: Section, keys: Iterator[int]) -> Iterator[str]:
    level = section.level
    yield f"<section><h{level}{AUTO}>{escape(section.title)}</h{level}>"
    for block in section.blocks:
        yield from _block(block, keys)
    yield "</section>"


def _block(block: Block, keys: Iterator[int]) -> Iterator[str]:
    if isinstance(block, Facts):
        yield from _facts(block)
    elif isinstance(block, Lines):
        yield "".join(["<ul>", *(f"<li{AUTO}>{escape(item)}</li>" for item in block.items), "</ul>"])
    elif isinstance(block, Figure):
        drawn = svg(block, f"plot{next(keys)}")
        yield f"<figure>{drawn}<figcaption>{escape(block.words)}</figcaption></figure>"
    else:
        yield from _table(block)


def _facts(facts: Facts) -> Iterator[str]:
    rows = (f"<dt>{escape(name)}</dt><dd{AUTO}>{escape(found)}</dd>" for name, found in facts.rows)
    yield "".join(["<dl>", *rows, "</dl>"])


def _table(table: Table) -> Iterator[str]:
    kind = ' class="plain"' if table.plain else ""
    head = "".join(f'<th scope="col">{escape(name)}</th>' if name else "<td></td>" for name in table.head)
    yield '<div class="wide">'
    yield f"<table{kind}><caption{AUTO}>{escape(table.caption)}</caption><thead><tr>{head}</tr></thead><tbody>"
    for row in table.rows:
        begin = f"<td>{_cell(row[0])}</td>" if table.marked else f'<th scope="row"{AUTO}>{_cell(row[0])}</th>'
        yield f"<tr>{begin}{''.join(f'<td{AUTO}>{_cell(cell)}</td>' for cell in row[1:])}</tr>"
    yield "</tbody></table></div>"


def _cell(cell: Cell) -> str:
    if isinstance(cell, str):
        return escape(cell)
    return escape(cell.words) + _bar(cell)


def _bar(share: Share) -> str:
    if share.value is None:
        return ""
    used = round(100 * max(0.0, min(1.0, share.value)), 1)
    return (
        '<svg class="share" viewBox="0 0 100 8" preserveAspectRatio="none" aria-hidden="true">'
        f'<rect class="used" y="1" width="{used:g}" height="6"/><rect class="box" width="100" height="8"/></svg>'
    )
