"""The style sheet of the review page: light and dark, wide and narrow, screen and paper.

Colours are chosen for a contrast of at least 4.5 to 1 on their ground (WCAG 2.2, 1.4.3 AA).
Paper stays white in the dark: it is a picture of paper.
"""

STYLE = """
:root {
  color-scheme: light dark;
  --ground: #f1f0ea; --panel: #fbfaf6; --ink: #1e2830; --quiet: #55606a; --line: #d3d0c4;
  --accent: #17605c; --error: #9c2327; --warning: #755000; --note: #3b5770;
  --shade: rgb(40 44 40 / .16);
}
@media (prefers-color-scheme: dark) {
  :root {
    --ground: #14191c; --panel: #1b2226; --ink: #e7e5dd; --quiet: #a5aeb4; --line: #364047;
    --accent: #84cabf; --error: #ff9d96; --warning: #efc370; --note: #abc6df;
    --shade: rgb(0 0 0 / .5);
  }
}
* { box-sizing: border-box; }
html { scroll-padding-top: 1rem; -webkit-text-size-adjust: 100%; }
body {
  margin: 0; background: var(--ground); color: var(--ink);
  font: 1rem/1.55 Charter, "Bitstream Charter", "Sitka Text", Cambria, Georgia, serif;
}
h1, h2, h3, th, .label, .tag, nav, .mark, .close, footer {
  font-family: "Avenir Next", Avenir, "Segoe UI", Candara, "Noto Sans", "DejaVu Sans", sans-serif;
}
h1 { font-size: clamp(1.6rem, 1.1rem + 2vw, 2.3rem); font-weight: 600; line-height: 1.15;
  letter-spacing: -.01em; margin: 0; }
h2 { font-size: 1.25rem; font-weight: 600; line-height: 1.25; margin: 0 0 .75rem; }
h3 { font-size: .95rem; font-weight: 600; line-height: 1.35; margin: 0 0 .6rem; }
p { margin: 0 0 .7rem; max-width: 42rem; }
ul, ol { margin: 0; padding: 0; list-style: none; }
a { color: var(--accent); text-underline-offset: .18em; text-decoration-thickness: .06em; }
a:focus-visible { outline: .17rem solid var(--accent); outline-offset: .15rem; }
.hidden { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%);
  white-space: nowrap; }
.quiet { color: var(--quiet); }
.label, .mark { font-size: .8rem; color: var(--quiet); }
.breaks { overflow-wrap: anywhere; }
.skip { position: absolute; left: -99rem; top: 0; z-index: 5; padding: .6rem 1rem;
  background: var(--ink); color: var(--ground); }
.skip:focus { left: 0; }
.page { max-width: 76rem; margin: 0 auto;
  padding: clamp(1rem, 4vw, 3rem) clamp(1rem, 4vw, 2.5rem); }
header { display: grid; gap: 1rem; margin-bottom: 2rem; }
.private { border-left: .3rem solid var(--error); padding: .1rem 0 .1rem 1rem; }
.private p { margin: 0; }
.alarm { border: .12rem solid var(--error); padding: .8rem 1rem; max-width: 44rem;
  margin: 0 0 1rem; }
.alarm p:last-child { margin: 0; }
nav ul { display: flex; flex-wrap: wrap; gap: .1rem 1.4rem; padding: .55rem 0; font-size: .9rem;
  border-block: .06rem solid var(--line); }
nav a { display: inline-block; padding: .3rem 0; }
main > section { padding: 2.2rem 0; border-bottom: .06rem solid var(--line); display: grid;
  grid-template-columns: 13rem minmax(0, 1fr); gap: 1rem 2.5rem; }
section > header { display: block; margin: 0; }
section > header h2 { margin-bottom: .25rem; }
section > header p { margin: 0 0 .2rem; }
section:focus { outline: none; }

.sum { display: flex; flex-wrap: wrap; gap: 1.5rem 3rem; align-items: flex-start; }
.cells { display: flex; margin: .2rem 0 .5rem; }
.cells span { width: 3.4rem; height: 4.4rem; margin-left: -.12rem; display: grid;
  place-items: center; border: .12rem solid var(--ink); background: var(--panel);
  font: 600 2.7rem/1 "DejaVu Sans Mono", Menlo, Consolas, monospace; }
.cells span:first-child { margin-left: 0; }
.provisional { margin: 0; font-weight: 600; color: var(--error); text-align: center; }
.cells.over span { border-color: var(--error); color: var(--error); }
table { border-collapse: collapse; font-size: .95rem; }
caption { text-align: left; padding-bottom: .4rem; }
th, td { text-align: left; vertical-align: top; padding: .3rem 1.1rem .3rem 0; font-weight: 400; }
thead th { font-size: .8rem; color: var(--quiet); border-bottom: .06rem solid var(--line); }
.number { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
td.number { font-family: "Avenir Next", Avenir, "Segoe UI", Candara, "Noto Sans", "DejaVu Sans",
  sans-serif; }
tfoot th, tfoot td { border-top: .12rem solid var(--ink); font-weight: 600; }
td.quiet { font-size: .88rem; }
.plain { display: grid; gap: .4rem; }
.readings { margin: 1.4rem 0 .9rem; }

.findings { display: grid; gap: 1.1rem; max-width: 48rem; }
.findings > li { display: grid; grid-template-columns: 6.2rem 1fr; gap: .2rem 1rem; }
.findings p { margin: 0 0 .2rem; }
.findings ul { margin: 0 0 .2rem; }
.remedy { padding-left: 1.3em; text-indent: -1.3em; }
.remedy::before { content: "→"; display: inline-block; width: 1.3em; text-indent: 0;
  color: var(--accent); }
.tag { font-size: .78rem; font-weight: 600; display: flex; gap: .45rem; align-items: baseline; }
.tag::before { content: ""; width: .62rem; height: .62rem; flex: none; background: currentColor; }
.error { color: var(--error); } .warning { color: var(--warning); } .note { color: var(--note); }
.error.tag::before { transform: rotate(45deg) scale(.85); }
.note.tag::before { border-radius: 50%; }
.accepted.tag { color: var(--quiet); }
.accepted.tag::before { background: none; border: .12rem solid currentColor; }

.document > header { position: sticky; top: 1.5rem; align-self: start; }
.sheets { display: grid; gap: 2.4rem; }
.pair { display: grid; grid-template-columns: 17rem minmax(0, 1fr); gap: 1rem 2rem; }
.sources, .aside { --tall: 24rem; }
.sources.many { --tall: 11rem; }
.sources { display: flex; flex-wrap: wrap; gap: 1rem; align-items: flex-start; }
figure { margin: 0; min-width: 0; }
figcaption { font-size: .84rem; color: var(--quiet); margin-top: .45rem; line-height: 1.4; }
.paper { position: relative; display: block; width: 100%; aspect-ratio: 210 / 297; background: #fff;
  box-shadow: 0 .1rem .9rem var(--shade); overflow: hidden; }
.placed, .paper .unseen { position: absolute; }
.placed img { display: block; width: 100%; height: 100%; }
.placed .turned { position: absolute; left: 50%; top: 50%; }
.unseen { display: grid; place-items: center; padding: .5rem; text-align: center; font-size: .8rem;
  color: #4c565e; background: repeating-linear-gradient(135deg, #fff 0 .5rem, #eeede8 .5rem 1rem);
  border: .06rem dashed #6d777e; }
.scan { position: relative; display: block; width: min(100%, calc(var(--tall) * var(--ratio)));
  aspect-ratio: var(--ratio); background: var(--panel); overflow: hidden; }
.source { flex: 0 1 auto; width: min(100%, calc(var(--tall) * var(--ratio))); }
.source .scan { width: 100%; }
.scan img { display: block; width: 100%; height: 100%; }
.scan svg { position: absolute; inset: 0; width: 100%; height: 100%; }
.scan .unseen { position: absolute; inset: 0; }
polygon { fill: none; vector-effect: non-scaling-stroke; stroke-linejoin: round; }
.halo { stroke: #fff; stroke-width: 5; opacity: .8; }
.line { stroke: #c2185b; stroke-width: 2.2; }
.aside .line { stroke-dasharray: 7 5; }
.corner { fill: #c2185b; stroke: #fff; stroke-width: 1.5; vector-effect: non-scaling-stroke; }
svg text { fill: #fff; font-family: "DejaVu Sans", Arial, sans-serif; font-weight: 700;
  text-anchor: middle; dominant-baseline: central; }
.about { margin-top: .7rem; font-size: .9rem; display: grid; gap: .2rem; }
.close { display: none; }
.larger { white-space: nowrap; margin-left: .4em; }
figure:target .larger { display: none; }
figure:target { position: fixed; inset: 0; z-index: 9; display: flex; flex-direction: column;
  gap: .5rem; align-items: center; justify-content: center; background: var(--ground);
  width: auto; padding: .5rem; }
figure:target .paper { width: min(96vw, calc(86vh * 210 / 297)); }
figure:target .scan { width: min(96vw, calc(86vh * var(--ratio))); }
figure:target .close { display: inline-block; padding: .4rem 1rem; font-size: .9rem; }
.legend { display: inline-block; width: 1.6rem; border-top: .16rem solid #c2185b;
  vertical-align: middle; margin-right: .3rem; }
body > .page > footer { font-size: .84rem; color: var(--quiet); padding-top: 1.5rem; }

@media (max-width: 60rem) {
  main > section { grid-template-columns: minmax(0, 1fr); }
  .document > header { position: static; }
}
@media (max-width: 40rem) {
  .pair { grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); gap: .8rem; }
  .findings > li { grid-template-columns: 1fr; }
  th, td { padding-right: .7rem; }
}
@media print {
  :root { color-scheme: light; --ground: #fff; --panel: #fff; --ink: #000; --quiet: #444;
    --line: #aaa; --accent: #000; --error: #7d1014; --warning: #5c3f00; --note: #28435c;
    --shade: transparent; }
  @page { size: A4; margin: 14mm 13mm; }
  body { font-size: 9.5pt; }
  .page { max-width: none; padding: 0; }
  nav, .skip, .close, .larger { display: none; }
  a { color: inherit; text-decoration: none; }
  main > section { padding: 5mm 0; display: block; }
  section > header { margin-bottom: 4mm; break-inside: avoid; break-after: avoid; }
  .document > header { position: static; }
  h2, h3 { break-after: avoid; }
  .sheets, .findings { display: block; }
  .sheets > li { margin-bottom: 7mm; }
  .findings > li { margin-bottom: 3mm; }
  .sources, .aside { --tall: 63mm; }
  .sources.many { --tall: 29mm; }
  .pair { grid-template-columns: 45mm minmax(0, 1fr); }
  .sheets > li, .findings > li, tr, .plain { break-inside: avoid; }
  .paper { outline: .2mm solid #888; }
  .source { width: min(100%, calc(var(--tall) * var(--ratio))); }
  .paper, .scan, .tag::before { print-color-adjust: exact; -webkit-print-color-adjust: exact; }
}
"""
