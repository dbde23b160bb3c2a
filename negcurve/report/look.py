"""How the page looks: one style sheet, for screen, dark screen, phone and paper."""

STYLE = """
:root { --ink: #222222; --quiet: #5c5c5c; --grid: #dcdcdc; --page: #ffffff;
  --panel: #f5f5f3; --blue: #0072b2; --orange: #d55e00; --green: #007a5a;
  --warn: #8f3f00; }
@media (prefers-color-scheme: dark) {
  :root { --ink: #ececec; --quiet: #b0b0b0; --grid: #4a4a4a; --page: #161616;
    --panel: #222222; --blue: #56b4e9; --orange: #f0934e; --green: #4fc39a;
    --warn: #ffb27a; }
}
* { box-sizing: border-box; }
html { background: var(--page); color: var(--ink); -webkit-text-size-adjust: 100%; }
body { margin: 0 auto; padding: 1.2rem 1rem 3rem; max-width: 62rem;
  font: 1rem/1.5 system-ui, -apple-system, "Segoe UI", sans-serif; }
h1 { font-size: 1.7rem; line-height: 1.2; margin: 0 0 .3rem; }
h2 { font-size: 1.2rem; margin: 2.2rem 0 .5rem; padding-top: .6rem;
  border-top: 1px solid var(--grid); }
p { margin: .4rem 0 .8rem; max-width: 46rem; }
.lead { font-size: 1.08rem; }
.quiet { color: var(--quiet); }
figure { margin: 1rem 0; }
figcaption { color: var(--quiet); font-size: .92rem; margin-top: .3rem; }
figure svg { width: 100%; max-width: 34rem; height: auto; display: block; }
figure img { max-width: 100%; height: auto; display: block;
  border: 1px solid var(--grid); }
.pair { display: grid; grid-template-columns: repeat(auto-fit, minmax(16rem, 1fr));
  gap: 1rem; align-items: start; }
.pair figure { margin: 0; }
table { border-collapse: collapse; margin: .6rem 0 1rem; font-variant-numeric:
  tabular-nums; }
caption { text-align: left; color: var(--quiet); font-size: .92rem;
  padding-bottom: .3rem; }
th, td { text-align: left; padding: .22rem .9rem .22rem 0; vertical-align: top;
  border-bottom: 1px solid var(--grid); font-weight: normal; }
thead th { color: var(--quiet); }
td.n, th.n { text-align: right; }
.wide { overflow-x: auto; }
ul { padding-left: 1.2rem; max-width: 46rem; }
li { margin: .3rem 0; }
.warning > strong { color: var(--warn); }
pre { background: var(--panel); padding: .8rem 1rem; overflow-x: auto;
  font: .88rem/1.5 ui-monospace, "DejaVu Sans Mono", monospace; border-radius: 4px; }
@media (max-width: 30rem) { body { padding: .9rem .8rem 2rem; }
  h1 { font-size: 1.4rem; } th, td { padding-right: .6rem; } }
@page { margin: 15mm; }
@media print {
  :root { --ink: #000000; --quiet: #444444; --grid: #cccccc; --page: #ffffff;
    --panel: #f2f2f2; --blue: #0072b2; --orange: #d55e00; --green: #007a5a;
    --warn: #7a3500; }
  body { max-width: none; padding: 0; font-size: 10pt; }
  h2 { break-after: avoid; }
  figure, tr, li { break-inside: avoid; }
  figure svg { max-width: 132mm; max-height: 235mm; }
  pre { white-space: pre-wrap; overflow: visible; }
  .wide { overflow: visible; }
}
"""
