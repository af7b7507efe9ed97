import { FORECAST_QUESTIONS } from './forecastQuestions.js';
import { MONEY_QUESTIONS } from './moneyQuestions.js';
import type { Question } from './question.js';
import { STATE_QUESTIONS } from './stateQuestions.js';
import { WORK_QUESTIONS } from './workQuestions.js';

/** Every question over the base; a new one is a line in one of these lists. */
export const QUESTIONS: readonly Question[] = [
  ...STATE_QUESTIONS,
  ...FORECAST_QUESTIONS,
  ...WORK_QUESTIONS,
  ...MONEY_QUESTIONS,
];
