import type { FastifyInstance } from 'fastify';
import type { House } from '../../actions/house.js';
import type { TravelTable } from '../../actions/plans/planTools.js';
import { registerCallRoutes } from './callRoutes.js';
import { registerClientRoutes } from './clientRoutes.js';
import { registerDayRoutes } from './dayRoutes.js';
import { registerFirstMonthsRoutes } from './firstMonthsRoutes.js';

/** The dispatcher's desk: the day, the phone, the books of clients. */
export function registerDeskRoutes(app: FastifyInstance, house: House, travel: TravelTable): void {
  registerDayRoutes(app, house, travel);
  registerCallRoutes(app, house);
  registerClientRoutes(app, house);
  registerFirstMonthsRoutes(app, house);
}
