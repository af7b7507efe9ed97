import type { FastifyInstance } from 'fastify';
import type { Role } from '../../src/domain/words.js';

export interface Answer {
  status: number;
  type: string;
  headers: Record<string, unknown>;
  text: string;
  // biome-ignore lint/suspicious/noExplicitAny: answers of many shapes are looked into
  body: any;
}

/** One request as it goes out. */
export interface Ask {
  method: string;
  url: string;
  headers: Record<string, string>;
  payload?: string | Buffer;
}

/** The service's HTTP door, with a key for each role. */
export class Door {
  private readonly app: FastifyInstance;
  readonly keys: Record<Role, string>;

  constructor(app: FastifyInstance, keys: Record<Role, string>) {
    this.app = app;
    this.keys = keys;
  }

  async send({ method, url, headers, payload }: Ask): Promise<Answer> {
    const answer = await this.app.inject({
      method: method as 'GET',
      url,
      headers,
      ...(payload === undefined ? {} : { payload }),
    });
    const type = String(answer.headers['content-type'] ?? '').split(';')[0] ?? '';
    let body: unknown;
    if (type.endsWith('json') && answer.body !== '') body = answer.json();
    return { status: answer.statusCode, type, headers: answer.headers, text: answer.body, body };
  }

  as(
    role: Role,
    method: string,
    url: string,
    body?: object,
    headers: Record<string, string> = {},
  ): Promise<Answer> {
    return this.send({
      method,
      url,
      headers: {
        authorization: `Bearer ${this.keys[role]}`,
        ...(body === undefined ? {} : { 'content-type': 'application/json' }),
        ...headers,
      },
      ...(body === undefined ? {} : { payload: JSON.stringify(body) }),
    });
  }

  /** Makes a record that other requests stand on. @returns Its id. */
  async make(list: string, body: object, role: Role = 'owner'): Promise<string> {
    const answer = await this.as(role, 'POST', `/v1/${list}`, body);
    if (answer.status >= 300)
      throw new Error(`the ground could not be laid: POST /v1/${list}: ${answer.text}`);
    return String(answer.body.id);
  }
}
