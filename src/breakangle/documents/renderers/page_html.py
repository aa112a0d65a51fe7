"""A sheet as one HTML file: everything inside it, nothing fetched, every word of an owner's escaped."""

from html import escape

from breakangle.documents.renderers.page import (
    Beside,
    Blanks,
    Block,
    Boxes,
    Break,
    Facts,
    Heading,
    Page,
    Paragraph,
    Picture,
    Points,
    Ruled,
    Table,
)
from breakangle.documents.renderers.pictures import data_address

STYLE = """
:root{color-scheme:light}body{font:16px/1.5 Georgia,'Times New Roman',serif;color:#111;background:#fff;margin:0}
main{max-width:46rem;margin:0 auto;padding:1.5rem}header{display:flex;gap:1rem;align-items:center;border-bottom:2px
solid #111;padding-bottom:.75rem}header img{max-height:5rem;max-width:9rem}header p{margin:0;overflow-wrap:anywhere}
.shop{font-weight:700;font-size:1.2rem}h1{font-size:1.6rem;line-height:1.2;margin:1.2rem 0 .4rem;overflow-wrap:anywhere}
h2{font-size:1.1rem;margin:1.6rem 0 .3rem;border-bottom:1px solid #999}.kind{font-size:.95rem;color:#444;display:block;
font-weight:400}dl{display:grid;grid-template-columns:max-content 1fr;gap:.1rem 1rem;margin:.6rem 0}dt{color:#444}
dd{margin:0;overflow-wrap:anywhere}p,li,figcaption{overflow-wrap:anywhere}.wide{overflow-x:auto}.n{white-space:nowrap}.lead{font-size:1.1rem}.small,footer,
figcaption,caption{font-size:.85rem;color:#444}table{border-collapse:collapse;margin:.6rem 0;max-width:100%}caption{
text-align:left;padding-bottom:.2rem}th,td{padding:.15rem .7rem .15rem 0;text-align:left;vertical-align:top}.n{
text-align:right;font-variant-numeric:tabular-nums}thead th{border-bottom:1px solid #111;font-size:.85rem}.sum td{
border-top:1px solid #111;font-weight:700}.beside{display:grid;grid-template-columns:repeat(auto-fit,minmax(17rem,1fr));
gap:0 2rem}figure{margin:.8rem 0}figure img{width:100%;height:auto}.box{border:1px solid #111;min-width:3.5rem;height:
2.2rem;padding:.1rem .3rem}.box small{color:#555}.ticks{list-style:none;padding-left:0}.blank{border-bottom:1px solid
#111;display:inline-block;min-width:8rem}figure.part img{max-height:16rem;
object-fit:contain}@media print{main{padding:0;max-width:none}.break{break-after:page}}
"""


def page_html(page: Page) -> str:
    """Return the sheet as a complete HTML document."""
    head = page.letterhead
    logo = f'<img src="{data_address(head.logo_svg)}" alt="">' if head.logo_svg else ""
    lines = "".join(f"<p>{_text(one)}</p>" for one in head.lines)
    code = ""
    if page.code_svg:
        code = f'<p><img src="{data_address(page.code_svg)}" alt="{_text(page.code_alt)}" width="120"></p>'
    body = "".join(_block(block) for block in page.blocks)
    return (
        f'<!doctype html><html lang="{page.language}"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; img-src data:; '
        f"style-src 'unsafe-inline'\"><title>{_text(page.heading)}</title><style>{STYLE}</style></head><body><main>"
        f'<header>{logo}<div><p class="shop">{_text(head.name)}</p>{lines}</div></header>'
        f'<h1><span class="kind">{_text(page.kind)}</span> {_text(page.title)}</h1>{_pairs(page.facts)}{body}'
        f"<footer><p>{_text(page.foot)}</p>{code}</footer></main></body></html>\n"
    )


def _text(text: str) -> str:
    """Return text that no browser takes for markup, each direction of writing kept to its own words."""
    return escape("".join(sign for sign in text if sign in "\n\t" or sign >= " "), quote=True)


def _own(text: str) -> str:
    return f"<bdi>{_text(text)}</bdi>"


def _pairs(pairs: tuple[tuple[str, str], ...]) -> str:
    rows = "".join(f"<dt>{_text(name)}</dt><dd>{_own(value)}</dd>" for name, value in pairs if value)
    return f"<dl>{rows}</dl>" if rows else ""


def _block(block: Block) -> str:
    if isinstance(block, Heading):
        return f"<h2>{_text(block.text)}</h2>"
    if isinstance(block, Paragraph):
        return f'<p class="{block.tone}">{_text(block.text)}</p>'
    if isinstance(block, Points):
        items = "".join(f"<li>{'☐ ' if block.ticks else ''}{_text(one)}</li>" for one in block.items)
        return f'<ul class="{"ticks" if block.ticks else "points"}">{items}</ul>'
    if isinstance(block, Facts):
        return _pairs(block.pairs)
    if isinstance(block, Table):
        return _table(block)
    if isinstance(block, Picture):
        caption = f"<figcaption>{_text(block.caption)}</figcaption>" if block.caption else ""
        source = data_address(block.svg)
        part = ' class="part"' if block.tall_mm else ""
        return f'<figure{part}><img src="{source}" alt="{_text(block.alt)}">{caption}</figure>'
    if isinstance(block, Boxes):
        return _boxes(block)
    if isinstance(block, Blanks):
        blanks = (
            f'{_text(name)}: <span class="blank">{_own(known)}</span>' for name, known, _ in block.fields
        )
        return f"<p>{' '.join(blanks)}</p>"
    if isinstance(block, Ruled):
        return f"<p>{_text(block.name)}</p>" + '<p class="blank" style="width:100%">&nbsp;</p>' * block.count
    if isinstance(block, Break):
        return '<div class="break"></div>'
    assert isinstance(block, Beside)
    sides = ("".join(_block(one) for one in side) for side in (block.left, block.right))
    return f'<div class="beside">{"".join(f"<div>{side}</div>" for side in sides)}</div>'


def _head(caption: str, head: tuple[str, ...], numbers_from: int) -> str:
    told = f"<caption>{_text(caption)}</caption>" if caption else ""
    if not any(head):
        return told
    cells = "".join(
        f'<th scope="col"{_right(column, numbers_from)}>{_text(one)}</th>' for column, one in enumerate(head)
    )
    return f"{told}<thead><tr>{cells}</tr></thead>"


def _right(column: int, numbers_from: int) -> str:
    return ' class="n"' if column >= numbers_from else ""


def _table(table: Table) -> str:
    rows = []
    for number, row in enumerate(table.rows):
        summed = ' class="sum"' if table.last and number == len(table.rows) - 1 else ""
        cells = "".join(
            f"<td{_right(column, table.numbers_from)}>{_own(one)}</td>" for column, one in enumerate(row)
        )
        rows.append(f"<tr{summed}>{cells}</tr>")
    head = _head(table.caption, table.head, table.numbers_from)
    return f'<div class="wide"><table>{head}<tbody>{"".join(rows)}</tbody></table></div>'


def _boxes(boxes: Boxes) -> str:
    rows = []
    for number, row in enumerate(boxes.rows):
        small = boxes.small[number] if number < len(boxes.small) else ("",) * len(row)
        cells = "".join(
            f"<td>{_own(one)}</td>" if column == 0 else
            f'<td class="box">{_own(one)} <small>{_text(small[column])}</small></td>'
            for column, one in enumerate(row)
        )  # fmt: skip
        rows.append(f"<tr>{cells}</tr>")
    head = _head(boxes.caption, boxes.head, len(boxes.head))
    return f'<div class="wide"><table>{head}<tbody>{"".join(rows)}</tbody></table></div>'
