import { type JetMeans, type JettedLine, orderJet, usualRun } from '../jetting/orderJet.js';
import { passMinutes } from '../jetting/passes.js';
import { ARRIVE_AND_LEAVE_MINUTES, TASK_MINUTES } from '../jetting/siteMinutes.js';
import { sludgeOutL, USUAL_RESIDUE } from '../jetting/sludge.js';
import { HOUSE_TAP_LPS } from '../jetting/waterSupply.js';
import type { KitKind, TaskKind } from '../words.js';
import { isCameraLook } from './lineStops.js';
import type { OwnerSettings } from './settings.js';

/** A line as far as the work on it depends on it. Lengths and bores unknown are null. */
export interface VisitLine extends JettedLine {
  lineId: string;
  systemId: string;
  isDischarge: boolean;
  /** Joins water further down first: lines nearest the pit come last. */
  stepsToPit: number;
}

export interface VisitPit {
  pitId: string;
  systemId: string;
}

export interface PlannedTask {
  kind: TaskKind;
  lineId: string | null;
  pitId: string | null;
  minutes: number;
  waterL: number;
  sludgeL: number;
  plan: Record<string, unknown>;
}

export interface PlannedVisit {
  tasks: PlannedTask[];
  minutes: number;
  waterL: number;
  sludgeL: number;
  kit: KitKind[];
  people: number;
}

/** Common practice, no source, unless a line says otherwise. */
const PRACTICE = {
  /** Below this occlusion a garden hose nozzle does it, where the deposit is not hard. */
  hoseUpTo: 0.2,
  hoseMps: 0.05,
} as const;

/** What must be on the truck for a task. Common practice, no source. */
const KIT: Partial<Record<TaskKind, KitKind[]>> = {
  survey: ['camera'],
  hose_flush: ['hose'],
  jet: ['jetter'],
  trace: ['tracer'],
  dig_and_replace: ['excavator'],
  cable: ['cable_machine'],
  temporary_pump: ['pump'],
};

/** What goes on the truck for a task: a look may be one by camera. */
const kitOf = (task: PlannedTask): readonly KitKind[] =>
  isCameraLook(task) ? ['camera'] : (KIT[task.kind] ?? []);

/** Clean one line, by hose where that does it, else by jet in passes. */
export function cleanTask(line: VisitLine, means: JetMeans): PlannedTask {
  const hard = line.deposit === 'crust' || line.deposit === 'roots';
  return line.occlusion <= PRACTICE.hoseUpTo && !hard ? hoseTask(line) : jetTask(line, means);
}

/** Flush one line with a garden hose: in and out once. */
export function hoseTask(line: VisitLine): PlannedTask {
  const { lengthM, boreMm } = usualRun(line);
  const runMinutes = passMinutes(lengthM, PRACTICE.hoseMps, PRACTICE.hoseMps);
  return {
    kind: 'hose_flush',
    lineId: line.lineId,
    pitId: null,
    minutes: Math.ceil(TASK_MINUTES.hose_flush + runMinutes),
    waterL: Math.round(runMinutes * 60 * HOUSE_TAP_LPS),
    sludgeL: Math.round(sludgeOutL(boreMm, lengthM, line.occlusion, USUAL_RESIDUE)),
    plan: { lengthM, occlusionExpected: round(line.occlusion) },
  };
}

/** Jet one line in passes, with the plan its crew goes by. */
export function jetTask(line: VisitLine, means: JetMeans): PlannedTask {
  const jet = orderJet(line, means);
  return {
    kind: 'jet',
    lineId: line.lineId,
    pitId: null,
    minutes: Math.ceil(TASK_MINUTES.jet + jet.jetMinutes),
    waterL: Math.round(jet.waterL),
    sludgeL: Math.round(jet.sludgeL),
    plan: {
      passes: jet.passes,
      lengthM: usualRun(line).lengthM,
      occlusionExpected: round(line.occlusion),
      jet,
    },
  };
}

const round = (share: number): number => Math.round(share * 100) / 100;

/**
 * The tasks of one visit in the order of the trade: prove that the discharge carries water, clean the lines
 * upstream toward the pit, clear the pit, clean the discharge, test the pump. A line nobody ever saw is
 * surveyed before it is cleaned.
 */
export function planVisit(
  lines: readonly VisitLine[],
  pits: readonly VisitPit[],
  settings: Pick<OwnerSettings, 'people'>,
  means: JetMeans,
): PlannedVisit {
  const tasks: PlannedTask[] = [];
  const systems = [...new Set(lines.map((line) => line.systemId))].sort();
  const small = (
    kind: TaskKind,
    lineId: string | null,
    pitId: string | null,
    minutes: number,
    plan = {},
  ): PlannedTask => ({
    kind,
    lineId,
    pitId,
    minutes,
    waterL: 0,
    sludgeL: 0,
    plan,
  });
  for (const systemId of systems) {
    const own = lines.filter((line) => line.systemId === systemId);
    const discharge = own.filter((line) => line.isDischarge);
    const upstream = own
      .filter((line) => !line.isDischarge)
      .sort((a, b) => b.stepsToPit - a.stepsToPit || (a.lineId < b.lineId ? -1 : 1));
    const pit = pits.find((each) => each.systemId === systemId);
    if (upstream.length > 0) {
      for (const line of discharge)
        tasks.push(
          small('inspect', line.lineId, null, TASK_MINUTES.inspect, {
            prove: 'the discharge carries water',
          }),
        );
    }
    for (const line of upstream) tasks.push(...surveyFirst(line, small), cleanTask(line, means));
    if (pit && own.length > 0) tasks.push(small('clear_pit', null, pit.pitId, TASK_MINUTES.clear_pit));
    for (const line of discharge) tasks.push(...surveyFirst(line, small), cleanTask(line, means));
    if (pit && own.length > 0)
      tasks.push(small('test_pump', null, pit.pitId, TASK_MINUTES.test_pump, { cycleTheFloat: true }));
  }
  return visitOf(tasks, settings);
}

/**
 * Minutes, water, sludge, kit and people of a visit with these tasks. Whoever brings an excavator digs: it takes the
 * people of a dig.
 *
 * @param more What a person sends along beyond what the tasks need.
 */
export function visitOf(
  tasks: PlannedTask[],
  settings: Pick<OwnerSettings, 'people'>,
  more: readonly KitKind[] = [],
): PlannedVisit {
  const kit = [...new Set([...tasks.flatMap(kitOf), ...more])].sort();
  const { byTask } = settings.people;
  const sum = (of: (task: PlannedTask) => number) => tasks.reduce((total, task) => total + of(task), 0);
  return {
    tasks,
    minutes: ARRIVE_AND_LEAVE_MINUTES + sum((task) => task.minutes),
    waterL: sum((task) => task.waterL),
    sludgeL: sum((task) => task.sludgeL),
    kit,
    people: Math.max(
      1,
      ...tasks.map((task) => byTask[task.kind]),
      kit.includes('excavator') ? byTask.dig_and_replace : 1,
    ),
  };
}

function surveyFirst(
  line: VisitLine,
  small: (
    kind: TaskKind,
    lineId: string | null,
    pitId: string | null,
    minutes: number,
    plan?: object,
  ) => PlannedTask,
): PlannedTask[] {
  return line.unseen ? [small('survey', line.lineId, null, TASK_MINUTES.survey)] : [];
}
