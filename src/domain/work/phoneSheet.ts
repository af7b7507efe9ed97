import type { CallKind } from '../words.js';
import { type CallAnswers, NOTHING_ANSWERED } from './callTriage.js';

/** One sentence to say or ask, in plain words. */
export interface SheetLine {
  code: string;
  text: string;
  source: string;
}

/** What to say on the phone, in the order in which it is said. */
export interface PhoneSheet {
  sayFirst: SheetLine[];
  ask: (SheetLine & { answer: keyof CallAnswers })[];
  whileTheyWait: SheetLine[];
  never: SheetLine[];
}

const COMMON = 'common practice, no source';
const line = (code: string, text: string, source = COMMON): SheetLine => ({ code, text, source });

/** Where a life is in danger nobody waits for a drain crew. */
const DANGER = line(
  'emergency_services',
  'If anyone is hurt, or stands in water near anything electric, hang up and call the emergency number.',
);
const DO_NOT_ENTER = line(
  'do_not_enter',
  'Do not enter the water, and keep children and animals out of the basement. Stay on the stairs.',
);
const POWER = line(
  'power_off',
  'Do not touch switches, plugs or the panel with wet hands or from a wet floor. Power to a wet basement is switched off by someone qualified: the power company or an electrician.',
);
const GAS = line(
  'gas',
  'If you smell gas, leave the house now, use no switch and no phone inside, and call the gas company from outside.',
);
const GAS_OUT = line(
  'gas_out',
  'Gas: everybody leaves the house now. Touch no switch, plug, flame or phone inside. Hang up and go; from outside and at a distance call the emergency number and the gas company.',
);
const GAS_BACK = line(
  'gas_back',
  'Nobody goes back in, for anything, until the gas company or the fire department says so. Phone us from outside when they have.',
);
const LIVE_WATER = line(
  'live_water',
  'The water and the wet floor may be live: stay off both, touch nothing that stands in them, and keep everybody out of the basement.',
);
const PUMP_DRY = line(
  'pump_runs_dry',
  'If the pump hums and moves no water, unplug it only where you stand dry and the plug is dry and within reach: a pump that runs without flow overheats.',
);
const OUTLET = line(
  'look_outside',
  'Look outside where the pipe ends: does water come, is it buried, frozen or under water? Do not dig and do not reach in.',
);
const CARRY_UP = line(
  'carry_up',
  'Carry up what you can reach without stepping into water; leave what is wet and plugged in.',
);
const PICTURE = line(
  'take_a_picture',
  'Take a picture of the pit and of the end of the pipe if you can do so from a dry place.',
);
const LESS_WATER = line(
  'less_water',
  'Run no washing machine, dishwasher or bath that drains to the pit or the floor drain.',
);
const GENERATOR = line(
  'generator',
  'A generator stays outdoors, away from windows and doors, never in a garage or basement.',
);
const NO_CHEMICAL = line(
  'no_chemical',
  'Pour nothing into the pit or the drain: no cleaner, bleach or acid.',
);
const NO_REACHING = line('no_reaching', 'Do not reach into the pit: the pump can start by itself.');
const NO_STREET = line(
  'no_street',
  'Do not pump orange water into the street, a storm drain or a creek: it may be against the law there.',
);
const SEWAGE = line('sewage', 'Water that smells like a toilet is sewage: keep off it and wash.');

const ASK = {
  gas: { ...line('ask_gas', 'Do you smell gas?'), answer: 'smellOfGas' },
  water: { ...line('ask_water', 'Is there water on the floor, and does it rise?'), answer: 'waterInHouse' },
  electric: {
    ...line('ask_electric', 'Has the water reached outlets, cords, appliances or the panel?'),
    answer: 'waterNearElectricity',
  },
  pump: { ...line('ask_pump', 'Can you hear the pump run? Does it stop again?'), answer: 'pumpRuns' },
  backup: {
    ...line('ask_backup', 'Is there a second pump or a battery, and does it run?'),
    answer: 'backupRuns',
  },
  sewage: { ...line('ask_sewage', 'Does it smell like a toilet?'), answer: 'sewage' },
} as const satisfies Record<string, SheetLine & { answer: keyof CallAnswers }>;

const SHEETS: Record<CallKind, PhoneSheet> = {
  water_rising: {
    sayFirst: [DO_NOT_ENTER, DANGER, POWER, GAS],
    ask: [ASK.gas, ASK.electric, ASK.water, ASK.pump, ASK.backup, ASK.sewage],
    whileTheyWait: [CARRY_UP, LESS_WATER, OUTLET, SEWAGE],
    never: [NO_REACHING, NO_CHEMICAL, NO_STREET],
  },
  alarm: {
    sayFirst: [
      line(
        'alarm_means',
        'The alarm says that the water in the pit stands higher than it should. Leave it on; look from a dry place.',
      ),
      DO_NOT_ENTER,
      DANGER,
    ],
    ask: [ASK.gas, ASK.water, ASK.pump, ASK.backup, ASK.electric],
    whileTheyWait: [LESS_WATER, OUTLET, PUMP_DRY],
    never: [NO_REACHING, NO_CHEMICAL],
  },
  pump_without_flow: {
    sayFirst: [PUMP_DRY, DO_NOT_ENTER, DANGER],
    ask: [ASK.gas, ASK.water, ASK.electric, ASK.backup],
    whileTheyWait: [OUTLET, LESS_WATER, PICTURE],
    never: [NO_REACHING, NO_CHEMICAL],
  },
  power_out: {
    sayFirst: [
      line('power_company', 'Report the outage to the power company: we cannot bring the power back.'),
      DO_NOT_ENTER,
      DANGER,
      GENERATOR,
    ],
    ask: [ASK.gas, ASK.water, ASK.backup, ASK.electric],
    whileTheyWait: [
      LESS_WATER,
      line('power_back', 'When the power is back the pump starts by itself: keep hands out of the pit.'),
    ],
    never: [NO_REACHING],
  },
  orange_stain: {
    sayFirst: [
      line(
        'ochre',
        'Orange slime is iron that bacteria bring out of the ground water. It clogs drains. It is not an emergency as long as the pump runs and the floor is dry.',
      ),
    ],
    ask: [ASK.gas, ASK.water, ASK.electric, ASK.pump],
    whileTheyWait: [OUTLET, PICTURE],
    never: [NO_CHEMICAL, NO_REACHING],
  },
  other: {
    sayFirst: [DANGER],
    ask: [ASK.gas, ASK.water, ASK.electric, ASK.pump, ASK.sewage],
    whileTheyWait: [LESS_WATER, PICTURE],
    never: [NO_REACHING, NO_CHEMICAL],
  },
};

/** A smell of gas: out of the house, and nothing else is said or asked. */
const GAS_SHEET: PhoneSheet = { sayFirst: [GAS_OUT], ask: [], whileTheyWait: [], never: [GAS_BACK] };

/** What takes somebody near the water: said to nobody whose water may be live or foul. */
const NEAR_WATER: ReadonlySet<SheetLine> = new Set([CARRY_UP, PUMP_DRY, PICTURE]);

/**
 * What to say and ask for a kind of call, as far as the caller has answered: gas alone where it is smelled; live
 * or foul water first; nothing asked that is answered.
 */
export function phoneSheet(kind: CallKind, answers: CallAnswers = NOTHING_ANSWERED): PhoneSheet {
  if (answers.smellOfGas === 'yes') return GAS_SHEET;
  const sheet = SHEETS[kind];
  const first = [
    ...(answers.waterNearElectricity === 'yes' ? [DO_NOT_ENTER, LIVE_WATER, POWER, DANGER] : []),
    ...(answers.sewage === 'yes' ? [DO_NOT_ENTER, SEWAGE] : []),
  ];
  const isFit = (each: SheetLine) => first.length === 0 || !NEAR_WATER.has(each);
  const sayFirst = [...new Set([...first, ...sheet.sayFirst.filter(isFit)])];
  return {
    sayFirst,
    ask: sheet.ask.filter(({ answer }) => answers[answer] === 'unknown'),
    whileTheyWait: sheet.whileTheyWait.filter((each) => isFit(each) && !sayFirst.includes(each)),
    never: sheet.never,
  };
}
