import type { IProperty, Parameters } from "fast-check";
import { vi } from "vitest";

/** Thousands of changed programs are judged: a property that a change breaks is mostly seen broken within some runs. */
const mostRuns = 20;

vi.mock("fast-check", async (importOriginal) => {
  const original = await importOriginal<typeof import("fast-check")>();
  const assert = (property: IProperty<void>, parameters?: Parameters): void => {
    original.assert(property, {
      ...parameters,
      numRuns: Math.min(parameters?.numRuns ?? mostRuns, mostRuns),
    });
  };
  return { ...original, assert, default: { ...original.default, assert } };
});
