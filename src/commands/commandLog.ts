import { type Logger, pino } from 'pino';

/** What a command warns of goes beside its answer, which others read from standard output. */
export const commandLog = (): Logger => pino({ level: 'warn' }, pino.destination(2));
