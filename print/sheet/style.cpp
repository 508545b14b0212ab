#include "print/sheet/style.hpp"

namespace phasewright::sheet {

namespace {
constexpr std::string_view css = R"css(
:root { color-scheme: light dark; --ground: #faf9f5; --ink: #191917; --quiet: #55544e; --hair: #8b8a82;
  --accent: #b03a08; }
@media (prefers-color-scheme: dark) {
  :root { --ground: #171715; --ink: #eeede6; --quiet: #b5b4ab; --hair: #77766f; --accent: #ff9d62; } }
* { box-sizing: border-box; }
html { background: var(--ground); color: var(--ink); -webkit-text-size-adjust: 100%; }
body { margin: 0 auto; max-width: 1120px; padding: 0 32px;
  font: 17px/1.45 Inter, "Helvetica Neue", Arial, "Liberation Sans", "DejaVu Sans", sans-serif;
  font-variant-numeric: tabular-nums; overflow-wrap: break-word; }
section { padding: 40px 0 28px; border-bottom: 1.5px solid var(--ink); break-before: page; }
section:first-of-type { break-before: auto; }
section:last-of-type { border-bottom: 0; }
p { margin: 0 0 10px; max-width: 76ch; }
a { color: inherit; text-decoration: underline; text-decoration-thickness: 1px; text-underline-offset: 3px; }
h1, h2 { font-size: 36px; line-height: 1.15; font-weight: 650; letter-spacing: -0.01em; margin: 14px 0 10px;
  max-width: 34em; }
h2 { font-size: 30px; }
.lead { font-size: 28px; line-height: 1.2; margin: 0 0 18px; }
h3 { font-size: 17px; font-weight: 650; margin: 26px 0 8px; break-after: avoid; }
h1, h2, li, .head p, figcaption { overflow-wrap: anywhere; }
.head { display: flex; flex-wrap: wrap; justify-content: space-between; gap: 2px 32px; }
.head p { margin: 0; }
.walk, .small, figcaption, th, .block dt { font-size: 14px; color: var(--quiet); }
.walk b { color: var(--ink); }
.stop { background: var(--ink); color: var(--ground); padding: 14px 18px; margin: 16px 0;
  print-color-adjust: exact; -webkit-print-color-adjust: exact; }
.stop p { margin: 0; font-size: 20px; line-height: 1.35; }
.stop b { display: block; font-size: 28px; letter-spacing: 0.06em; }
.stop p + p { margin-top: 10px; }
.hand { border-left: 5px solid var(--accent); padding-left: 14px; }
.hand > b:first-child, .mark { color: var(--accent); font-weight: 650; }
svg { display: block; width: 100%; height: auto; overflow: visible; font-family: inherit; color: var(--ink); }
svg a { text-decoration: none; }
figure { margin: 0; }
figcaption { margin-top: 6px; max-width: 62ch; }
.drawings { display: grid; grid-template-columns: minmax(0, 2fr) minmax(0, 1fr); gap: 12px 40px;
  margin: 22px 0 8px; align-items: start; }
.small-only { display: none; }
.building { columns: 300px 3; column-gap: 40px; margin: 24px 0 0; }
.building svg { max-width: 420px; break-inside: avoid; margin-bottom: 28px; }
svg.legend { max-width: 350px; margin-top: 18px; }
.tables { display: grid; grid-template-columns: repeat(auto-fit, minmax(440px, 1fr)); gap: 0 40px; }
table { border-collapse: collapse; width: 100%; }
table.words { max-width: 860px; table-layout: fixed; }
table.points { table-layout: fixed; }
.points td, .words td { overflow-wrap: anywhere; }
.points th:nth-child(1) { width: 19%; } .points th:nth-child(2) { width: 13%; }
.points th:nth-child(4) { width: 13%; }
.words th.n { width: 9em; } .words .s { width: 6em; }
.tables table { max-width: 640px; }
caption { text-align: left; font-weight: 650; padding: 18px 0 6px; }
th { font-weight: 400; text-align: left; vertical-align: bottom; }
th, td { padding: 5px 14px 5px 0; border-bottom: 1px solid var(--hair); }
td { vertical-align: baseline; }
tr:last-child td { border-bottom: 0; }
tr.sum td { border-top: 1.5px solid var(--ink); }
th.n, td.n { text-align: right; white-space: nowrap; }
th:last-child, td:last-child { padding-right: 0; }
td.w { white-space: nowrap; }
ol.moves { list-style: none; padding: 0; margin: 0; counter-reset: move; }
ol.moves > li { counter-increment: move; position: relative; padding: 0 0 12px 48px; min-height: 40px;
  break-inside: avoid; }
ol.moves > li::before { content: counter(move); position: absolute; left: 0; top: 0; width: 30px;
  text-align: center; line-height: 27px; border: 1.5px solid currentColor; font-weight: 650; }
ol.moves > li.first::before { color: var(--accent); }
ol.moves p { margin: 2px 0 0; }
ul { padding-left: 1.1em; margin: 0 0 10px; }
li { max-width: 76ch; }
.foot { max-width: none; border-top: 1px solid var(--hair); padding-top: 12px; margin-top: 26px; }
.block { display: flex; margin: 14px 0 0; border: 1.5px solid var(--ink); }
.block div { flex: 1 1 auto; padding: 5px 12px 6px; border-right: 1px solid var(--hair);
  min-width: min-content; }
.block div:last-child { border-right: 0; }
.block dt { line-height: 1.2; }
.block dd { margin: 0; font-size: 14px; }
.block .tight { flex: 0 0 auto; white-space: nowrap; }
.block .tight:last-child dd { font-family: "JetBrains Mono", "DejaVu Sans Mono", Menlo, Consolas, monospace; }
.mono { font-family: "JetBrains Mono", "DejaVu Sans Mono", Menlo, Consolas, monospace; }
@media (max-width: 720px) {
  body { padding: 0 16px; }
  h1 { font-size: 30px; } h2 { font-size: 28px; }
  .drawings, .tables { grid-template-columns: minmax(0, 1fr); }
  .drawings .full { display: none; } .drawings .small-only { display: block; }
  .phasors { max-width: 340px; } .block { flex-wrap: wrap; }
  th, td { padding-right: 8px; }
  .numbers, .words { font-size: 15px; } .words th.n { width: 5.6em; } .words .s { width: 4.2em; }
  .points thead { display: none; }
  .points tr { display: block; border-bottom: 1px solid var(--hair); padding: 8px 0; }
  .points td { display: block; border: 0; padding: 0; text-align: left; }
}
@page { margin: 12mm; }
@media print {
  :root { --ground: #fff; --ink: #000; --quiet: #222; --hair: #777; --accent: #000; }
  body { max-width: none; padding: 0; font-size: 9.5pt; line-height: 1.3; }
  section { padding: 0; border: 0; }
  p { margin-bottom: 4px; max-width: none; }
  h1 { font-size: 22pt; } .lead { font-size: 15pt; margin-bottom: 8px; }
  h2 { font-size: 17pt; margin: 6px 0 4px; max-width: none; }
  h3 { margin: 9px 0 3px; font-size: 9.5pt; } caption { padding: 8px 0 2px; }
  .walk, .small, figcaption, th, .block dt, .block dd { font-size: 8pt; line-height: 1.25; }
  .stop { padding: 8px 12px; margin: 8px 0; } .stop p { font-size: 11.5pt; } .stop b { font-size: 15pt; }
  .drawings { grid-template-columns: minmax(0, 1.9fr) minmax(0, 1fr); gap: 4px 24px; margin: 6px 0 2px; }
  .drawings .full { display: block; max-width: 104mm; } .drawings .small-only { display: none; }
  .phasors { max-width: 46mm; }
  .tables { grid-template-columns: 1fr 1fr; gap: 0 24px; }
  th, td { padding-top: 2px; padding-bottom: 2px; }
  ol.moves > li { padding: 0 0 4px 34px; min-height: 24px; }
  ol.moves > li::before { width: 20px; line-height: 17px; }
  ol.moves p { margin: 0; } li { max-width: none; }
  .foot { margin-top: 8px; padding-top: 5px; } .block { margin-top: 5px; }
  .building { columns: 3; column-gap: 18px; margin: 12px 0 0; }
  .building svg { margin-bottom: 14px; }
  .numbers { font-size: 9pt; } .numbers td, .numbers th { padding: 2px 7px 2px 0; }
  .stop, table, tr, .block, .foot, figure { break-inside: avoid; } .points { break-inside: auto; }
  .points { font-size: 8.5pt; } .points td { padding: 1.5px 8px 1.5px 0; }
  a { text-decoration: none; }
}
)css";
}  // namespace

std::string_view style_sheet() { return css; }

}  // namespace phasewright::sheet
