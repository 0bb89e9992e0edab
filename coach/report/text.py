"""A page as plain text for a terminal: columns for short rows, a line each for long ones."""

from collections.abc import Iterator
from textwrap import wrap

from coach.words.paper import Block, Cell, Facts, Figure, Lines, Page, Share, Table

WIDTH = 110


def text(page: Page) -> str:
    """The whole page."""
    parts = ["\n".join([page.title, *([page.label] if page.label else []), *_facts(page.short)])]
    for section in page.sections:
        blocks = ["\n".join(_block(block)) for block in section.blocks]
        parts.append("\n".join([section.title, *blocks]))
    return "\n\n".join([*parts, page.last])


def plain_cell(cell: Cell) -> str:
    """A cell in words."""
    return cell.words if isinstance(cell, Share) else cell


def _block(block: Block) -> Iterator[str]:
    if isinstance(block, Facts):
        yield from _facts(block)
    elif isinstance(block, Lines):
        for item in block.items:
            yield from _wrapped(item, "  ")
    elif isinstance(block, Figure):
        yield from _wrapped(f"Plots are left out here. {block.words}", "  ")
    else:
        yield from _table(block.unmarked())


def _facts(facts: Facts) -> Iterator[str]:
    for name, found in facts.rows:
        yield from wrap(found, WIDTH, initial_indent=f"  {name:<24} ", subsequent_indent=" " * 27) or [f"  {name}"]


def _table(table: Table) -> Iterator[str]:
    rows = [[plain_cell(cell) for cell in row] for row in table.rows]
    widths = [max(len(row[at]) for row in [list(table.head), *rows]) for at in range(len(table.head))]
    yield f"  {table.caption}"
    if sum(widths) + 2 * len(widths) <= WIDTH:
        yield from (_columns(row, widths) for row in [list(table.head), *rows])
        return
    for row in rows:
        yield from _wrapped("  ".join(cell for cell in row if cell), "    ")


def _columns(row: list[str], widths: list[int]) -> str:
    return ("    " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True))).rstrip()


def _wrapped(text: str, indent: str) -> list[str]:
    return wrap(
        text,
        WIDTH,
        initial_indent=indent,
        subsequent_indent=indent + "  ",
        break_long_words=False,
        break_on_hyphens=False,
    )
