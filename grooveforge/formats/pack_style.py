"""The style of a pack's first page: paper, ink, and one red for what differs, as on the local page."""

STYLE = """
:root { --paper: #f8f5ed; --ink: #1f1b16; --soft: #5f584c; --rule: #cfc7b6; --mark: #a02c16; --wash: #efe9dc;
  --faded: #9d9482;
  --serif: "Iowan Old Style", "Palatino Linotype", Palatino, "URW Palladio L", Charter, Georgia,
    "Liberation Serif", serif;
  --mono: ui-monospace, "SF Mono", Menlo, Consolas, "Liberation Mono", "DejaVu Sans Mono", monospace;
  color-scheme: light dark; }
@media (prefers-color-scheme: dark) { :root { --paper: #17181a; --ink: #e9e5da; --soft: #aaa498; --rule: #43433f;
  --mark: #f29a7c; --wash: #222325; --faded: #77736a; } }
* { box-sizing: border-box; }
html { -webkit-text-size-adjust: 100%; }
body { margin: 0; background: var(--paper); color: var(--ink); font: 1.0625rem/1.5 var(--serif);
  overflow-wrap: break-word; }
main { max-width: 60rem; margin: 0 auto; padding: 2.2rem clamp(0.9rem, 4.6vw, 3rem) 4rem; }
h1, h2, h3, p, ol, ul, dl, dd, figure { margin: 0; padding: 0; font-weight: normal; }
ol, ul { list-style: none; }
a { color: var(--mark); text-underline-offset: 0.2em; text-decoration-thickness: 1px; }
:focus-visible { outline: 3px solid var(--mark); outline-offset: 2px; border-radius: 1px; }
header { border-bottom: 3px double var(--ink); padding-bottom: 0.7rem; text-align: center; }
h1 { font-size: clamp(1.7rem, 1.2rem + 2.4vw, 2.8rem); line-height: 1.15; }
header p { color: var(--soft); font-style: italic; }
section { margin-top: 2.4rem; }
h2 { font-size: 1.45rem; line-height: 1.3; border-bottom: 1px solid var(--ink); margin-bottom: 0.8rem; }
h3 { font-size: 1.16rem; }
h3 .where { color: var(--soft); font-style: italic; }
.lead { color: var(--soft); margin-bottom: 0.9rem; }
.care { margin-top: 1.4rem; padding: 0.55rem 0 0.55rem 0.9rem; border-left: 4px solid var(--mark); }
.form li { display: grid; grid-template-columns: minmax(7rem, 11rem) 4.2rem 1fr; gap: 0 0.9rem; padding: 0.4rem 0;
  border-top: 1px solid var(--rule); }
.form li:last-child { border-bottom: 1px solid var(--rule); }
.form b { font-weight: normal; } .form .bars { color: var(--soft); font-variant-numeric: tabular-nums; }
.form i, .signs i { display: block; height: 0.62rem; background: var(--ink); margin: 0.45rem 0 0.25rem; }
.form i { width: var(--part); min-width: 3px; background-image: repeating-linear-gradient(to right, transparent 0,
  transparent calc(400% / var(--bars) - 2px), var(--paper) calc(400% / var(--bars) - 2px),
  var(--paper) calc(400% / var(--bars))); -webkit-print-color-adjust: exact; print-color-adjust: exact; }
.form .return i, .signs .return { background-color: var(--faded); }
.form .differs i, .signs .differs { background-color: var(--mark); }
.form div span { color: var(--soft); font-size: 0.95rem; }
.form .differs p { color: var(--mark); } .form p { line-height: 1.35; }
.signs { color: var(--soft); font-size: 0.95rem; margin-bottom: 0.6rem; }
.signs i { display: inline-block; width: 1.6rem; margin: 0 0.25rem 0 0.9rem; print-color-adjust: exact; }
.signs i:first-child { margin-left: 0; }
.notes { color: var(--soft); margin-top: 0.8rem; }
@media (max-width: 40rem) { .form li { grid-template-columns: 1fr auto; } .form div { grid-column: 1 / -1; } }
.files { display: grid; grid-template-columns: max-content 1fr; gap: 0.35rem 1.3rem; }
.files li { display: contents; }
.files span { color: var(--soft); }
@media (max-width: 44rem) { .files { grid-template-columns: 1fr; } .files li { display: block; }
  .files span { display: block; padding-left: 1rem; } }
.sound { display: grid; grid-template-columns: repeat(auto-fit, minmax(min(17rem, 100%), 1fr)); gap: 0.9rem 1.6rem; }
.sound audio { width: 100%; height: 2.6rem; display: block; margin-top: 0.2rem; }
.sound small, .files small { color: var(--soft); white-space: nowrap; }
.loop { margin-top: 1.5rem; } .loop small { display: block; } em { font-style: normal; }
.loop .sound { grid-template-columns: repeat(auto-fit, minmax(min(11.4rem, 100%), 1fr)); gap: 0.7rem 0.9rem; }
pre { font: 0.86rem/1.3 var(--mono); background: var(--wash); padding: 0.6rem 0.8rem; margin: 0.5rem 0 0.8rem;
  overflow-x: auto; }
footer { margin-top: 3rem; border-top: 1px solid var(--rule); padding-top: 0.7rem; color: var(--soft);
  font-size: 0.92rem; }
@page { size: A4 portrait; margin: 14mm 15mm; }
@media print {
  :root { --paper: #fff; --ink: #000; --soft: #444; --rule: #bbb; --mark: #8a2410; --wash: #f2f2f2; --faded: #999; }
  body { font-size: 10.5pt; } main { padding: 0; max-width: none; }
  section { margin-top: 7mm; } h2 { break-after: avoid; } h3 { break-after: avoid; }
  .form li, .loop pre, .sound > *, .files li, .care { break-inside: avoid; }
  pre { white-space: pre; overflow: visible; font-size: 8pt; }
  .loop .sound { grid-template-columns: repeat(4, 1fr); }
  audio { display: none !important; } a { color: inherit; }
}
"""
