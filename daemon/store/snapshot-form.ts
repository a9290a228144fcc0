/** The form of a saved state, so that a later program knows what it reads. */
const formVersion = 1;

export type SnapshotRead =
  { readonly kind: "ok"; readonly state: unknown } | { readonly kind: "broken"; readonly reason: string };

/** Undefined when the state is not plain data. */
export const snapshotJson = (state: unknown): string | undefined => {
  try {
    return JSON.stringify({ form: formVersion, state });
  } catch {
    return undefined;
  }
};

export const snapshotState = (json: string): SnapshotRead => {
  let parsed: unknown;
  try {
    parsed = JSON.parse(json);
  } catch (error) {
    return {
      kind: "broken",
      reason: `the saved state is no JSON: ${error instanceof Error ? error.message : ""}`,
    };
  }
  if (typeof parsed !== "object" || parsed === null || !("form" in parsed)) {
    return { kind: "broken", reason: "the saved state does not say its form" };
  }
  if (parsed.form !== formVersion) {
    return {
      kind: "broken",
      reason: `the saved state has form ${String(parsed.form)}; this program knows ${formVersion}`,
    };
  }
  return { kind: "ok", state: "state" in parsed ? parsed.state : undefined };
};

/** An event is worth keeping even where its details can not be written. */
export const detailsJson = (details: Readonly<Record<string, unknown>>): string => {
  try {
    return JSON.stringify(details);
  } catch {
    return JSON.stringify({ unwritable: Object.keys(details) });
  }
};
