import { dayText } from '../../domain/calendar/saidDay.js';

/** A reason of a visit as its order keeps it; of one line it names the line. */
export interface KeptReason {
  text: string;
  facts?: { lineId?: string };
}

const ISO_DAY = /\b\d{4}-\d{2}-\d{2}\b/g;

/**
 * Why a visit is made, for paper: each reason once, with the lines it is of where the visit is to several, and days as
 * papers write them.
 */
export function reasonTexts(
  reasons: readonly KeptReason[],
  lineNames: ReadonlyMap<unknown, string>,
): string[] {
  const lines = new Map<string, string[]>();
  for (const { text, facts } of reasons) {
    const name = lineNames.get(facts?.lineId);
    lines.set(text, [...(lines.get(text) ?? []), ...(name === undefined ? [] : [name])]);
  }
  const isOfSeveral = new Set([...lines.values()].flat()).size > 1;
  return [...lines].map(([text, names]) => {
    const said = text.replace(ISO_DAY, (day) => dayText(day));
    return isOfSeveral && names.length > 0 ? `${[...new Set(names)].join(', ')}: ${said}` : said;
  });
}

/** Reasons one behind another, each a sentence with its end. */
export const inSentences = (texts: readonly string[]): string =>
  texts.map((text) => (/[.!?…]$/.test(text) ? text : `${text}.`)).join(' ');
