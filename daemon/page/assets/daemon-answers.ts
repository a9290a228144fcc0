import type { PlanAnswer, WriteAnswer } from "../page-contract.js";

/** The daemon's own words for why it did not answer. */
export class DaemonAnswerError extends Error {
  override readonly name = "DaemonAnswerError";
  constructor(
    readonly status: number,
    message: string,
  ) {
    super(message);
  }
}

/** The types are those of page-contract.ts, of the daemon that also gave this script. */
export function askDaemon<Answer>(path: string): Promise<Answer> {
  return answered(path, { headers: { Accept: "application/json" } });
}

/** Has something done. A refusal is an answer, not an error. */
export function sendToDaemon(path: string, body: unknown): Promise<WriteAnswer> {
  return answered(path, posted(body));
}

export function askPlan(wish: unknown): Promise<PlanAnswer> {
  return answered("/api/plan", posted(wish));
}

function posted(body: unknown): RequestInit {
  return { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) };
}

async function answered<Answer>(path: string, request: RequestInit): Promise<Answer> {
  const response = await fetch(path, request);
  if (!response.ok) throw new DaemonAnswerError(response.status, (await response.text()).trim());
  return (await response.json()) as Answer;
}
