const WORDS: Record<string, (id: string) => string> = {
  start: (id) => `a start of work order ${id}`,
  line: (id) => `line ${id}, which is not on record`,
  task: (id) => `found_work with task ${id}`,
  inspection: (id) => `inspection ${id}`,
  item: (id) => `item ${id}: sent, or put right or given up where it was refused`,
  plan: (id) => `a discharge_plan of work order ${id}`,
  quote: (id) => `a price_acceptance of work order ${id} as a whole, its quote`,
  ticket: (id) => `ticket_news of work order ${id}: what is open on its locate ticket`,
  trench: (id) =>
    `a trench_check of work order ${id} that passed in this shift, before the start and since the last rain`,
  price: (id) =>
    `a price_acceptance with taskId ${id}, or without one and with this item among its after: without either it is the price of the whole order`,
};

/**
 * What must come before an item is done, in a sentence for whoever holds the device.
 *
 * @param waitsFor As `kind:id`: start, line, task, inspection, item, price, plan, quote, ticket or trench.
 * @returns Null: it waits for nothing.
 */
export function waitsInWords(waitsFor: readonly string[]): string | null {
  if (waitsFor.length === 0) return null;
  const wanted = waitsFor.map((each) => {
    const [kind = '', id = ''] = each.split(':');
    return WORDS[kind]?.(id) ?? each;
  });
  return `Waits for ${wanted.join('; ')}.`;
}
