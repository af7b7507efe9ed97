import { dayStripFigure } from './dayStrip.js';
import { stackedFigures } from './figure.js';
import { weekdayText } from './printed.js';
import type { RoutesDay } from './routesDay.js';
import { routesMapFigure, routesWidth } from './routesMap.js';

/** A day's routes on one sheet: the map, and under it the hours of each crew. */
export function routesSheet(day: RoutesDay): string {
  return stackedFigures(`Routes and hours of ${weekdayText(day.day)}`, [
    routesMapFigure(day),
    dayStripFigure(day, routesWidth(day)),
  ]);
}
