import helmet from '@fastify/helmet';
import rateLimit from '@fastify/rate-limit';
import swagger from '@fastify/swagger';
import Fastify, {
  type FastifyInstance,
  type FastifyRequest,
  type FastifyServerOptions,
  LogController,
} from 'fastify';
import {
  jsonSchemaTransform,
  jsonSchemaTransformObject,
  serializerCompiler,
  validatorCompiler,
} from 'fastify-type-provider-zod';
import type { Gauges, OwnGauges } from '../actions/gauges.js';
import type { House } from '../actions/house.js';
import { plainTools } from '../actions/plans/plainTools.js';
import type { TravelTable } from '../actions/plans/planTools.js';
import type { UrlRule } from '../actions/telling/webhookEndpoints.js';
import { refuseUnanswerable, tellMediaRefusal } from './accepts.js';
import { registerAttachmentRoutes } from './attachmentRoutes.js';
import { takeBodies } from './bodies.js';
import { BODY_TIMES, type BodyTimes, watchBodies, watchBody } from './bodyTime.js';
import { registerCalculationRoutes } from './calculationRoutes.js';
import { registerChangeRoutes } from './changeRoutes.js';
import { registerConflictRoutes } from './conflictRoutes.js';
import { openCursors } from './cursorSeal.js';
import { registerDeskRoutes } from './desk/deskRoutes.js';
import { registerDisruptionRoutes } from './disruptionRoutes.js';
import { drains } from './draining.js';
import { registerErasureRoutes } from './erasureRoutes.js';
import { registerEventRoutes } from './eventRoutes.js';
import { registerFeedRoutes } from './feedRoutes.js';
import { registerFindingRoutes } from './findingRoutes.js';
import { registerHouseRoutes } from './houseRoutes.js';
import { checkKeys, knowCallers } from './keyCheck.js';
import { registerLineFigureRoutes } from './lineFigureRoutes.js';
import { logAnswers } from './loggedRequest.js';
import { registerMailRoutes } from './mailRoutes.js';
import { registerMapRoutes } from './mapRoutes.js';
import { registerMetrics } from './metricRoutes.js';
import { registerNightlyRunRoutes } from './nightlyRunRoutes.js';
import { registerOnSiteRoutes } from './onSiteRoutes.js';
import { withHeaders } from './openapiHeaders.js';
import { withMediaTypes } from './openapiMedia.js';
import { tellKeyRefusals, withDoorRefusals } from './openapiRefusals.js';
import { withUsedSchemas } from './openapiSchemas.js';
import { registerOpeningRoutes } from './openingRoutes.js';
import { registerPaperRoutes } from './paperRoutes.js';
import { registerPipeRoutes } from './pipeRoutes.js';
import { registerPlacementRoutes } from './placementRoutes.js';
import { registerPlanRoutes } from './planRoutes.js';
import { answerError, answerUnreadable, sendNoRoute } from './problemAnswers.js';
import { registerProposalRoutes } from './proposalRoutes.js';
import { registerReferencePage } from './referencePage.js';
import { QUESTIONS } from './reports/all.js';
import { registerQuestion } from './reports/question.js';
import { nameAnswers, requestIds } from './requestId.js';
import { registerResource } from './resource.js';
import { registerResourceBatch } from './resourceBatch.js';
import { RESOURCES } from './resources/all.js';
import { registerReviewRoutes } from './reviewRoutes.js';
import { registerRoutePictureRoutes } from './routePictureRoutes.js';
import { registerRouteRoutes } from './routeRoutes.js';
import { registerSettingRoutes } from './settingRoutes.js';
import { registerSketchRoutes } from './sketchRoutes.js';
import { registerSyncRoutes } from './syncRoutes.js';
import { registerTrendRoutes } from './trendRoutes.js';
import { registerWebhookRoutes } from './webhookRoutes.js';
import { registerWhatIfRoutes } from './whatIfRoutes.js';
import { registerWorkLifeRoutes } from './workLifeRoutes.js';
import { registerWorkOrderRoutes } from './workOrderRoutes.js';

/** Beside being ready: what somebody should look at, though work goes on. */
export interface Readiness {
  /** The last night, where it failed. */
  failedNight?: { businessDay: string; code: 'night-failed' };
}

export interface AppOptions {
  logger?: FastifyServerOptions['logger'];
  /** Checks every answer against its published schema: for tests, too dear for service. */
  checkAnswers?: boolean;
  /** Requests a minute and key; 0: no limit. */
  requestsPerMinute?: number;
  /** What /ready tells; null: the service cannot do its work. */
  ready?: () => Promise<Readiness | null>;
  /** What the metrics tell of the house; absent: read over its own connections. */
  gauges?: () => Promise<Gauges>;
  /** What the metrics tell of this process; absent: its connections alone. */
  own?: () => Promise<OwnGauges>;
  /** How long bodies may take; absent: as in service. */
  bodyTimes?: BodyTimes;
  /** Where travel times come from; absent: the great circle. */
  travel?: TravelTable;
  /** What forbids an address for outgoing calls that can be seen from it; absent: that it is not https. */
  refusesUrl?: UrlRule;
  /** Addresses and networks whose word on who called is believed, as `10.0.0.5, 10.1.0.0/16`; absent: nobody's. */
  trustedProxy?: string;
  /** Where the service is reached from outside, without a slash at its end. */
  publicUrl?: string;
}

const httpsOnly: UrlRule = (url) => (url.startsWith('https://') ? null : 'it does not begin with https://');

const LONGEST_PARAMETER = 200;
const REQUESTS_PER_MINUTE = 1200;
const WATCHED: ReadonlySet<string> = new Set(['/health', '/ready']);

/**
 * A caller is a key that is known; who sends none is an address. What strangers ask at an address takes nothing from its
 * calendars and from who wants no more mails: many callers may have one, behind a proxy.
 */
async function bucketOf(request: FastifyRequest): Promise<string> {
  const caller = await request.caller();
  if (caller !== null) return caller.keyId;
  const [, own] = /^\/(feeds|unsubscribe)\//.exec(request.routeOptions.url ?? '') ?? [];
  return `${own ?? (request.headers.authorization === undefined ? '' : 'guess')}:${request.ip}`;
}

const SEEN_ONLY =
  "default-src 'none'; style-src 'unsafe-inline'; img-src data:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/** The whole HTTP door. Listening is the caller's business. */
export async function buildApp(house: House, options: AppOptions = {}): Promise<FastifyInstance> {
  const bodyTimes = options.bodyTimes ?? BODY_TIMES;
  const app = Fastify({
    logger: options.logger ?? false,
    logController: new LogController({ disableRequestLogging: true }),
    bodyLimit: 4 * 1024 * 1024,
    genReqId: requestIds(options.trustedProxy),
    // Beyond what is looked at request by request.
    requestTimeout: bodyTimes.fileMs + 60_000,
    // What comes over an open connection in the last moment is answered, not turned away.
    return503OnClosing: false,
    ...(options.trustedProxy ? { trustProxy: options.trustedProxy } : {}),
    routerOptions: { maxParamLength: LONGEST_PARAMETER },
    frameworkErrors: (error, request, reply) => {
      watchBody(request, reply, bodyTimes);
      answerError(error, request, reply);
    },
    clientErrorHandler: (error, socket) => answerUnreadable(error, socket),
  });
  app.setValidatorCompiler(validatorCompiler);
  app.setSerializerCompiler(options.checkAnswers ? serializerCompiler : () => JSON.stringify);
  app.setErrorHandler(answerError);
  watchBodies(app, bodyTimes);
  takeBodies(app);
  nameAnswers(app);
  drains(app);
  logAnswers(app);

  await app.register(helmet, { contentSecurityPolicy: false });
  knowCallers(app, house, options.requestsPerMinute ?? REQUESTS_PER_MINUTE);
  if (options.requestsPerMinute !== 0) {
    await app.register(rateLimit, {
      global: false,
      max: options.requestsPerMinute ?? REQUESTS_PER_MINUTE,
      timeWindow: '1 minute',
      keyGenerator: bucketOf,
      // Whoever watches over the service is answered, whatever others do at the same address.
      allowList: (request) => WATCHED.has(request.routeOptions.url ?? ''),
    });
    // Before the keys are checked, so that what is refused counts as well.
    app.addHook('onRequest', app.rateLimit());
  }
  // Pages and pictures run nothing and load nothing; those that must have a policy of their own.
  app.addHook('onSend', async (_request, reply, payload) => {
    const isSeen = /^(text\/html|image\/svg\+xml)/.test(String(reply.getHeader('content-type') ?? ''));
    if (isSeen && !reply.hasHeader('content-security-policy'))
      reply.header('content-security-policy', SEEN_ONLY);
    return payload;
  });
  app.setNotFoundHandler(sendNoRoute);
  await app.register(swagger, {
    openapi: {
      openapi: '3.1.0',
      info: {
        title: 'Openbore',
        version: house.version,
        license: { name: 'MIT', identifier: 'MIT' },
        description:
          'Keeps the buried drain lines of a client base open: records what is found, learns how fast each line fouls, sets due dates, makes work orders, plans routes.',
      },
      servers: [{ url: '/' }],
      components: { securitySchemes: { key: { type: 'http', scheme: 'bearer' } } },
      security: [{ key: [] }],
    },
    transform: (input) => {
      const roles = input.route.config?.roles;
      const out = jsonSchemaTransform(input);
      const schema = out.schema as Record<string, unknown>;
      tellMediaRefusal(schema['response'], input.route.config?.offers);
      tellKeyRefusals(schema['response'], roles);
      if (roles === 'public') schema['security'] = [];
      else if (roles && !input.schema?.hide) {
        schema['description'] = [schema['description'], `Roles: ${roles.join(', ')}.`]
          .filter(Boolean)
          .join('\n\n');
      }
      return out;
    },
    transformObject: (input) =>
      withUsedSchemas(withHeaders(withDoorRefusals(withMediaTypes(jsonSchemaTransformObject(input))))),
  });
  await registerReferencePage(app);
  checkKeys(app);
  openCursors(app, house);
  refuseUnanswerable(app);
  app.get('/health', {
    config: { roles: 'public' },
    schema: { hide: true },
    handler: async () => ({ status: 'up' }),
  });
  app.get('/ready', {
    config: { roles: 'public' },
    schema: { hide: true },
    handler: async (_request, reply) => {
      if (app.isDraining()) return reply.code(503).send({ status: 'stopping' });
      const told = options.ready ? await options.ready() : {};
      return told ? { status: 'ready', ...told } : reply.code(503).send({ status: 'not ready' });
    },
  });
  registerMetrics(app, house, options);
  registerOpeningRoutes(app, house);
  for (const resource of RESOURCES) {
    registerResource(app, house, resource);
    registerResourceBatch(app, house, resource);
  }
  registerFindingRoutes(app, house);
  registerTrendRoutes(app, house);
  registerProposalRoutes(app, house);
  registerWhatIfRoutes(app, house);
  for (const asked of QUESTIONS) registerQuestion(app, house, asked);
  registerWorkOrderRoutes(app, house);
  registerRouteRoutes(app, house);
  registerRoutePictureRoutes(app, house);
  registerPaperRoutes(app, house);
  registerPlanRoutes(app, house);
  registerPlacementRoutes(app, house, options.travel ?? plainTools.travel);
  registerDeskRoutes(app, house, options.travel ?? plainTools.travel);
  registerDisruptionRoutes(app, house);
  registerNightlyRunRoutes(app, house);
  registerReviewRoutes(app, house);
  registerConflictRoutes(app, house);
  registerChangeRoutes(app, house);
  registerErasureRoutes(app, house);
  registerEventRoutes(app, house);
  registerWebhookRoutes(app, house, options.refusesUrl ?? httpsOnly);
  registerMailRoutes(app, house);
  registerFeedRoutes(app, house, options.publicUrl);
  registerMapRoutes(app, house);
  registerSettingRoutes(app, house);
  registerHouseRoutes(app, house);
  registerPipeRoutes(app, house);
  registerLineFigureRoutes(app, house);
  registerCalculationRoutes(app, house);
  registerWorkLifeRoutes(app, house);
  registerSyncRoutes(app, house);
  registerOnSiteRoutes(app, house);
  registerAttachmentRoutes(app, house);
  registerSketchRoutes(app, house);
  return app;
}
