import type { FastifyInstance } from 'fastify';
import { collectDefaultMetrics, Gauge, Histogram, Registry } from 'prom-client';
import { z } from 'zod';
import type { Gauges } from '../actions/gauges.js';
import type { House } from '../actions/house.js';
import { RUN_STATES } from '../domain/words.js';
import { refusals } from './shapes.js';

const BUCKETS_S = [0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30];

/**
 * What a Prometheus server collects: requests by operation, never by address or id, and the gauges of the house.
 * Each process tells its own requests and connections; the rest is the same from every one of them.
 */
export function registerMetrics(app: FastifyInstance, house: House): void {
  const registry = new Registry();
  collectDefaultMetrics({ register: registry });
  const requests = new Histogram({
    name: 'openbore_request_seconds',
    help: 'Time from request to answer, by operation and status',
    labelNames: ['operation', 'status'],
    buckets: BUCKETS_S,
    registers: [registry],
  });
  app.addHook('onResponse', async (request, reply) => {
    const { schema } = request.routeOptions;
    const operation = (schema as { operationId?: string } | undefined)?.operationId;
    requests
      .labels(operation ?? (request.is404 ? 'no route' : 'page'), String(reply.statusCode))
      .observe(reply.elapsedTime / 1000);
  });
  const set = gaugesOf(registry);

  app.get(
    '/metrics',
    {
      config: { roles: ['owner', 'integration'] },
      schema: {
        operationId: 'getMetrics',
        summary: 'Metrics in the Prometheus text format',
        tags: ['house'],
        response: { 200: z.string().describe('text/plain'), ...refusals() },
      },
    },
    async (_request, reply) => {
      set(await house.reads.gauges(house.clock.now()));
      return reply
        .type(registry.contentType)
        .serializer(String)
        .send(await registry.metrics());
    },
  );
}

function gaugesOf(registry: Registry): (now: Gauges) => void {
  const gauge = (name: string, help: string, ...labelNames: string[]) =>
    new Gauge({ name: `openbore_${name}`, help, labelNames, registers: [registry] });
  const connections = gauge('connections', 'Database connections of this process', 'state');
  const jobs = gauge('jobs', 'Jobs of the queue: due and not begun, failed for good', 'state');
  const unplaced = gauge('unplaced_orders', 'Orders that wait for a crew');
  const oldest = gauge('oldest_unplaced_days', 'Days since the oldest of them was made');
  const nightAge = gauge('night_age_seconds', 'Seconds since the last night began');
  const nightState = gauge('night_state', '1 for the state of the last night', 'state');
  const steps = gauge('night_step_seconds', 'What each step of the last night took', 'step');
  const judged = gauge('forecasts_judged', 'Forecasts compared with what was found');
  const crossed = gauge('forecasts_crossed', 'Of them past the action limit, expected and found', 'which');
  return (now) => {
    for (const [state, n] of Object.entries(now.connections)) connections.labels(state).set(n);
    for (const [state, n] of Object.entries(now.jobs)) jobs.labels(state).set(n);
    unplaced.set(now.unplaced.orders);
    oldest.set(now.unplaced.oldestDays);
    judged.set(now.forecasts.judged);
    crossed.labels('expected').set(now.forecasts.expected);
    crossed.labels('found').set(now.forecasts.passed);
    if (!now.night) return;
    nightAge.set(now.night.ageS);
    for (const state of RUN_STATES) nightState.labels(state).set(state === now.night.state ? 1 : 0);
    steps.reset();
    for (const { name, seconds } of now.night.stepSeconds) steps.labels(name).set(seconds);
  };
}
