/** Something a plan says about itself, in words with its numbers. */
export interface Finding {
  code: string;
  facts: Record<string, unknown>;
  text: string;
}
