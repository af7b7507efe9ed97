/**
 * One plain look for all papers. Colours differ in lightness too, and whatever they tell apart also differs in
 * dash, fill or shape, so that a grey print and a colour-blind reader lose nothing.
 */
export const INK = '#1c1f22';
export const QUIET = '#565c62';
export const RULE = '#d9dcdf';
export const PAPER = '#ffffff';
/** What was: a deep water blue. */
export const PAST = '#0b4f83';
export const PAST_BAND = '#c3d8ea';
/** What is to come: ochre. */
export const FUTURE = '#8a4b00';
export const FUTURE_BAND = '#f3e2c6';
/** What must not be passed: nearly black red, told apart by its dashes. */
export const LIMIT = '#7d1128';

export const FONT = "'Noto Sans', 'Segoe UI', 'Helvetica Neue', Arial, sans-serif";
export const TITLE_PX = 16;
export const TEXT_PX = 12;
export const SMALL_PX = 11;
