"""HTML by hand: a page, tables, notes; the one style sheet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from typing import Final

#: Black on white with greys, so that a print in grey loses nothing.
STYLE: Final = """
:root { color-scheme: light; }
* { box-sizing: border-box; }
html { -webkit-text-size-adjust: 100%; }
body { margin: 0 auto; padding: 1rem; max-width: 62rem; background: #fff; color: #1b2530;
  font: 1rem/1.5 system-ui, "Liberation Sans", Arial, sans-serif; }
h1 { font-size: 1.6rem; line-height: 1.2; margin: .5rem 0; }
h2 { font-size: 1.2rem; margin: 2.5rem 0 .5rem; padding-top: .5rem; border-top: 2px solid #1b2530; }
h3 { font-size: 1rem; margin: 1.5rem 0 .25rem; }
p, ul { max-width: 44rem; margin: .5rem 0; }
.quiet { color: #4a5663; font-size: .9rem; }
.scroll { overflow-x: auto; margin: .75rem 0; }
table { border-collapse: collapse; font-size: .85rem; font-variant-numeric: tabular-nums; }
th, td { padding: .25rem .6rem; text-align: right; white-space: nowrap; vertical-align: top; }
th { font-weight: 600; border-bottom: 1px solid #1b2530; vertical-align: bottom;
  white-space: normal; max-width: 8.5rem; }
th:first-child, td:first-child { text-align: left; padding-left: 0; position: sticky; left: 0;
  background: #fff; }
td small { color: #4a5663; font-size: .8rem; display: block; }
tbody tr + tr td { border-top: 1px solid #dfe3e8; }
figure { margin: 1rem 0; }
figcaption { font-size: .85rem; color: #4a5663; max-width: 44rem; }
svg { display: block; width: 100%; height: auto; }
.one svg { max-width: 40rem; }
.grid { display: grid; gap: .75rem 1.5rem;
  grid-template-columns: repeat(auto-fill, minmax(15rem, 1fr)); }
.grid svg { max-width: 22rem; }
details { margin: 1rem 0; } summary { cursor: pointer; }
@media print { body { max-width: none; padding: 0; font-size: 10pt; }
  .scroll { overflow: visible; } table { font-size: 7.5pt; } th, td { padding: .15rem .35rem; }
  figure, tr, .grid > * { break-inside: avoid; } h2, h3 { break-after: avoid; } }
"""


def document(title: str, *parts: str) -> str:
    """Return a whole page.

    Parameters
    ----------
    title
        Of the page, plain text.
    *parts
        Markup of its body.
    """
    head = (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n"
    )
    body = "\n".join(part for part in parts if part)
    return f"{head}<h1>{escape(title)}</h1>\n{body}\n</body>\n</html>\n"


def section(title: str, *parts: str) -> str:
    """Return a section with a heading; nothing where there is nothing in it."""
    held = "\n".join(part for part in parts if part)
    return f"<section>\n<h2>{escape(title)}</h2>\n{held}\n</section>" if held else ""


def words(text: str, *, quiet: bool = False) -> str:
    """Return a paragraph of plain text."""
    kind = ' class="quiet"' if quiet else ""
    return f"<p{kind}>{escape(text)}</p>"


def table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table that scrolls sideways where it is wide; nothing without rows.

    Parameters
    ----------
    heads
        Plain words of the columns.
    rows
        Cells, markup already.
    """
    lines = ["<tr>" + "".join(f"<td>{cell}</td>" for cell in row) + "</tr>" for row in rows]
    if not lines:
        return ""
    top = "".join(f'<th scope="col">{escape(head)}</th>' for head in heads)
    body = "\n".join(lines)
    return (
        f'<div class="scroll"><table>\n<thead><tr>{top}</tr></thead>\n<tbody>\n{body}\n</tbody>\n'
        "</table></div>"
    )


def figure(pictures: Sequence[str], caption: str) -> str:
    """Return one picture, or a grid of several, with words below; nothing without a picture."""
    if not pictures:
        return ""
    kind = "one" if len(pictures) == 1 else "grid"
    held = "\n".join(f"<div>{picture}</div>" for picture in pictures)
    return (
        f'<figure>\n<div class="{kind}">\n{held}\n</div>\n'
        f"<figcaption>{escape(caption)}</figcaption>\n</figure>"
    )


def folded(summary: str, *parts: str) -> str:
    """Return parts behind a line that opens them."""
    held = "\n".join(parts)
    return f"<details>\n<summary>{escape(summary)}</summary>\n{held}\n</details>"


def number(value: float, digits: int = 3) -> str:
    """A number with its sign where it is a gain; a true minus sign.

    >>> number(-0.1234), number(float("nan"))
    ('−0.123', '')
    """
    if value != value:
        return ""
    if abs(value) == float("inf"):
        return "∞" if value > 0 else "−∞"
    shown = f"{value:.{digits}f}"
    return shown.lstrip("-") if float(shown) == 0 else shown.replace("-", "−")


def span(low: float, high: float, digits: int = 3) -> str:
    """An interval in small print; nothing where there is none."""
    if low != low or high != high or low == high:
        return ""
    return f"<small>{number(low, digits)} to {number(high, digits)}</small>"
