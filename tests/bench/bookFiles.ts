import { once } from 'node:events';
import { createWriteStream } from 'node:fs';
import { join } from 'node:path';
import { finished } from 'node:stream/promises';

const DAY_MS = 86_400_000;
const KINDS = ['sump_discharge', 'footing_drain', 'floor_drain', 'yard_drain'] as const;
const MATERIALS = ['pvc', 'corrugated_hdpe', 'clay', 'concrete'] as const;
const METHODS = ['camera', 'outlet_look', 'outlet_depth'] as const;
const TOWNS = 40;

/** Writes the CSV files of an invented client base; the same numbers give the same files. */
export async function writeBookFiles(
  folder: string,
  size: { lines: number; readings: number; untilMs: number },
): Promise<void> {
  const sites = Math.ceil(size.lines / 4);
  await write(join(folder, 'sites.csv'), sites + 1, (i) =>
    i === 0
      ? 'site_id,client,address,town,latitude,longitude,access'
      : `S${i},Client ${i},${i} Marsh Gate,Town ${i % TOWNS},${(44.5 + (i % 100) / 250).toFixed(5)},${(-90.3 + (i % 77) / 150).toFixed(5)},anytime`,
  );
  await write(join(folder, 'lines.csv'), size.lines + 1, (i) =>
    i === 0
      ? 'line_id,site_id,kind,material,inside_diameter_mm,length_m,installed_on,ferrous_iron_mg_l,threshold'
      : `L${i},S${1 + (i % sites)},${KINDS[i & 3]},${MATERIALS[(i >> 2) & 3]},100,${10 + (i % 20)},2019-05-01,${(0.5 + (i % 50) / 10).toFixed(2)},`,
  );
  const perLine = Math.ceil(size.readings / size.lines);
  await write(join(folder, 'readings.csv'), size.readings + 1, (i) => {
    if (i === 0) return 'line_id,observed_at,phase,method,occlusion,plugged';
    const line = 1 + Math.floor((i - 1) / perLine);
    const turn = (i - 1) % perLine;
    const share = ((line * 7 + turn * 13) % 60) / 100;
    const days = (perLine - turn) * (60 + (line % 90)) + (line % 30);
    const at = new Date(size.untilMs - days * DAY_MS - line * 1000).toISOString().slice(0, 19);
    return `L${line},${at}Z,before_cleaning,${METHODS[line % 3]},${share.toFixed(2)},0`;
  });
}

async function write(path: string, rows: number, row: (i: number) => string): Promise<void> {
  const file = createWriteStream(path);
  let text = '';
  for (let i = 0; i < rows; i++) {
    text += `${row(i)}\n`;
    if (text.length < 1 << 16) continue;
    if (!file.write(text)) await once(file, 'drain');
    text = '';
  }
  file.end(text);
  await finished(file);
}
