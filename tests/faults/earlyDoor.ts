import { createServer, type Server } from 'node:http';

/**
 * The control: a door before the service that says "done" before the service has heard of the write. What is
 * lost behind it must be found by the same checks, else they prove nothing.
 */
export function earlyDoor(servicePort: number): Promise<Server> {
  const server = createServer((request, response) => {
    const parts: Buffer[] = [];
    request.on('data', (part: Buffer) => parts.push(part));
    request.on('end', () => {
      const body = Buffer.concat(parts);
      const headers = Object.fromEntries(
        Object.entries(request.headers).filter(
          ([name]) => !['host', 'connection', 'content-length'].includes(name),
        ),
      ) as Record<string, string>;
      const forward = () =>
        fetch(`http://127.0.0.1:${servicePort}${request.url}`, {
          method: request.method ?? 'GET',
          headers,
          ...(body.length > 0 ? { body } : {}),
          signal: AbortSignal.timeout(10_000),
        });
      if (request.method === 'POST') {
        response.writeHead(201, { 'content-type': 'application/json' }).end(body);
        forward().catch(() => undefined);
        return;
      }
      forward()
        .then(async (answer) =>
          response
            .writeHead(answer.status, Object.fromEntries(answer.headers))
            .end(Buffer.from(await answer.arrayBuffer())),
        )
        .catch(() => response.destroy());
    });
  });
  return new Promise((resolve) => server.listen(0, '127.0.0.1', () => resolve(server)));
}
