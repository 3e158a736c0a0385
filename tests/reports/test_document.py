"""Documents as HTML for A4 and as Markdown."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from base64 import b64decode
from html.parser import HTMLParser

import pytest
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from simulator.errors import ScenarioError
from simulator.reports.document import (
    Blanks,
    Document,
    Heading,
    Items,
    Picture,
    Space,
    Table,
    Text,
    Together,
    Working,
    fitted,
    svg,
    write_document,
    write_documents,
)
from simulator.reports.html import html_of
from simulator.reports.markdown import markdown_of

NASTY = '<b>"a" & b</b> | `c` *d* </style><script>'


def _document(text="plain", picture=False):
    blocks = [
        Blanks(("Name", text)),
        Heading(text),
        Together((Text(text, lead=text), Items((text, "two"), "box"), Working((text, "x = 1")))),
        Text(text, caution=True),
        Table((text, "reading W"), ((text, "−200"), ("W2", "")), "lr", text),
        Space(3),
        Space(height=40),
    ]
    if picture:
        figure = Figure(figsize=(3, 2))
        figure.text(0.5, 0.5, "W1")
        blocks.append(Picture(figure, text))
    return Document(text, text, blocks, text)


class _Collector(HTMLParser):
    """Tags, texts and attributes; complains of what is not closed."""

    VOID = ("meta", "img", "br")

    def __init__(self, source):
        super().__init__()
        self.open, self.tags, self.text, self.attributes = [], [], "", []
        self.feed(source)
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if self.open and self.open[-1] != "style":
            self.text += data


def test_html_is_well_formed_and_escapes_everything():
    page = _Collector(html_of(_document(NASTY, picture=True)))
    assert "script" not in page.tags
    assert "b" in page.tags  # leads, and nothing of the text
    assert page.tags.count("b") == 1
    assert page.text.count(NASTY) >= 10


def test_html_needs_no_other_file():
    page = html_of(_document(picture=True))
    assert not re.findall(r'(?:src|href)="(?!data:)', page)
    assert not re.findall(r"url\((?!\"data:)", page)
    assert "@page" in page
    assert "size: A4" in page


def test_html_pictures_are_svg_with_words():
    page = html_of(_document("A figure", picture=True))
    data = re.search(r'src="data:image/svg\+xml;base64,([^"]*)" alt="A figure"', page)[1]
    root = ET.fromstring(b64decode(data))  # noqa: S314  (our own)
    assert root.tag.endswith("svg")


def test_a_foot_cannot_leave_its_string():
    page = html_of(Document("t", foot='"; } </style> \\ x'))
    assert page.count("</style>") == 1
    assert '"\\22 \\3b  \\7d  \\3c \\2f style\\3e  \\5c  x"' in page


def test_numbers_keep_their_units():
    """A line does not end between 57.5 and Ω, nor between I and L1."""
    page = html_of(Document("t", blocks=[Text("57.5 Ω ∠30° and 5 kW, I L1, V L1-N; 2 Wires")]))
    assert "57.5\u00a0Ω\u00a0∠30° and 5\u00a0kW, I\u00a0L1, V\u00a0L1\u2011N; 2 Wires" in page


def test_empty_columns_are_blanks():
    table = Table(("asked", "answer"), (("a", ""), ("b", "")), "ll")
    assert '<th scope="col" class="words blank">answer</th>' in html_of(
        Document("t", blocks=[table])
    )


def test_markdown_escapes_and_refers_to_its_pictures():
    text, pictures = markdown_of(_document(NASTY, picture=True), "sheet")
    assert list(pictures) == ["sheet-figure-1.svg"]
    assert "(<sheet-figure-1.svg>)" in text
    for line in text.splitlines():
        if not line.startswith("    "):  # in a calculation nothing needs an escape
            assert not re.search(r"(?<!\\)<(?!sheet)", line), line
    assert "| " in text
    assert "\\|" in text


def test_markdown_escapes_each_sign_of_markup():
    text = markdown_of(Document("t", blocks=[Text("`c` *d* _e_ [f] <g> | # ~ & \\")]), "s")[0]
    assert r"\`c\` \*d\* \_e\_ \[f\] \<g\> \| \# \~ \& \\" in text


@pytest.mark.parametrize("text", ["1. one", "- one", "# one", "+ one", "= one"])
def test_a_paragraph_in_markdown_stays_one(text):
    first = markdown_of(Document("t", blocks=[Text(text)]), "s")[0].splitlines()[2]
    assert not re.match(r"\d+[.)]|[-+=#]", first)


@pytest.mark.parametrize(("size", "turned"), [(8, True), (12, False)])
def test_a_wide_figure_with_small_letters_is_turned(size, turned):
    """derived: 8 pt and 12 pt on 11.69 in are 4.7 pt and 7.1 pt on a page of 6.9 in."""
    figure = Figure(figsize=(11.69, 8.27))
    figure.subplots().text(0.5, 0.5, "W1", size=size)
    assert fitted(figure, "A figure").landscape is turned


def test_writing(tmp_path):
    page, text = tmp_path / "a.html", tmp_path / "a.md"
    assert write_document(_document(picture=True), page) == [page]
    assert write_document(_document(picture=True), text) == [text, tmp_path / "a-figure-1.svg"]
    with pytest.raises(ScenarioError, match="--overwrite"):
        write_document(_document(), page)
    write_document(_document(), page, overwrite=True)


def test_all_documents_or_none(tmp_path):
    (tmp_path / "b-figure-1.svg").write_text("mine")
    documents = {tmp_path / "a.md": _document(), tmp_path / "b.md": _document(picture=True)}
    with pytest.raises(ScenarioError, match=r"b-figure-1\.svg"):
        write_documents(documents)
    assert not (tmp_path / "a.md").exists()


def test_other_endings_are_refused(tmp_path):
    with pytest.raises(ScenarioError, match=r"ends in \.html or \.md"):
        write_document(_document(), tmp_path / "a.pdf")


def test_a_cropped_figure_keeps_everything_in_its_place():
    """A line placed in inches and a patch placed in parts of the sheet stay together."""
    figure = Figure(figsize=(8, 6))
    figure.add_artist(Line2D((2, 4), (3, 3), transform=figure.dpi_scale_trans))
    figure.add_artist(Rectangle((0.25, 0.25), 0.25, 0.5, transform=figure.transFigure))
    root = ET.fromstring(svg(figure, "cropped"))  # noqa: S314  (our own)
    drawn = [path.get("d") for path in root.iter("{http://www.w3.org/2000/svg}path")]
    # derived: 72 points to the inch, downwards from the top; the patch's corners at 2, 4 in and
    # 1.5, 4.5 in from the bottom, the line from 2 to 4 in, 3 in from the bottom
    ends = {tuple(map(float, pair)) for d in drawn for pair in re.findall(r"([\d.]+) ([\d.]+)", d)}
    assert {(144, 324), (288, 324), (288, 108), (144, 108)} <= ends
    assert {(144, 216), (288, 216)} <= ends
    left, top, width, height = map(float, root.get("viewBox").split())
    margin = 0.05 * 72
    assert (left, top) == pytest.approx((144 - margin, 108 - margin), abs=1)
    assert (width, height) == pytest.approx((144 + 2 * margin, 216 + 2 * margin), abs=2)
    assert [root.get(side) for side in ("width", "height")] == [f"{width:g}pt", f"{height:g}pt"]
