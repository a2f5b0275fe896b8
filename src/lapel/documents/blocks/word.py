"""Blocks as an editable text document (Office Open XML, ISO/IEC 29500), with styles a firm can change in one place."""

from __future__ import annotations

import copy
import io
import zipfile
from datetime import datetime, time
from functools import cache
from typing import Any
from xml.sax.saxutils import escape

import docx
import typst
from docx.enum.table import WD_TABLE_ALIGNMENT
from docx.enum.text import WD_BREAK
from docx.opc.pkgwriter import PackageWriter
from docx.oxml import OxmlElement, parse_xml
from docx.oxml.ns import nsdecls, qn
from docx.shared import Mm, Pt, RGBColor

from lapel.documents.blocks.model import (
    Block,
    Bullets,
    Document,
    Drawn,
    Facts,
    Heading,
    NewPage,
    Paragraph,
    SignatureLines,
    Table,
    Tone,
    VerdictLine,
)
from lapel.documents.render import Picture, shipped_fonts
from lapel.pictures.lettering import printable

TEXT_WIDTH_MM = 170.0
DOTS_PER_INCH = 200.0

_ACCENT = RGBColor(0x1F, 0x4F, 0x66)
_MUTED = RGBColor(0x5A, 0x65, 0x6D)
_VERDICTS = {
    "over": RGBColor(0xA1, 0x3A, 0x00),
    "cannot tell": RGBColor(0x6A, 0x56, 0x00),
    "under": RGBColor(0, 0x56, 0x8C),
}
_MARKS = {"over": "▲", "cannot tell": "◆", "under": "▽"}
_EPOCH = (1980, 1, 1, 0, 0, 0)


def document_as_docx(document: Document) -> bytes:
    """Write a document as DOCX; the same input gives the same bytes."""
    made = copy.deepcopy(_empty(document.language, document.is_dense))
    _properties(made, document)
    _head_and_foot(made, document)
    if document.logo is not None:
        _picture(made, document.logo, width_mm=40.0)
    _paragraph(made, document.kind, "Lapel Lead")
    _paragraph(made, document.title, "Title")
    if document.under:
        _paragraph(made, document.under, "Subtitle")
    for block in document.blocks:
        _block(made, block)
    return _packed(made)


@cache
def _empty(language: str, is_dense: bool) -> Any:
    """A document with page and styles and nothing in it, made once a kind and copied: letters come by hundreds."""
    made = docx.Document()
    _page(made)
    _styles(made, language)
    if is_dense:
        _draw_together(made)
    return made


def _draw_together(made: Any) -> None:
    """Let headings take little room, so that a letter fits on its page."""
    made.sections[0].top_margin = made.sections[0].bottom_margin = Mm(18)
    made.styles["Title"].font.size, made.styles["Heading 1"].font.size = Pt(16), Pt(11.5)
    made.styles["Lapel Strong"].font.size = Pt(10)
    made.styles["Heading 1"].paragraph_format.space_before = Pt(8)
    made.styles["Normal"].paragraph_format.space_after = Pt(3)


def _block(made: Any, block: Block) -> None:
    match block:
        case Heading(text=text, level=level):
            _paragraph(made, text, f"Heading {level}")
        case Paragraph(text=text, tone=tone):
            _paragraph(made, text, _STYLE_OF[tone])
        case Bullets(items=items, numbered=numbered):
            for item in items:
                _paragraph(made, item, "List Number" if numbered else "List Bullet")
        case Facts(rows=rows):
            _table(made, None, rows, (0.24, 0.76), frozenset())
        case Table():
            if block.caption:
                above = _paragraph(made, block.caption, "Caption")
                above.paragraph_format.keep_with_next = True
            _table(made, block.head, block.rows, block.widths, block.right)
        case Drawn(picture=picture, caption=caption):
            _picture(made, picture, width_mm=TEXT_WIDTH_MM)
            if caption:
                made.paragraphs[-1].paragraph_format.keep_with_next = True
                _paragraph(made, caption, "Caption")
        case VerdictLine(verdict=verdict, word=word, text=text, leads=leads):
            line = made.add_paragraph()
            if leads:
                line.paragraph_format.keep_with_next = True
            mark = line.add_run(f"{_MARKS[verdict]} {printable(word)}")
            mark.bold = True
            mark.font.color.rgb = _VERDICTS[verdict]
            line.add_run(f"  {printable(text)}")
        case SignatureLines(labels=labels):
            _table(made, None, [["_" * 30 for _ in labels], list(labels)], [1.0] * len(labels), frozenset())
        case NewPage():
            made.add_paragraph().add_run().add_break(WD_BREAK.PAGE)


_STYLE_OF: dict[Tone, str] = {
    "plain": "Normal",
    "lead": "Lapel Lead",
    "strong": "Lapel Strong",
    "caution": "Lapel Caution",
    "quiet": "Lapel Quiet",
}


def _table(made: Any, head: Any, rows: Any, widths: Any, right: frozenset[int]) -> None:
    if not head and not rows:
        return
    table = made.add_table(rows=0, cols=len(widths))
    table.alignment = WD_TABLE_ALIGNMENT.LEFT
    table.autofit = False
    if head:
        _rule(table)
    whole = sum(widths)
    for column, width in zip(table.columns, widths, strict=True):
        column.width = Mm(TEXT_WIDTH_MM * width / whole)
    wide = [column.width.twips for column in table.columns]
    if head:
        table._tbl.append(_row(head, wide, right, is_head=True))
    for line in rows:
        table._tbl.append(_row(line, wide, right))
    _paragraph(made, "", "Lapel Quiet")


def _row(line: Any, wide: list[int], right: frozenset[int], *, is_head: bool = False) -> Any:
    """
    Write a row as it stands in the file: a report has thousands of cells, and made one by one they take seconds.

    No row is cut by the end of a page; a head is repeated on every page, read as such, and stays with what follows.
    """
    marks = '<w:cantSplit w:val="true"/>' + ('<w:tblHeader w:val="true"/>' if is_head else "")
    cells = (
        _cell(printable(words), wide[column], is_right=column in right, is_head=is_head)
        for column, words in enumerate(line)
    )
    return parse_xml(f"<w:tr {nsdecls('w')}><w:trPr>{marks}</w:trPr>{''.join(cells)}</w:tr>")


def _cell(words: str, wide: int, *, is_right: bool, is_head: bool) -> str:
    keeps = "<w:keepNext/>" if is_head else ""
    side = '<w:jc w:val="right"/>' if is_right else ""
    bold = "<w:rPr><w:b/></w:rPr>" if is_head else "<w:rPr/>"
    edges = ' xml:space="preserve"' if words != words.strip() else ""
    text = f"<w:t{edges}>{escape(words)}</w:t>" if words else ""
    return (
        f'<w:tc><w:tcPr><w:tcW w:type="dxa" w:w="{wide}"/></w:tcPr>'
        f'<w:p><w:pPr><w:pStyle w:val="LapelCell"/>{keeps}{side}</w:pPr><w:r>{bold}{text}</w:r></w:p></w:tc>'
    )


def _paragraph(made: Any, text: str, style: str) -> Any:
    paragraph = made.add_paragraph(printable(text))
    _set_style(paragraph, style)
    return paragraph


def _set_style(paragraph: Any, name: str) -> None:
    """Name a paragraph's style by its id: looking the name up reads every style, and a table has hundreds of cells."""
    paragraph._p.style = None if name == "Normal" else name.replace(" ", "")


def _rule(table: Any) -> None:
    """Hairlines below the rows and none between columns, with a little air in the cells, as in the PDF."""
    lines, air = OxmlElement("w:tblBorders"), OxmlElement("w:tblCellMar")
    for side in ("bottom", "insideH"):
        lines.append(_part(side, val="single", sz="4", space="0", color="9AA5AC"))
    for side, twips in (("top", "40"), ("left", "60"), ("bottom", "40"), ("right", "60")):
        air.append(_part(side, w=twips, type="dxa"))
    layout = table._tbl.tblPr.find(qn("w:tblLayout"))
    layout.addprevious(lines)
    layout.addnext(air)


def _part(name: str, **said: str) -> Any:
    part = OxmlElement(f"w:{name}")
    for key, value in said.items():
        part.set(qn(f"w:{key}"), value)
    return part


def _picture(made: Any, picture: Picture, *, width_mm: float) -> None:
    made.add_picture(io.BytesIO(_as_png(picture.svg)), width=Mm(width_mm))
    for drawn in made.paragraphs[-1]._p.iter(qn("wp:docPr")):
        drawn.set("descr", printable(picture.words))


def _as_png(svg: str) -> bytes:
    """Set a drawing as pixels, with the same letters as in the PDF."""
    compile_sources: Any = typst.compile
    source = (
        '#set page(width: auto, height: auto, margin: 0pt)\n#set text(font: ("Inter", "DejaVu Sans"))\n'
        '#image("drawn.svg", width: 170mm)\n'
    )
    made: bytes = compile_sources(
        {"main.typ": source.encode(), "drawn.svg": svg.encode()},
        font_paths=shipped_fonts(),
        format="png",
        ppi=DOTS_PER_INCH,
    )
    return made


def _page(made: Any) -> None:
    section = made.sections[0]
    section.page_width, section.page_height = Mm(210), Mm(297)
    section.left_margin = section.right_margin = Mm(20)
    section.top_margin, section.bottom_margin = Mm(25), Mm(24)


def _properties(made: Any, document: Document) -> None:
    about = made.core_properties
    about.title, about.author, about.language = printable(document.title), document.author, document.language
    about.subject, about.comments, about.last_modified_by = document.kind, "", document.author
    about.created = about.modified = datetime.combine(document.dated, time())
    about.revision = 1


def _styles(made: Any, language: str) -> None:
    normal = made.styles["Normal"]
    normal.font.name, normal.font.size = "Calibri", Pt(10)
    normal.paragraph_format.space_after = Pt(5)
    _language(normal, language)
    for level, size in ((1, 15), (2, 12), (3, 10.5)):
        style = made.styles[f"Heading {level}"]
        style.font.name, style.font.size, style.font.color.rgb = "Calibri", Pt(size), _ACCENT
        style.paragraph_format.keep_with_next = True
    made.styles["Title"].font.size, made.styles["Title"].font.name = Pt(22), "Calibri"
    made.styles["Title"].font.color.rgb = _ACCENT
    for name, points in (("Subtitle", 11), ("Caption", 9)):
        style = made.styles[name]
        style.font.name, style.font.size, style.font.color.rgb = "Calibri", Pt(points), _MUTED
        style.font.italic = False
    for name, size, colour, bold in (
        ("Lapel Lead", 9, _MUTED, False),
        ("Lapel Strong", 12, None, True),
        ("Lapel Caution", 9.5, None, False),
        ("Lapel Quiet", 8.5, _MUTED, False),
        ("Lapel Cell", 8.5, None, False),
    ):
        style = made.styles.add_style(name, 1)
        style.base_style = normal
        style.font.size, style.font.bold = Pt(size), bold
        if colour is not None:
            style.font.color.rgb = colour
        style.paragraph_format.space_after = Pt(1 if name == "Lapel Cell" else 5)
    made.styles["Lapel Caution"].paragraph_format.left_indent = Mm(5)


def _language(style: Any, language: str) -> None:
    properties = style.element.get_or_add_rPr()
    mark = OxmlElement("w:lang")
    mark.set(qn("w:val"), {"en": "en-US", "es": "es-ES"}.get(language, language))
    properties.append(mark)


def _head_and_foot(made: Any, document: Document) -> None:
    section = made.sections[0]
    section.header.paragraphs[0].text = printable(f"{document.title}   {document.kind}")
    _set_style(section.header.paragraphs[0], "Lapel Quiet")
    foot = section.footer.paragraphs[0]
    _set_style(foot, "Lapel Quiet")
    foot.add_run(f"{printable(document.footer)}   ")
    before, _, rest = document.page_words.partition("{page}")
    between, _, after = rest.partition("{pages}")
    for words, field in ((before, "PAGE"), (between, "NUMPAGES")):
        foot.add_run(words)
        _field(foot, field)
    foot.add_run(after)


def _field(paragraph: Any, name: str) -> None:
    run = paragraph.add_run()
    for kind, words in (("begin", None), (None, name), ("end", None)):
        part = OxmlElement("w:fldChar" if kind else "w:instrText")
        if kind:
            part.set(qn("w:fldCharType"), kind)
        else:
            part.text = words
        run._r.append(part)


class _Parts:
    """Takes what a package writes, in its order, to be packed once and without the time of packing."""

    def __init__(self) -> None:
        self.written: list[tuple[str, bytes]] = []

    def write(self, pack_uri: Any, blob: bytes) -> None:
        self.written.append((pack_uri.membername, blob))


def _packed(made: Any) -> bytes:
    """Pack a document; the same input gives the same bytes."""
    package, parts = made.part.package, _Parts()
    for part in package.parts:
        part.before_marshal()
    writer: Any = PackageWriter  # its own `write` packs with the time, which then took packing anew
    writer._write_content_types_stream(parts, package.parts)
    writer._write_pkg_rels(parts, package.rels)
    writer._write_parts(parts, package.parts)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as file:
        for name, content in parts.written:
            file.writestr(zipfile.ZipInfo(name, _EPOCH), content, zipfile.ZIP_DEFLATED)
    return packed.getvalue()
