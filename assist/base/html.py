"""Pages for reading: what every HTML file that the program writes has in common.

A page holds no script and fetches nothing from outside; a content security policy says so too.
Everything that comes from a user or a file goes through `text`.
"""

from __future__ import annotations

import html
from urllib.parse import quote

_STYLE = """
:root { --ink: #1b1e23; --soft: #5b6470; --line: #c9ced6; --ground: #f4f3ef; --card: #ffffff; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 28px 32px 60px; max-width: 1240px; background: var(--ground);
  color: var(--ink); font: 16px/1.45 "Segoe UI", "DejaVu Sans", "Helvetica Neue", sans-serif; }
h1 { font-size: 30px; margin: 0 0 4px; letter-spacing: -0.01em; }
h2 { font-size: 21px; margin: 38px 0 12px; }
h3 { font-size: 17px; margin: 0 0 6px; overflow-wrap: anywhere; }
p { margin: 6px 0; }
a { color: inherit; }
.lead { color: var(--soft); margin: 0 0 20px; }
.card { background: var(--card); border: 1px solid var(--line); border-radius: 6px;
  padding: 18px 20px; margin: 0 0 18px; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; vertical-align: top; padding: 5px 12px 5px 0;
  border-bottom: 1px solid #e4e6ea; }
th { font-weight: 600; color: var(--soft); }
td.number, th.number { text-align: right; font-variant-numeric: tabular-nums; }
.facts { display: grid; grid-template-columns: max-content 1fr; gap: 2px 16px; margin: 10px 0 0;
  font-size: 15px; }
.facts dt { color: var(--soft); }
.facts dd { margin: 0; overflow-wrap: anywhere; }
.word { display: inline-flex; align-items: center; gap: 8px; font-weight: 700; }
.word svg { flex: none; }
.change { border-left: 5px solid var(--ink); padding: 2px 0 2px 12px; margin: 10px 0;
  font-weight: 600; }
img { max-width: 100%; display: block; border-radius: 3px; }
figure { margin: 0; }
.scroll { overflow-x: auto; }
.plot { overflow-x: auto; margin-top: 8px; }
.plot svg { min-width: 520px; max-width: 100%; height: auto; display: block; }
figcaption { color: var(--soft); font-size: 14px; margin-top: 4px; }
@media print { body { background: #fff; padding: 0; } .card { break-inside: avoid; }
  h2 { break-after: avoid; }
  .scroll, .plot { overflow: visible; } .scroll table { font-size: 75%; }
  .scroll td, .scroll th { padding-right: 8px; } }
"""


def text(value: object) -> str:
    """Text made safe for the inside of an element and of a quoted attribute."""
    return html.escape("" if value is None else str(value), quote=True)


def link(path: str) -> str:
    """A relative path made safe for an address in an attribute."""
    return text(quote(path))


def page(title: str, body: str, style: str = "") -> bytes:
    """The whole page, for the screen; `style` is added to the common look."""
    return plain_page(title, body, _STYLE + style)


def plain_page(title: str, body: str, style: str) -> bytes:
    """The whole page with no look but its own."""
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy"
  content="default-src 'none'; img-src 'self' data:; style-src 'unsafe-inline'">
<title>{text(title)}</title>
<style>{style}</style>
</head>
<body>
{body}
</body>
</html>
""".encode()


def facts(pairs: list[tuple[str, str]]) -> str:
    """A list of names and values, the values already safe; empty ones are left out."""
    rows = "".join(f"<dt>{text(name)}</dt><dd>{value}</dd>" for name, value in pairs if value)
    return f'<dl class="facts">{rows}</dl>' if rows else ""
