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
export async function askDaemon<Answer>(path: string): Promise<Answer> {
  const response = await fetch(path, { headers: { Accept: "application/json" } });
  if (!response.ok) throw new DaemonAnswerError(response.status, (await response.text()).trim());
  return (await response.json()) as Answer;
}
