// A process that runs an embedded database until it is told to stop or is killed:
// `node holdDatabase.mjs FOLDER` (or `temporary`), prints one JSON line when the database answers.
import { importSource } from '../../prisma/importSource.mjs';

const { startEmbedded } = await importSource('persistence/embeddedPostgres.ts');
const [folder] = process.argv.slice(2);
const server = await startEmbedded(folder === 'temporary' ? { durable: false } : { folder });
console.log(JSON.stringify({ url: server.url(), serverPid: server.pid(), origin: server.origin }));
process.once('SIGTERM', () => server.stop());
