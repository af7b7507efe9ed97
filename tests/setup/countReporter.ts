import type { Reporter, TestModule } from 'vitest/node';

/** Prints the plain last line `N passed, N failed` for a CI that reads counts. */
export default class CountReporter implements Reporter {
  onTestRunEnd(modules: readonly TestModule[], unhandledErrors: readonly unknown[]): void {
    let passed = 0;
    let failed = unhandledErrors.length;
    for (const module of modules) {
      if (module.errors().length > 0) failed++;
      for (const test of module.children.allTests()) {
        const { state } = test.result();
        if (state === 'passed') passed++;
        if (state === 'failed') failed++;
      }
    }
    // After the default reporter's own summary.
    process.once('exit', () => process.stdout.write(`${passed} passed, ${failed} failed\n`));
  }
}
