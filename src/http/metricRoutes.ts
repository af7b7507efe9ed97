import type { FastifyInstance } from 'fastify';
import { Counter, collectDefaultMetrics, Gauge, Histogram, Registry } from 'prom-client';
import { z } from 'zod';
import { BACKLOGS, type Gauges, type OwnGauges } from '../actions/gauges.js';
import type { House } from '../actions/house.js';
import { RUN_STATES } from '../domain/words.js';
import { refusals } from './shapes.js';

const BUCKETS_S = [0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30];

/**
 * What a Prometheus server collects: requests by operation, never by address or id, and the gauges of the house.
 * Each process tells its own requests and connections; the rest is the same from every one of them.
 */
export function registerMetrics(
  app: FastifyInstance,
  house: House,
  {
    gauges = () => house.reads.gauges(house.clock.now()),
    own = () => house.reads.own(),
  }: { gauges?: () => Promise<Gauges>; own?: () => Promise<OwnGauges> } = {},
): void {
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
      .labels(operation ?? (request.is404 ? 'none' : 'page'), String(reply.statusCode))
      .observe(reply.elapsedTime / 1000);
  });
  const setOwn = ownGaugesOf(registry);
  const set = gaugesOf(registry, house.version);
  const up = new Gauge({
    name: 'openbore_database_up',
    help: '1: the database answered this scrape; 0: it did not, and what comes from it is of the last that it answered',
    registers: [registry],
  });

  app.get(
    '/metrics',
    {
      config: { roles: ['owner', 'integration', 'monitor'] },
      schema: {
        operationId: 'getMetrics',
        summary: 'Metrics in the Prometheus text format',
        tags: ['house'],
        response: { 200: z.string().describe('text/plain'), ...refusals() },
      },
    },
    async (request, reply) => {
      setOwn(await own());
      try {
        set(await gauges());
        up.set(1);
      } catch (error) {
        request.log.warn({ err: error }, 'metrics without the database: it does not answer');
        up.set(0);
      }
      return reply
        .type(registry.contentType)
        .serializer(String)
        .send(await registry.metrics());
    },
  );
}

type Make<T> = (name: string, help: string, ...labelNames: string[]) => T;

const gaugesIn =
  (registry: Registry): Make<Gauge> =>
  (name, help, ...labelNames) =>
    new Gauge({ name: `openbore_${name}`, help, labelNames, registers: [registry] });

/** Counted elsewhere since the start of the process: told as it stands. */
const countersIn =
  (registry: Registry): Make<Counter> =>
  (name, help, ...labelNames) =>
    new Counter({ name: `openbore_${name}`, help, labelNames, registers: [registry] });

function ownGaugesOf(registry: Registry): (now: OwnGauges) => void {
  const [gauge, counter] = [gaugesIn(registry), countersIn(registry)];
  const connections = gauge('connections', 'Database connections of this process', 'pool', 'state');
  const most = gauge('connections_max', 'The most that a pool opens', 'pool');
  const waiters = gauge('connection_waiters', 'Callers that wait for a connection', 'pool');
  const timeouts = counter('connection_timeouts_total', 'Callers that got no connection in time', 'pool');
  const free = gauge(
    'disk_free_bytes',
    'What may still be written where files, and an embedded database, lie',
    'of',
  );
  const beats = counter('heartbeats_lost_total', 'Signs of life of long work that could not be written down');
  const working = gauge('jobs_worked_on', 'Jobs that this process is at work on', 'job');
  return (now) => {
    timeouts.reset();
    for (const [pool, of] of Object.entries(now.pools)) {
      connections.labels(pool, 'busy').set(of.busy);
      connections.labels(pool, 'idle').set(of.idle);
      most.labels(pool).set(of.most);
      waiters.labels(pool).set(of.waiting);
      timeouts.labels(pool).inc(of.timeouts);
    }
    free.reset();
    for (const [of, bytes] of Object.entries(now.freeBytes)) free.labels(of).set(bytes);
    beats.reset();
    beats.inc(now.beatsLost);
    for (const [job, count] of Object.entries(now.working)) working.labels(job).set(count);
  };
}

function gaugesOf(registry: Registry, version: string): (now: Gauges) => void {
  const gauge = gaugesIn(registry);
  const jobs = gauge(
    'jobs',
    'Jobs of the queue: due and not begun, worked on, failed for good and undone',
    'state',
  );
  const jobAge = gauge('oldest_job_seconds', 'How long the oldest job is due that is not done');
  const unplaced = gauge('unplaced_orders', 'Orders that wait for a crew');
  const oldest = gauge('oldest_unplaced_seconds', 'Time since the oldest of them was made');
  const nightDay = gauge(
    'night_business_day_timestamp_seconds',
    'Latest business day that has a night (midnight UTC)',
  );
  const nightBegan = gauge('night_started_timestamp_seconds', 'When that night was last begun; 0: it waits');
  const nightState = gauge('night_state', '1 for the state of that night', 'state');
  const steps = gauge('night_step_seconds', 'What each step of that night took', 'step');
  const judged = gauge('forecasts_judged', 'Forecasts compared with what was found');
  const crossed = gauge('forecasts_crossed', 'Of them past the action limit, expected and found', 'which');
  const backlog = gauge(
    'backlog',
    'What waits to go out or to be taken in; failed within a day',
    'what',
    'state',
  );
  const backlogAge = gauge('oldest_backlog_seconds', 'Age of the oldest that waits', 'what');
  const held = gauge('post_held', '1: this base was restored, and nothing goes out');
  const backedUp = gauge(
    'last_backup_timestamp_seconds',
    'When this base was last backed up whole; 0: never',
  );
  const bytes = gauge('database_bytes', 'Size of the database on its disk');
  const build = gauge('build_info', '1, with release and last migration', 'version', 'migration');
  return (now) => {
    for (const state of ['waiting', 'locked', 'failed'] as const) jobs.labels(state).set(now.jobs[state]);
    jobAge.set(now.jobs.oldestS);
    unplaced.set(now.unplaced.orders);
    oldest.set(now.unplaced.oldestS);
    judged.set(now.forecasts.judged);
    crossed.labels('expected').set(now.forecasts.expected);
    crossed.labels('found').set(now.forecasts.passed);
    for (const what of BACKLOGS) {
      const { waiting, failed, oldestS } = now.backlog[what];
      backlog.labels(what, 'waiting').set(waiting);
      backlog.labels(what, 'failed').set(failed);
      backlogAge.labels(what).set(oldestS);
    }
    held.set(now.postHeld ? 1 : 0);
    backedUp.set(seconds(now.backedUpAt));
    bytes.set(now.databaseBytes);
    build.reset();
    build.labels(version, now.migrations.last).set(1);
    if (!now.night) return;
    nightDay.set(seconds(new Date(now.night.businessDay)));
    nightBegan.set(seconds(now.night.startedAt));
    for (const state of RUN_STATES) nightState.labels(state).set(state === now.night.state ? 1 : 0);
    steps.reset();
    for (const { name, seconds: took } of now.night.stepSeconds) steps.labels(name).set(took);
  };
}

const seconds = (at: Date | null): number => (at === null ? 0 : at.getTime() / 1000);
