import { Presets, SingleBar } from 'cli-progress';

export interface ProgressLine {
  /** Share done, 0 to 1. */
  at(share: number, what: string): void;
  end(): void;
}

/** A bar on a terminal; elsewhere a plain line at each quarter, so that logs stay readable. */
export function progressLine(title: string): ProgressLine {
  if (!process.stderr.isTTY) {
    let said = 0;
    return {
      at(share, what) {
        const quarter = Math.floor(share * 4 + 1e-9);
        if (quarter > said) {
          said = quarter;
          console.error(`${title}: ${quarter * 25} % (${what})`);
        } else if (quarter < said) {
          said = quarter; // the next file begins
        }
      },
      end() {},
    };
  }
  const bar = new SingleBar(
    { format: `${title} {bar} {percentage}% {what}`, stream: process.stderr, clearOnComplete: true },
    Presets.shades_classic,
  );
  bar.start(1, 0, { what: '' });
  return { at: (share, what) => bar.update(share, { what }), end: () => bar.stop() };
}
