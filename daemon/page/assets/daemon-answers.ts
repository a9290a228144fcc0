import type { PlanAnswer, SessionPicture, WriteAnswer } from "../page-contract.js";

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

/** A daemon that is gone is not waited for. */
const patience_ms = 30_000;
let word: string | undefined;

/** The types are those of page-contract.ts, of the daemon that also gave this script. */
export async function askDaemon<Answer>(path: string): Promise<Answer> {
  return read<Answer>(await fetch(path, { signal: AbortSignal.timeout(patience_ms) }));
}

/** Who we are to the daemon; from then on writes carry the session's word. */
export async function askSession(): Promise<SessionPicture> {
  const session = await askDaemon<SessionPicture>("/api/session");
  word = session.word;
  return session;
}

/** Has something done. A refusal is an answer, not an error. */
export async function sendToDaemon(path: string, body: unknown): Promise<WriteAnswer> {
  return read<WriteAnswer>(await post(path, body));
}

export async function askPlan(wish: unknown): Promise<PlanAnswer> {
  return read<PlanAnswer>(await post("/api/plan", wish));
}

/** @throws DaemonAnswerError where the token is wrong, or too many were tried */
export async function logIn(token: string): Promise<void> {
  await read(await post("/api/login", { token }));
}

async function post(path: string, body: unknown): Promise<Response> {
  // A daemon that was started anew has another word where it asks for no token.
  const response = await tried(path, body);
  if (response.status !== 403 || path === "/api/login") return response;
  await askSession();
  return tried(path, body);
}

function tried(path: string, body: unknown): Promise<Response> {
  return fetch(path, {
    method: "POST",
    headers: {
      "Content-Type": "application/json",
      ...(word === undefined ? {} : { "X-Fizzward-Word": word }),
    },
    body: JSON.stringify(body),
    signal: AbortSignal.timeout(patience_ms),
  });
}

async function read<Answer>(response: Response): Promise<Answer> {
  if (!response.ok) throw new DaemonAnswerError(response.status, (await response.text()).trim());
  return (await response.json()) as Answer;
}
