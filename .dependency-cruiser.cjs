// Imports point inward only:
//   cli -> commands -> main -> http, jobs, persistence, outside, demo, files -> actions -> domain, papers
const within = (...folders) => `^src/(${folders.join('|')})/`;

/** A folder of src may import itself, the folders named, and no other part of src. */
const mayImport = (folder, ...allowed) => ({
  name: `${folder}-looks-inward`,
  severity: 'error',
  from: { path: within(folder) },
  to: { path: '^src/', pathNot: within(folder, ...allowed) },
});

/** Pure numeric and drawing libraries: no clock, no files, no random source. */
const NUMERIC = '^node_modules/(@stdlib/[^/]+|d3-array|d3-path|d3-scale|d3-shape|@types/geojson)/';
/** Its own clock, Temporal.Now, is kept out by tests/house/pureCore.test.ts. */
const TIME_ZONES = '^node_modules/temporal-polyfill/';

module.exports = {
  forbidden: [
    mayImport('domain'),
    mayImport('papers', 'domain'),
    mayImport('actions', 'domain', 'papers'),
    mayImport('files', 'actions', 'domain'),
    mayImport('http', 'actions', 'domain', 'papers', 'files'),
    mayImport('jobs', 'actions', 'domain', 'papers', 'files'),
    mayImport('persistence', 'actions', 'domain', 'generated'),
    mayImport('outside', 'actions', 'domain'),
    mayImport('demo', 'actions', 'domain', 'papers', 'files'),
    {
      name: 'nobody-imports-the-top',
      comment: 'main.ts knows everyone, a command starts it, cli.ts chooses the command',
      severity: 'error',
      from: { path: '^src/', pathNot: '^src/(cli\\.ts|main\\.ts|commands/)' },
      to: { path: '^src/(cli\\.ts|main\\.ts|config\\.ts|commands/)' },
    },
    {
      name: 'main-starts-no-command',
      severity: 'error',
      from: { path: '^src/(main|config)\\.ts$' },
      to: { path: '^src/(cli\\.ts|commands/)' },
    },
    {
      name: 'pure-core',
      comment: 'domain takes time, chance and data as arguments: no node module, no package but numeric ones',
      severity: 'error',
      from: { path: within('domain') },
      to: { pathNot: ['^src/', NUMERIC, TIME_ZONES] },
    },
    {
      name: 'time-zones-in-the-calendar-only',
      severity: 'error',
      from: { path: within('domain'), pathNot: '^src/domain/calendar/' },
      to: { path: TIME_ZONES },
    },
    {
      name: 'papers-write-no-file',
      severity: 'error',
      from: { path: within('papers') },
      to: { path: '^(node:)?(fs|fs/promises|net|http|https|child_process|os|process|worker_threads)$' },
    },
    {
      name: 'zod-stands-at-the-doors',
      severity: 'error',
      from: { path: within('domain', 'papers', 'actions', 'persistence', 'jobs', 'demo') },
      to: { path: '^node_modules/zod/' },
    },
    {
      name: 'sql-stays-in-persistence',
      severity: 'error',
      from: { path: '^src/', pathNot: [within('persistence', 'jobs'), '^src/generated/'] },
      to: { path: '^node_modules/(@types/)?(pg|pg-copy-streams|@prisma)/' },
    },
    {
      name: 'nothing-unresolved',
      severity: 'error',
      from: {},
      to: { couldNotResolve: true },
    },
    {
      name: 'no-circle',
      severity: 'error',
      from: { pathNot: '^src/generated/' },
      to: { circular: true },
    },
    {
      name: 'no-dev-package',
      severity: 'error',
      from: { path: '^src/' },
      to: { dependencyTypes: ['npm-dev'], dependencyTypesNot: ['type-only'] },
    },
  ],
  options: {
    tsPreCompilationDeps: true,
    tsConfig: { fileName: 'tsconfig.json' },
    doNotFollow: { path: 'node_modules' },
    exclude: { path: '^src/generated/' },
    enhancedResolveOptions: {
      exportsFields: ['exports'],
      conditionNames: ['import', 'require', 'node', 'default', 'types'],
    },
  },
};
