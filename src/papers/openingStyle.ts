import { FONT, FUTURE, INK, PAPER, PAST, QUIET, RULE } from './look.js';

/** Plain text on white, one column, the same on a phone and on a desk. */
export const OPENING_STYLE = `
body { margin: 0; background: ${PAPER}; color: ${INK}; font: 16px/1.5 ${FONT}; }
main { max-width: 50rem; margin: 0 auto; padding: 2rem 1.1rem 4rem; }
header { display: flex; gap: 1.25rem; align-items: center; border-bottom: 1px solid ${RULE}; padding-bottom: 1rem; }
h1 { font-size: 1.9rem; margin: 0; font-weight: 600; }
h2 { font-size: 1.15rem; margin: 2.2rem 0 .4rem; }
h3 { font-size: 1rem; margin: 1.2rem 0 .3rem; }
p { margin: .6rem 0; }
a { color: ${PAST}; }
[hidden] { display: none !important; }
form { display: flex; flex-wrap: wrap; gap: .6rem; align-items: end; margin: .5rem 0; }
label { flex: 1 1 9rem; font-size: .9rem; color: ${QUIET}; }
label.wide { flex-basis: 18rem; }
input, select { display: block; width: 100%; min-height: 2.4rem; box-sizing: border-box; font: 1rem ${FONT}; color: ${INK}; background: ${PAPER}; padding: .3rem .5rem; border: 1px solid ${QUIET}; border-radius: 0; }
button, .act { font: .95rem ${FONT}; min-height: 2.4rem; padding: .3rem .8rem; border: 1px solid ${INK}; background: ${PAPER}; color: ${INK}; border-radius: 0; cursor: pointer; }
button[aria-busy="true"] { color: ${QUIET}; border-style: dashed; cursor: progress; }
button:focus-visible, input:focus-visible, select:focus-visible, a:focus-visible, summary:focus-visible { outline: 3px solid ${FUTURE}; outline-offset: 1px; }
dl { display: grid; grid-template-columns: 1fr auto; margin: .5rem 0; border-top: 1px solid ${RULE}; }
dt, dd { margin: 0; padding: .35rem 0; border-bottom: 1px solid ${RULE}; }
dd { text-align: right; font-variant-numeric: tabular-nums; font-weight: 600; }
ul { list-style: none; margin: 0; padding: 0; border-top: 1px solid ${RULE}; }
li { display: flex; flex-wrap: wrap; gap: .4rem; align-items: center; padding: .4rem 0; border-bottom: 1px solid ${RULE}; }
li > span { flex: 1 1 9rem; }
details { margin: .5rem 0; }
summary { cursor: pointer; padding: .4rem 0; }
figure { flex: 1 0 100%; min-width: 0; overflow-x: auto; margin: .5rem 0; }
figure img { display: block; width: 100%; min-width: 34rem; box-sizing: border-box; height: auto; border: 1px solid ${RULE}; }
figcaption { display: flex; flex-wrap: wrap; gap: .3rem 1rem; align-items: center; overflow-wrap: anywhere; }
#said:empty { display: none; }
#said { border-left: 4px solid ${FUTURE}; padding-left: .75rem; }
.quiet { color: ${QUIET}; font-size: .9rem; }
nav { display: flex; flex-wrap: wrap; gap: .2rem .9rem; }
`;
