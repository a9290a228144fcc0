/**
 * What people saw, measured and did. A row is never changed: a wrong one is withdrawn by a later row, of the kind
 * "withdrawal", which names it. Kept for ever: a home writes a few a day.
 */
export const journal = `
CREATE TABLE journal (
  entryId            INTEGER PRIMARY KEY,
  at_epochMs         INTEGER NOT NULL,
  enteredAt_epochMs  INTEGER NOT NULL,
  source             TEXT NOT NULL CHECK (source IN ('local', 'remote')),
  kind               TEXT NOT NULL,
  subject            TEXT NOT NULL,
  fact               TEXT NOT NULL,
  note               TEXT NOT NULL,
  withdraws          INTEGER UNIQUE REFERENCES journal (entryId),
  CHECK ((kind = 'withdrawal') = (withdraws IS NOT NULL))
) STRICT;
CREATE INDEX journalByKindAndSubject ON journal (kind, subject, at_epochMs);
`;
