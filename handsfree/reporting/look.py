"""The style sheet of the page: system fonts, A4 in print, nothing fetched from anywhere."""

from __future__ import annotations

from handsfree.reporting.palette import GROUND, INK, MUTED, OXBLOOD, PAPER, RULE

STYLE = f"""
:root {{ color-scheme: light; }}
* {{ box-sizing: border-box; }}
body {{ margin: 0; background: {GROUND}; color: {INK};
  font: 15px/1.45 "Gill Sans Nova", "Gill Sans", Optima, Candara, "Liberation Sans", Arial, sans-serif; }}
main {{ max-width: 880px; margin: 28px auto; padding: 40px 56px 32px; background: {PAPER};
  border: 1px solid {RULE}; }}
h1, h2, .figure b, svg.ticket text, .verdict p {{
  font-family: "Hoefler Text", "Iowan Old Style", "Palatino Linotype", Palatino, Georgia,
    "Liberation Serif", serif; }}
h1 {{ font-size: 33px; line-height: 1.1; font-weight: 600; margin: 0 0 6px; letter-spacing: -0.01em; }}
h2 {{ font-size: 20px; font-weight: 600; margin: 30px 0 6px; padding-top: 8px;
  border-top: 2px solid {INK}; }}
h3 {{ font-size: 14px; margin: 14px 0 4px; }}
p {{ margin: 4px 0; }}
header {{ display: flex; gap: 28px; align-items: flex-start; justify-content: space-between; }}
header p {{ color: {MUTED}; }}
svg.ticket {{ width: 200px; flex: none; }}
.larder {{ font-size: 13px; letter-spacing: 0.12em; text-transform: uppercase; color: {OXBLOOD}; }}
.identity {{ display: flex; flex-wrap: wrap; gap: 6px 14px; align-items: baseline; margin: 22px 0 0;
  padding: 14px 0 10px; border-top: 2px solid {INK}; }}
.figure b {{ display: block; font-size: 27px; line-height: 1.1; font-weight: 600;
  font-variant-numeric: lining-nums tabular-nums; }}
.figure span {{ font-size: 13px; color: {MUTED}; }}
.identity i {{ font-style: normal; font-size: 24px; color: {MUTED}; }}
.verdict {{ border-left: 6px solid {OXBLOOD}; padding: 6px 0 8px 16px; margin: 8px 0 0; }}
.verdict.explained {{ border-left-color: {INK}; }}
.verdict p {{ font-size: 19px; line-height: 1.3; }}
.verdict .word {{ font: 600 13px/1.4 "Gill Sans", Candara, "Liberation Sans", Arial, sans-serif;
  letter-spacing: 0.1em; text-transform: uppercase; color: {OXBLOOD}; }}
.verdict ol {{ margin: 6px 0 0; padding-left: 22px; }}
.verdict li b {{ font-weight: 600; }}
.fine p {{ font-size: 13px; color: {MUTED}; }}
figure {{ margin: 8px 0 0; }}
figure svg {{ width: 100%; height: auto; }}
figcaption {{ font-size: 13px; color: {MUTED}; }}
svg text {{ font-size: 12.5px; fill: {INK}; font-variant-numeric: lining-nums tabular-nums; }}
svg text.small {{ font-size: 11.5px; fill: {MUTED}; }}
svg text.over {{ paint-order: stroke; stroke: {PAPER}; stroke-width: 4px; }}
svg text.total, svg text.name {{ font-weight: 600; }}
table {{ border-collapse: collapse; width: 100%; font-variant-numeric: lining-nums tabular-nums; }}
th {{ text-align: left; font-size: 13px; font-weight: 600; color: {MUTED};
  border-bottom: 1px solid {INK}; }}
th, td {{ padding: 3px 14px 3px 0; vertical-align: baseline; }}
td {{ border-bottom: 1px solid {RULE}; }}
th.n, td.n {{ text-align: right; white-space: nowrap; }}
th:last-child, td:last-child {{ padding-right: 0; }}
td.mark {{ font-size: 13px; color: {OXBLOOD}; }}
tr.struck td {{ text-decoration: line-through; color: {MUTED}; }}
tr.struck td.mark {{ text-decoration: none; }}
tfoot td {{ font-weight: 600; border-bottom: 0; border-top: 1px solid {INK}; }}
.beside {{ display: flex; flex-wrap: wrap; gap: 0 44px; }}
.beside > section {{ flex: 1 1 300px; }}
ul.plain {{ list-style: none; margin: 4px 0; padding: 0; }}
footer {{ margin-top: 30px; padding-top: 8px; border-top: 1px solid {RULE}; font-size: 13px;
  color: {MUTED}; }}
.digest {{ font-family: "Liberation Mono", Menlo, Consolas, monospace; font-size: 11.5px;
  overflow-wrap: anywhere; }}
@media (max-width: 640px) {{
  main {{ margin: 0; padding: 20px 16px; border: 0; }}
  header {{ flex-direction: column-reverse; gap: 8px; }}
  .wide {{ overflow-x: auto; }}
}}
@media print {{
  @page {{ size: A4; margin: 14mm 15mm 15mm; }}
  * {{ print-color-adjust: exact; -webkit-print-color-adjust: exact; }}
  body {{ background: {PAPER}; font-size: 10pt; }}
  main {{ max-width: none; margin: 0; padding: 0; border: 0; }}
  h2 {{ break-after: avoid; margin-top: 14px; }}
  h1 {{ font-size: 24pt; }}
  .figure b {{ font-size: 18pt; }}
  .verdict p {{ font-size: 13pt; }}
  th, td {{ padding-top: 1.5px; padding-bottom: 1.5px; }}
  figure svg {{ max-height: 136mm; }}
  figcaption {{ display: none; }}
  footer {{ margin-top: 12px; font-size: 8.5pt; }}
  footer p, .fine p {{ margin: 1px 0; }}
  header, .identity, .verdict {{ margin-top: 0; }}
  tr, .verdict, figure, section section {{ break-inside: avoid; }}
  thead {{ display: table-header-group; }}
  .new-page {{ break-before: page; }}
}}
"""
