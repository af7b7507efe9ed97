import { Refused } from '../actions/problems.js';

/** What the database refuses knows of no batch: its pointers are put under the item. */
export async function ofItem<T>(i: number, work: () => Promise<T>): Promise<T> {
  const under = (pointer = '#') =>
    pointer.startsWith('#/items/') ? pointer : `#/items/${i}${pointer.slice(1)}`;
  try {
    return await work();
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    const { problem } = error;
    if ('faults' in problem)
      throw new Refused({
        ...problem,
        faults: problem.faults.map((fault) => ({ ...fault, pointer: under(fault.pointer) })),
      });
    if (problem.code === 'clash') throw new Refused({ ...problem, pointer: under(problem.pointer) });
    throw error;
  }
}
