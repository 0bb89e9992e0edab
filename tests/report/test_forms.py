"""Each form read back by a general library: HTML by a strict parser, Markdown, JSON, PDF; nothing from outside is code.

html5lib parses by the standard and raises on every error of the page; markdown-it reads CommonMark with tables.
"""

import io
import json
import re
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

import html5lib
import pytest
from markdown_it import MarkdownIt
from pypdf import PdfReader

from coach.car.arrivals import Answer, Mark, Request
from coach.journal.records import Context, Header
from coach.journal.writer import JournalWriter
from coach.report.html import css_text, html
from coach.report.markdown import escaped, markdown
from coach.report.pdf import letters, pdf
from coach.session.filed import FileReport, file_drive
from coach.words.paper import Page, over_texts
from coach.words.report import page_of
from coach.words.report_data import report_document
from coach.words.units import Units
from tests.report.conftest import MADE, NOTE, PART, Filed

XHTML = "{http://www.w3.org/1999/xhtml}"
NOON = datetime(2026, 11, 21, 12, tzinfo=UTC)
HOSTILE = '"><script>x</script><!--]]></style></title>&amp;&#60;\' onload="y" javascript:alert(1) ${x} {{y}} \\ ` |'


def parsed(page: Page) -> Any:
    """The tree of the page's HTML; any error of the standard's is raised."""
    return html5lib.HTMLParser(strict=True).parse(html(page))


def words_of(tree: Any) -> str:
    return "".join(tree.itertext())


def tags_of(tree: Any) -> list[str]:
    """Every element in order; places where a long word may be broken left out."""
    return [element.tag for element in tree.iter() if element.tag != f"{XHTML}wbr"]


def hostile(page: Page) -> Page:
    """The same page with every text on it replaced by one that tries to get out."""
    return over_texts(page, lambda text: HOSTILE if text else "")


# ---------------------------------------------------------------- HTML


def test_the_html_is_valid_fetches_nothing_and_runs_nothing(filed: Filed) -> None:
    tree = parsed(filed.page)
    assert tree.get("lang") == "en"
    tags = {element.tag.rpartition("}")[2] for element in tree.iter() if isinstance(element.tag, str)}
    assert not tags & {"script", "link", "iframe", "img", "object", "embed", "base", "form"}
    named = {name for element in tree.iter() if isinstance(element.tag, str) for name in element.attrib}
    assert not [name for name in named if name in ("src", "href", "srcset", "action") or name.startswith("on")]
    styles = "".join(style.text or "" for style in tree.iter(f"{XHTML}style"))
    assert "url(" not in styles and "@import" not in styles
    policy = next(meta for meta in tree.iter(f"{XHTML}meta") if meta.get("http-equiv") == "Content-Security-Policy")
    assert policy.get("content").startswith("default-src 'none'")
    assert len(html(filed.page).encode()) < 200_000


def test_the_html_is_built_for_readers_and_printers(filed: Filed) -> None:
    tree = parsed(filed.page)
    assert [len(list(tree.iter(f"{XHTML}{tag}"))) for tag in ("h1", "title", "main")] == [1, 1, 1]
    levels = [int(e.tag[-1]) for e in tree.iter() if isinstance(e.tag, str) and re.fullmatch(f"{XHTML}h[1-6]", e.tag)]
    assert all(after - before <= 1 for before, after in pairwise(levels))
    for table in tree.iter(f"{XHTML}table"):
        assert table[0].tag == f"{XHTML}caption"
        assert all(th.get("scope") in ("row", "col") for th in table.iter(f"{XHTML}th"))
        widths = {len(row) for row in table.iter(f"{XHTML}tr")}
        assert len(widths) == 1
    ids = [element.get("id") for element in tree.iter() if isinstance(element.tag, str) and element.get("id")]
    assert len(ids) == len(set(ids)) >= 2
    styles = "".join(style.text or "" for style in tree.iter(f"{XHTML}style"))
    assert "@page" in styles and "counter(pages)" in styles and "break-inside: avoid" in styles


def test_what_the_user_wrote_is_shown_and_never_code(filed: Filed) -> None:
    words = words_of(parsed(filed.page))
    assert PART in words
    assert "[U+202E]gnp.exe[U+001B][31m[U+0000] Заметка, שלום, 日本語" in words
    assert tags_of(parsed(hostile(filed.page))) == tags_of(parsed(filed.page))
    assert words_of(parsed(hostile(filed.page))).count(HOSTILE) > 200


def test_what_a_control_unit_calls_itself_is_shown_and_never_code(tmp_path: Path) -> None:
    name, calibration = b"<b>\x1b[2J&\"'\x9b\x85</td>\0", b'`|x](y)<i>\x07"&\0\0'
    path = tmp_path / "drive.journal"
    with JournalWriter(path, Header(1, "live", "<i>&", None, "<u>", "\u202eprotocol", True), Context()) as journal:
        for number, (ask, said) in enumerate((("090A", name.ljust(20, b"\0")), ("0904", calibration.ljust(16, b"\0")))):
            journal.write(Request(number + 0.0, number, ask))
            journal.write(Answer(number + 0.1, number, "7E8", bytes([0x49, int(ask[2:], 16), 1]) + said))
        journal.write(Mark(5.0, "</section><script>mark</script>\x00"))
    page = page_of(FileReport(file_drive(path), MADE), Units())
    tree = parsed(page)
    assert not {"b", "i", "u", "script"} & {tag.rpartition("}")[2] for tag in tags_of(tree)}
    told = ["<b>[U+001B][2J&\"'[U+009B] [U+0085]</td>", '`|x](y)<i>[U+0007]"&', "[U+202E]protocol", "<i>&"]
    told.append("</section><script>mark</script>[U+0000]")
    for words in (words_of(tree), read_back(markdown(page)), words_in(pdf(page, "a4", NOON))):
        assert not [one for one in told if one.replace(" ", "") not in words.replace(" ", "")]


def test_a_title_stands_safely_in_the_stylesheet() -> None:
    safe = css_text('a"b\\c</style>é\n')
    assert not set(safe) & set('"<>/\n')
    unescaped = re.sub(r"\\([0-9a-f]+) ", lambda found: chr(int(found[1], 16)), safe)  # CSS Syntax 3, section 4.3.7
    assert unescaped == 'a"b\\c</style>é\n'


# ---------------------------------------------------------------- Markdown


def read_back(source: str) -> str:
    """The words of a Markdown text; it must hold nothing but headings, lists, tables and bold lines."""
    tokens = MarkdownIt("commonmark").enable(["table", "strikethrough"]).parse(source)
    kinds = {token.type for token in tokens} | {child.type for token in tokens for child in token.children or ()}
    assert "table_open" in kinds
    assert not kinds & {"link_open", "image", "html_inline", "code_inline", "em_open", "s_open", "fence", "code_block"}
    blocks = [token.content.strip() for token in tokens if token.type == "html_block"]
    assert blocks == ["<!-- drive-cycle-coach report -->"]
    plain = ("text", "text_special")
    words = ("".join(c.content for c in t.children or () if c.type in plain) for t in tokens if t.type == "inline")
    return " ".join(words)


def test_the_markdown_reads_back_as_tables_and_the_same_words(filed: Filed) -> None:
    source = markdown(filed.page)
    assert PART in read_back(source)
    assert "The plots are left out in this form." in source


@pytest.mark.parametrize(
    "text", ["1. a", "- a", "+ b", "# c", "=== x", "a | b", "www.a.invalid", "a@b", "<b>", "***", "--- "]
)
def test_markdown_leaves_a_text_what_it_is(text: str) -> None:
    tokens = MarkdownIt("commonmark").enable("table").parse(escaped(text))
    assert [token.type for token in tokens] == ["paragraph_open", "inline", "paragraph_close"]
    assert "".join(child.content for child in tokens[1].children or ()) == text.strip()


# ---------------------------------------------------------------- JSON


def test_the_data_has_one_shape_and_every_part(filed: Filed) -> None:
    told = json.loads(json.dumps(report_document(filed.report)))
    assert list(told)[:3] == ["schema", "version", "program"]
    assert (told["schema"], told["version"], told["of"]) == ("coach.report", 3, "job")
    assert told["before"]["codes"]["stored"]["certain"] == ["P0135"]
    assert told["after_clear"]["monitors"]["catalyst"] == "incomplete"
    assert told["now"]["monitors"]["catalyst"] == "complete"
    unit = told["now"]["control_units"]["7E8"]
    assert {test["monitor"] for test in unit["test_results"]} >= {"oxygen_sensor_heater", "catalyst"}
    assert unit["in_use"]["ignition_cycles"] == 1413
    drive = told["drives"][0]
    assert drive["review"]["schema"] == "coach.review"
    assert drive["lines"]["speed_kmh"][0][0][1] == 0.0
    assert "warm_up_drive" in {phase["phase"] for phase in drive["phases"]}
    assert len(told["files"]) == 5
    assert told["job"]["note"] == NOTE


# ---------------------------------------------------------------- PDF


def words_in(content: bytes) -> str:
    """The words of a PDF, places where a long word may be broken left out."""
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)
    return " ".join(text.replace("\u200b", "").split())


@pytest.mark.parametrize(("paper", "size"), [("a4", (210 / 25.4 * 72, 297 / 25.4 * 72)), ("letter", (612, 792))])
def test_the_pdf_has_the_same_words_on_the_paper_asked_for(filed: Filed, paper: str, size: tuple[float, float]) -> None:
    read = PdfReader(io.BytesIO(pdf(filed.page, paper, NOON)))  # ISO 216 and ANSI sizes, in points
    for page in read.pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(size, abs=0.1)
    words = " ".join(" ".join(page.extract_text() for page in read.pages).split())
    assert f"page 1 of {len(read.pages)}" in words
    for wanted in ("alert('part')", "Заметка", "[U+202E]gnp.exe", "confirmed", "775 of 862", "engine speed, rpm"):
        assert wanted in words
    assert read.metadata is not None and read.metadata.title == filed.page.title
    root: Any = read.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] and root["/Lang"] == "en"
    assert "/JavaScript" not in str(root.get("/Names", {}))
    images = [found for page in read.pages for found in page.images]
    assert not images  # the plots are drawn, not photographed


def test_a_letter_no_font_has_is_written_by_its_number_and_said_so(filed: Filed) -> None:
    private = "\U0010fffd \uf6c5"  # of private use; common fonts have the second
    page = over_texts(filed.page, lambda text: text.replace("P0135", f"P0135{private}"))
    words = words_in(pdf(page, "a4", NOON))
    assert "P0135[U+10FFFD] [U+F6C5]" in words
    assert "cannot be shown with the fonts of this computer" in words


def test_the_library_s_message_about_letters_is_understood() -> None:
    named = 'PDF/A-2a error: the text `"日"` could not be displayed with font `"X"`'
    told = named + '\nerror: the text `"e\\u{301}"` could not be displayed with font `"X"`'
    assert letters(told) == {"日", "\u0301"}


def test_hostile_texts_do_not_keep_the_pdf_from_being_set(filed: Filed) -> None:
    assert words_in(pdf(hostile(filed.page), "a4", NOON)).count("{{y}}") > 150
