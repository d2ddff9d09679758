"""Things on paper: HTML -> PDF, and tags imposed on sheets to cut or to peel.

The only importer of WeasyPrint and pikepdf. Neither is loaded before something is printed, so a studio without the
system library (Pango) can do everything else. Lengths are in mm, measured from the top left of the sheet.
"""

import io
import logging
import threading
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import unquote

STATIC = Path(__file__).resolve().parent / "static"

MAX_PAGES = 200
"""Pages laid out for one document. Layout takes about 6 MB a page and runs in the server."""

MAX_COPIES = 5000
"""Tags imposed at once; copies cost next to nothing, but nobody cuts more in a day."""

POINTS_PER_MM = 72 / 25.4
TOUCHING_PX = 0.1
SAFE_EDGE_MM = 4.0  # most printers can't reach the outer few mm of a sheet


class PrinterMissing(RuntimeError):
    """The PDF engine or its system library isn't installed; the text says what to install."""


class TooMuchToPrint(ValueError):
    """More than the server takes on at once; the text is a sentence for the person who asked."""


# One at a time: two layouts at once would take twice the memory and no less time.
_one_at_a_time = threading.Lock()


def _weasyprint():
    # These tell each step of each tag, and the warnings quote what is in it.
    for talker in ("weasyprint.progress", "fontTools", "pikepdf"):
        logging.getLogger(talker).setLevel(logging.ERROR)
    try:
        import weasyprint
    except (ImportError, OSError) as error:
        raise PrinterMissing(
            "Printing needs the Pango library, which isn't on this machine. On Debian or Ubuntu run "
            '"apt-get install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0", elsewhere install Pango; '
            "then start Clearbath again."
        ) from error
    weasyprint.LOGGER.setLevel(logging.ERROR)
    return weasyprint


# --- what the engine may fetch


def static_file(url):
    """The path of our own file that ``static:studio/tags.css`` names. Raises ValueError for anything else."""
    scheme, _, name = url.partition(":")
    path = (STATIC / unquote(name)).resolve()
    if scheme != "static" or not path.is_relative_to(STATIC) or path.suffix not in (".css", ".woff2"):
        raise ValueError("Only the program's own styles and fonts are printed with.")
    return path


def _fetcher():
    from weasyprint.urls import URLFetcher, URLFetcherResponse

    class OwnFilesOnly(URLFetcher):
        """Opens no connection and no file but our styles and fonts, whatever the text in a tag asks for."""

        def fetch(self, url, headers=None):
            path = static_file(url)
            kind = "text/css" if path.suffix == ".css" else "font/woff2"
            return URLFetcherResponse(url, path.read_bytes(), {"Content-Type": kind})

    return OwnFilesOnly(allowed_protocols=["static"], allow_redirects=False)


# --- HTML -> PDF


@dataclass(frozen=True)
class Layout:
    """A document laid out but not yet drawn."""

    document: object

    def overfull(self):
        """Names of the boxes whose text doesn't fit.

        A template marks what must fit: ``id="fits-NAME"`` round the text that flows, ``id="above-NAME"`` on what it
        must stay above on the same page, if anything. Text is too long when it reaches into that, off the page or on
        to a second page.
        """
        seen, names = set(), set()
        for page in self.document.pages:
            for anchor, (_, _, _, bottom) in page.anchors.items():
                if not anchor.startswith("fits-"):
                    continue
                name = anchor.removeprefix("fits-")
                below = page.anchors.get(f"above-{name}")
                limit = below[1] if below else page.height
                if name in seen or bottom > limit + TOUCHING_PX:
                    names.add(name)
                seen.add(name)
        return names

    def pdf(self):
        """The document as PDF bytes, to be printed at its actual size."""

        def finish(document, pdf):
            import pydyf

            pdf.catalog["ViewerPreferences"] = pydyf.Dictionary({"PrintScaling": "/None", "DisplayDocTitle": "true"})

        with _one_at_a_time:
            return self.document.write_pdf(finisher=finish)


def lay_out(html):
    """Lay out a whole HTML document (str). Title and language are its own ``<title>`` and ``<html lang>``.

    Styles are linked as ``static:studio/NAME.css``; nothing else is fetched. Raises PrinterMissing, TooMuchToPrint.
    """
    weasyprint = _weasyprint()
    with _one_at_a_time:
        document = weasyprint.HTML(string=html, url_fetcher=_fetcher(), base_url="static:").render()
    if len(document.pages) > MAX_PAGES:
        raise TooMuchToPrint(
            f"This makes {len(document.pages)} pages; at most {MAX_PAGES} are printed at once. Print it in parts."
        )
    return Layout(document)


def render_pdf(html):
    """A whole HTML document (str) -> PDF bytes, as ``lay_out`` and ``Layout.pdf`` say."""
    return lay_out(html).pdf()


# --- sheets


@dataclass(frozen=True)
class Sheet:
    """Equal cells in a grid, centred on a sheet of paper. All lengths in mm."""

    paper: str
    paper_width: float
    paper_height: float
    columns: int
    rows: int
    width: float
    height: float
    gap_x: float = 0.0
    gap_y: float = 0.0
    cut_marks: bool = False
    sides: int = 1

    @property
    def cells(self):
        return self.columns * self.rows

    @property
    def left(self):
        """Left margin: (paper - n w - (n - 1) gap) / 2."""
        return (self.paper_width - self.columns * self.width - (self.columns - 1) * self.gap_x) / 2

    @property
    def top(self):
        """Top margin, likewise."""
        return (self.paper_height - self.rows * self.height - (self.rows - 1) * self.gap_y) / 2

    def corner(self, cell, side=0):
        """(x, y) of the top left corner of a cell, counted from 0 along the rows.

        On the back (side 1) the columns run the other way, so that a sheet turned over its long edge meets its front.
        """
        row, column = divmod(cell, self.columns)
        if side == 1:
            column = self.columns - 1 - column
        return self.left + column * (self.width + self.gap_x), self.top + row * (self.height + self.gap_y)

    def marks(self):
        """Cut marks as (x1, y1, x2, y2): in the margins and in the gaps between columns, clear of the tags."""
        if not self.cut_marks:
            return []
        xs = [x for c in range(self.columns) for x in _edges(self.left, c, self.width, self.gap_x)]
        ys = [y for r in range(self.rows) for y in _edges(self.top, r, self.height, self.gap_y)]
        marks = []
        for x in xs:
            marks += [(x, y1, x, y2) for y1, y2 in _margins(ys[0], ys[-1], self.paper_height)]
        for y in ys:
            marks += [(x1, y, x2, y) for x1, x2 in _margins(xs[0], xs[-1], self.paper_width)]
            marks += [(x + MARK_AWAY, y, x + self.gap_x - MARK_AWAY, y) for x in xs[1:-1:2]]
        return marks


MARK_AWAY = 1.5
MARK_LENGTH = 3.5


def _edges(start, place, size, gap):
    near = start + place * (size + gap)
    return near, near + size


def _margins(first, last, paper):
    """Spans of the marks before the first and after the last edge, inside what a printer can reach."""
    near = max(SAFE_EDGE_MM, first - MARK_AWAY - MARK_LENGTH)
    far = min(paper - SAFE_EDGE_MM, last + MARK_AWAY + MARK_LENGTH)
    return (near, first - MARK_AWAY), (last + MARK_AWAY, far)


A4 = {"paper": "A4", "paper_width": 210.0, "paper_height": 297.0}
LETTER = {"paper": "Letter", "paper_width": 215.9, "paper_height": 279.4}

# Generic trade sizes of tags and of self-adhesive sheets; the margins are arithmetic.
SHEETS = {
    ("swing", "A4"): Sheet(**A4, columns=3, rows=3, width=50, height=90, gap_x=10, gap_y=5, cut_marks=True, sides=2),
    ("swing", "Letter"): Sheet(
        **LETTER, columns=3, rows=3, width=55, height=85, gap_x=8, gap_y=4, cut_marks=True, sides=2
    ),
    ("label", "A4"): Sheet(**A4, columns=3, rows=8, width=70, height=36),
    ("label", "Letter"): Sheet(**LETTER, columns=2, rows=7, width=101.6, height=33.867, gap_x=4.763),
    # Strips to cut out and tie round a wet skein; our own size.
    ("strip", "A4"): Sheet(**A4, columns=1, rows=11, width=190, height=25, cut_marks=True),
    ("strip", "Letter"): Sheet(**LETTER, columns=1, rows=10, width=190, height=25, cut_marks=True),
}


def sheet_for(design, paper):
    """The Sheet of a design ("swing", "label" or "strip") on a paper ("A4" or "Letter"). ValueError for others."""
    try:
        return SHEETS[design, paper]
    except KeyError:
        raise ValueError(f"There is no {design} tag for {paper} paper.") from None


# --- imposition


def impose(tags_pdf, copies, sheet, start_at=1, title="", lang="en"):
    """Place each tag as often as it is wanted on sheets of paper; PDF bytes.

    tags_pdf: one page of the tag's size per distinct tag and side (front, back, front, back, ...).
    copies: how many of each, in the same order. sheet: a Sheet. start_at: the first free cell of a part-used first
    sheet, counted from 1 along the rows. Each distinct tag is drawn once, however often it is printed.
    """
    import pikepdf

    refuse_impossible(copies, sheet, start_at)
    with pikepdf.open(io.BytesIO(tags_pdf)) as tags, pikepdf.new() as pdf:
        if len(tags.pages) != len(copies) * sheet.sides:
            raise ValueError("Each tag must fill exactly one page per side.")
        drawings = [pdf.copy_foreign(page.as_form_xobject()) for page in tags.pages]
        cells = [None] * (start_at - 1) + [tag for tag, count in enumerate(copies) for _ in range(count)]
        pages = {}
        for first in range(0, len(cells), sheet.cells):
            on_sheet = tuple(cells[first : first + sheet.cells])
            for side in range(sheet.sides):
                # Equal sheets share what is drawn on them too: a hundred of them are one and a page list.
                if (on_sheet, side) not in pages:
                    pages[on_sheet, side] = _page(pdf, drawings, on_sheet, side, sheet)
                pdf.pages.append(pikepdf.Page(pdf.make_indirect(pages[on_sheet, side].copy())))
        _finish(pdf, sheet, title, lang)
        out = io.BytesIO()
        pdf.save(out, deterministic_id=True)
    return out.getvalue()


def refuse_impossible(copies, sheet, start_at):
    """Raise ValueError or TooMuchToPrint, before anything is laid out, for what ``impose`` can't do."""
    if not copies or any(count < 1 for count in copies):
        raise ValueError("Say how many tags to print: 1 or more of each.")
    if len(copies) * sheet.sides > MAX_PAGES:
        raise TooMuchToPrint(f"These are {len(copies)} different tags, too many to print at once. Print in parts.")
    if sum(copies) > MAX_COPIES:
        raise TooMuchToPrint(f"These are {sum(copies)} tags; at most {MAX_COPIES} are printed at once. Print in parts.")
    if not 1 <= start_at <= sheet.cells:
        raise ValueError(f"A sheet has {sheet.cells} places; start at 1 to {sheet.cells}.")


def _page(pdf, drawings, on_sheet, side, sheet):
    """One side of a sheet as a page dictionary, not yet in the file."""
    from pikepdf import Array, Dictionary, Name, Stream

    lines = _marks_drawn(sheet)
    used = {}
    for cell, tag in enumerate(on_sheet):
        if tag is None:
            continue
        name = f"/Tag{tag}"
        used[name] = drawings[tag * sheet.sides + side]
        x, y = sheet.corner(cell, side)
        lines.append(f"q 1 0 0 1 {_pt(x)} {_pt(sheet.paper_height - y - sheet.height)} cm {name} Do Q")
    size = [0, 0, round(sheet.paper_width * POINTS_PER_MM, 4), round(sheet.paper_height * POINTS_PER_MM, 4)]
    return Dictionary(
        Type=Name.Page,
        MediaBox=pdf.make_indirect(Array(size)),
        Contents=Stream(pdf, "\n".join(lines).encode()),
        Resources=pdf.make_indirect(Dictionary(XObject=Dictionary(used))),
    )


def _marks_drawn(sheet):
    lines = [
        f"{_pt(x1)} {_pt(sheet.paper_height - y1)} m {_pt(x2)} {_pt(sheet.paper_height - y2)} l"
        for x1, y1, x2, y2 in sheet.marks()
    ]
    return ["q 0 G 0.5 w", *lines, "S Q"] if lines else []


def _finish(pdf, sheet, title, lang):
    from pikepdf import Dictionary, Name

    pdf.Root.ViewerPreferences = Dictionary(PrintScaling=Name("/None"), DisplayDocTitle=True)
    if sheet.sides == 2:
        pdf.Root.ViewerPreferences.Duplex = Name.DuplexFlipLongEdge
    pdf.Root.Lang = lang
    with pdf.open_metadata() as metadata:
        metadata["dc:title"] = title
    pdf.docinfo["/Title"] = title


def _pt(mm):
    return f"{mm * POINTS_PER_MM:.4f}"
