"""The value that every function of this folder returns, and how it is made."""

from __future__ import annotations

import hashlib
from collections.abc import Container, Sequence
from dataclasses import dataclass, field
from xml.sax.saxutils import escape

from handread.svg.markup import FONTS, Piece, clean, element, framed, number, stacked, words
from handread.svg.palette import EDGE, MAT


@dataclass(frozen=True)
class Picture:
    """A picture and the same facts in words.

    Attributes
    ----------
    svg
        A whole SVG document without references to anything outside it.
    text
        What the picture shows: its name on the first line, then every fact. The
        document holds the same words as ``<title>`` and ``<desc>``.

    Examples
    --------
    In a notebook a picture shows itself; elsewhere, write it to a file.

    >>> from handread.svg import tile
    >>> tile(4)
    Picture(text='5 bam')
    >>> tile(4).svg.startswith("<svg xmlns=")
    True
    """

    svg: str = field(repr=False)
    text: str

    def __str__(self) -> str:
        return self.text

    def _repr_svg_(self) -> str:
        return self.svg

    def _repr_html_(self) -> str:
        """The document for a page: it shrinks to the column that it stands in.

        The style is only here, since some renderers of SVG files take ``height:auto`` for 0.
        """
        return self.svg.replace("<svg ", '<svg style="max-width:100%;height:auto" ', 1)

    def _repr_mimebundle_(
        self, include: Container[str] | None = None, exclude: Container[str] | None = None
    ) -> dict[str, str]:
        """Forms for a notebook; `include` and `exclude` are MIME types, as its front end says."""
        forms = {
            "text/html": self._repr_html_(),
            "image/svg+xml": self.svg,
            "text/plain": self.text,
        }
        return {
            mime: form
            for mime, form in forms.items()
            if (include is None or mime in include) and (exclude is None or mime not in exclude)
        }


def finish(piece: Piece, name: str, lines: Sequence[str] = (), *, title: str = "") -> Picture:
    """Put a drawing on its mat and give it its words.

    Parameters
    ----------
    piece
        The drawing.
    name
        What it is, where the caller gave no title.
    lines
        Every fact that it shows, in words, one line each.
    title
        The caller's title; it is drawn above and goes before `name`.
    """
    title = clean(title)
    if title:
        heading = words(title, 15, bold=True, most=max(piece.width, 120))
        piece = stacked([heading, piece], 8)
    mat = framed(piece, pad=10, fill=MAT, stroke=EDGE, line=1.5, round_=8)
    facts = [clean(line) for line in ([name, *lines] if title else lines)]
    title = title or clean(name)
    text = "\n".join([title, *facts])
    mark = "hr-" + hashlib.sha256(f"{text}\n{mat.body}".encode()).hexdigest()[:12]
    desc = [element("desc", escape("\n".join(facts)), id=f"{mark}-desc")] if facts else []
    described: dict[str, str | float] = {"aria_describedby": f"{mark}-desc"} if facts else {}
    svg = element(
        "svg",
        element("title", escape(title), id=f"{mark}-title"),
        *desc,
        element("g", mat.body, font_family=FONTS),
        xmlns="http://www.w3.org/2000/svg",
        width=mat.width,
        height=mat.height,
        viewBox=f"0 0 {number(mat.width)} {number(mat.height)}",
        role="img",
        aria_label=title,
        **described,
    )
    return Picture(svg, text)
