import { defineConfig } from 'prisma/config';

/** For Prisma's own command line (`npx prisma studio`); the service and our scripts do not read it. */
export default defineConfig({
  schema: 'prisma/schema.prisma',
  migrations: { path: 'prisma/migrations' },
  datasource: { url: process.env['DATABASE_URL'] ?? 'postgresql://localhost/openbore' },
});
