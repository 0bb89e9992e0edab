"""A page as Markdown: everything in words and tables; the plots are left out, with what they show in words."""

import re
from collections.abc import Iterator

from coach.report.text import plain_cell
from coach.words.paper import Block, Facts, Figure, Lines, Page, Table

MARK = "<!-- drive-cycle-coach report -->"
_SPECIAL = re.compile(r"[\\`*_\[\]<>#|~&$^]|:(?=//)|(?<=[Ww]{3})\.|@")
"""What Markdown or a tongue of it may take for itself, links it makes by itself included."""
_BEGINS = re.compile(r"(\d+)([.)])(?=\s|$)|[-+=](?=\s|$|[-=])")
"""What makes a list or a rule at the beginning of a line."""


def markdown(page: Page) -> str:
    """The whole file."""
    parts = [MARK, f"# {escaped(page.title)}"]
    parts += [f"**{escaped(page.label)}**"] if page.label else []
    parts.append("\n".join(_facts(page.short)))
    for section in page.sections:
        parts.append(f"{'#' * section.level} {escaped(section.title)}")
        parts += ["\n".join(_block(block)) for block in section.blocks]
    return "\n\n".join([*parts, f"**{escaped(page.last)}**"]) + "\n"


def escaped(text: str) -> str:
    """A text that stays what it is."""
    safe = _SPECIAL.sub(lambda found: "\\" + found[0], text)
    return (
        _BEGINS.sub(lambda f: f"{f[1]}\\{f[2]}" if f[1] else "\\" + f[0], safe, count=1)
        if _BEGINS.match(safe)
        else safe
    )


def _block(block: Block) -> Iterator[str]:
    if isinstance(block, Facts):
        yield from _facts(block)
    elif isinstance(block, Lines):
        yield from (f"- {escaped(item)}" for item in block.items)
    elif isinstance(block, Figure):
        yield escaped(f"The plots are left out in this form. {block.words}")
    else:
        yield from _table(block.unmarked())


def _facts(facts: Facts) -> Iterator[str]:
    yield from (f"- {escaped(name)}: {escaped(found)}" for name, found in facts.rows)


def _table(table: Table) -> Iterator[str]:
    yield f"{escaped(table.caption)}:\n"
    yield _row([escaped(name) for name in table.head])
    yield _row(["---"] * len(table.head))
    yield from (_row([escaped(plain_cell(cell)) for cell in row]) for row in table.rows)


def _row(cells: list[str]) -> str:
    return f"| {' | '.join(cells)} |"
