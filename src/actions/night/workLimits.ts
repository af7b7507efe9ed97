import type { Reason } from '../../domain/fouling/dueDateReason.js';
import { limitsOf } from '../../domain/fouling/policy.js';
import { dischargeWorkLimit, loweredActionLimit } from '../../domain/hydraulics/dischargeLimit.js';
import { pressureC, roughnessOf } from '../../domain/hydraulics/pipes.js';
import type { PumpPoint } from '../../domain/hydraulics/pumpCurve.js';
import type { Material } from '../../domain/words.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import { heldPipes } from '../heldPipes.js';
import type { Stores } from '../house.js';
import type { LineFacts } from './lineEvidence.js';

const numberOf = (value: unknown): number | null => (value === null ? null : Number(value));

/**
 * Lowers the action limit of each discharge that stops doing its work before its usual limit.
 *
 * @returns The lines with their limits, and the reason by line id where hydraulics had something to say.
 */
export async function withWorkLimits(
  stores: Stores,
  lines: readonly LineFacts[],
  settings: Pick<OwnerSettings, 'limits'>,
): Promise<{ lines: LineFacts[]; reasons: Map<string, Reason> }> {
  const pipes = await heldPipes(stores);
  const work = new Map(
    (await stores.work.dischargeFacts()).map((row) => [
      String(row['line_id']),
      dischargeWorkLimit({
        boreMm: numberOf(row['bore_mm']),
        lengthM: numberOf(row['length_m']),
        liftM: numberOf(row['lift_m']),
        c: pressureC(roughnessOf(row['product'], row['material'] as Material, pipes)).c,
        curve: row['curve'] as readonly PumpPoint[] | null,
        inflowLps: numberOf(row['inflow_lps']),
        pitDiameterMm: numberOf(row['diameter_mm']),
        fastestRiseMmPerMinute: numberOf(row['fastest_rise']),
      }),
    ]),
  );
  const reasons = new Map<string, Reason>();
  const limited = lines.map((line) => {
    const found = work.get(line.lineId);
    if (!found) return line;
    const { occlusion, reason } = loweredActionLimit(limitsOf(line, settings).action, found);
    if (reason === null) return line;
    reasons.set(line.lineId, {
      code: reason.code,
      facts: { ...reason.facts, actionLimit: occlusion },
      text: reason.text,
    });
    return { ...line, actionLimit: occlusion };
  });
  return { lines: limited, reasons };
}
