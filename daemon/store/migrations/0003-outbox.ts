/**
 * Messages to people. One that waits goes out until its channel has taken it or it is too old; one that is settled stays for
 * a while, so that a person can see what was sent.
 */
export const outbox = `
CREATE TABLE outbox (
  messageKey          TEXT PRIMARY KEY,
  channel             TEXT NOT NULL,
  createdAt_epochMs   INTEGER NOT NULL,
  content             TEXT NOT NULL,
  state               TEXT NOT NULL CHECK (state IN ('waiting', 'delivered', 'given up')),
  settledAt_epochMs   INTEGER,
  CHECK ((state = 'waiting') = (settledAt_epochMs IS NULL))
) STRICT;
CREATE INDEX outboxByState ON outbox (state, createdAt_epochMs);
`;
