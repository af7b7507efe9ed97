import { FONT } from './look.js';

/**
 * Style of printed pages. No page size is named: margins leave a column that A4 (210 mm) and Letter (216 mm)
 * both hold. Black on white, so any printer does. A door that forbids inline style can allow this text by its hash.
 */
export const PAPER_STYLE = `
@page { margin: 13mm 14mm 15mm; @bottom-right { content: counter(page) " / " counter(pages); font: 9pt sans-serif; } }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 6mm; max-width: 194mm; font: 9.5pt/1.3 ${FONT}; color: #111; background: #fff; overflow-wrap: anywhere; }
header { border-bottom: 2pt solid #111; margin-bottom: 3mm; padding-bottom: 1.5mm; }
h1 { font-size: 16pt; margin: 0; line-height: 1.2; }
h2 { font-size: 12pt; margin: 5mm 0 1.5mm; break-after: avoid; }
h3 { font-size: 11.5pt; margin: 0; line-height: 1.25; break-after: avoid; }
p { margin: 0.5mm 0; orphans: 2; widows: 2; }
ul, ol { margin: 0.5mm 0; padding-left: 5.5mm; }
li { margin: 0.2mm 0; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; vertical-align: top; padding: 0.7mm 3mm 0.7mm 0; border-bottom: 0.4pt solid #999; }
th { font-weight: 600; white-space: nowrap; overflow-wrap: normal; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
th.num, th.narrow { width: 1%; }
.num { text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums; }
td.narrow { white-space: nowrap; overflow-wrap: normal; }
.quiet { color: #444; }
.box { border: 1pt solid #111; margin: 0 0 3.5mm; break-inside: avoid; }
.box.long { break-inside: auto; }
.box > .head { display: flex; gap: 3mm; align-items: baseline; padding: 1.2mm 2.5mm; border-bottom: 0.6pt solid #111; break-after: avoid; }
.box > .head .number { font-size: 14pt; font-weight: 700; min-width: 7mm; }
.box > .head .number:empty { display: none; }
.box > .head h3 { flex: 1; }
.box > .head .aside { white-space: nowrap; font-weight: 600; }
.box > .body { padding: 0.8mm 2.5mm 1.4mm; }
.kept { break-inside: avoid; }
.between { padding: 1mm 2.5mm; margin: 0 0 3.5mm; border-left: 2.5pt solid #777; break-inside: avoid; }
.cautions { list-style: "⚠ "; border: 0.6pt solid #111; border-left-width: 3pt; padding: 0.5mm 2mm 0.5mm 7mm; margin: 0.8mm 0; font-size: 9pt; break-inside: avoid; }
.numbers > li { break-inside: avoid; margin: 0.8mm 0; }
.ticks { columns: 3; list-style: none; padding: 0; }
.ticks li { break-inside: avoid; }
.tick { display: inline-block; width: 3.2mm; height: 3.2mm; border: 0.8pt solid #111; margin: 0 1mm 0 0; vertical-align: -0.4mm; }
.fields { border-top: 0.6pt dashed #111; margin-top: 1.8mm; padding-top: 1.2mm; break-inside: avoid; }
.fields > span { display: inline-block; margin-right: 5mm; white-space: nowrap; }
.blank { display: inline-block; border-bottom: 0.6pt solid #111; width: 18mm; }
.blank.long { width: 48mm; }
.picture { break-inside: avoid; margin: 2mm 0; }
.picture svg { display: block; width: 100%; height: auto; max-height: 116mm; }
.picture.small svg { max-height: 58mm; }
.picture.tall svg { max-height: 200mm; }
.photographs { display: flex; flex-wrap: wrap; gap: 4mm; margin: 2mm 0; }
figure { width: calc(50% - 2mm); margin: 0; break-inside: avoid; }
figure img { display: block; max-width: 100%; max-height: 62mm; }
footer { break-before: avoid; break-inside: avoid; margin-top: 4mm; border-top: 0.6pt solid #111; padding-top: 1.5mm; font-size: 9pt; }
@media print { body { padding: 0 0.4mm; max-width: none; } }
`;
