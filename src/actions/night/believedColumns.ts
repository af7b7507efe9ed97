/** What the history keeps as it was believed, for forecasts to be held against what came, also where a trend shows a line found plugged. */
export const BELIEVED_OF_HISTORY = [
  'occlusion',
  'occlusion_sd',
  'action_q10_on',
  'action_q50_on',
  'action_q90_on',
  'plug_q50_on',
] as const;

/** Column of a trend's row that holds it. */
export const believedColumn = (name: string): string => `believed_${name}`;
