import { defineConfig } from 'vitest/config';

const pure = ['tests/domain/**', 'tests/papers/**', 'tests/files/**', 'tests/house/**', 'tests/demo/**'];

export default defineConfig({
  test: {
    reporters: ['default', './tests/setup/countReporter.ts'],
    pool: 'forks',
    testTimeout: 60_000,
    hookTimeout: 120_000,
    projects: [
      { extends: true, test: { name: 'pure', include: pure.map((folder) => `${folder}/*.test.ts`) } },
      {
        extends: true,
        test: {
          name: 'service',
          include: ['tests/**/*.test.ts'],
          exclude: pure.map((folder) => `${folder}/*.test.ts`),
          globalSetup: './tests/setup/database.ts',
        },
      },
    ],
  },
});
