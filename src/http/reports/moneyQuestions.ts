import type { Question } from './question.js';

export const MONEY_QUESTIONS: readonly Question[] = [];
