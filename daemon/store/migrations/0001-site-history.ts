/**
 * Keys begin with the time: readings arrive in its order, so a batch of all sensors fills one page at the end of
 * the tree instead of one page for each sensor, which on a flash card is the difference in wear.
 * at_epochMs and value have no defaults; a missing one must fail.
 */
export const siteHistory = `
CREATE TABLE series (
  seriesId  INTEGER PRIMARY KEY,
  sensorId  TEXT NOT NULL,
  quantity  TEXT NOT NULL,
  UNIQUE (sensorId, quantity)
) STRICT;

CREATE TABLE readings (
  at_epochMs  INTEGER NOT NULL,
  seriesId    INTEGER NOT NULL REFERENCES series,
  value       REAL NOT NULL,
  PRIMARY KEY (at_epochMs, seriesId)
) STRICT, WITHOUT ROWID;

CREATE TABLE oneMinute (
  from_epochMs  INTEGER NOT NULL,
  seriesId      INTEGER NOT NULL REFERENCES series,
  minimum       REAL NOT NULL,
  mean          REAL NOT NULL,
  maximum       REAL NOT NULL,
  count         INTEGER NOT NULL,
  PRIMARY KEY (from_epochMs, seriesId)
) STRICT, WITHOUT ROWID;

CREATE TABLE fifteenMinute (
  from_epochMs  INTEGER NOT NULL,
  seriesId      INTEGER NOT NULL REFERENCES series,
  minimum       REAL NOT NULL,
  mean          REAL NOT NULL,
  maximum       REAL NOT NULL,
  count         INTEGER NOT NULL,
  PRIMARY KEY (from_epochMs, seriesId)
) STRICT, WITHOUT ROWID;

-- How far each table is complete (rolled up until) and how far it was deleted (deleted until).
CREATE TABLE progress (
  name                  TEXT PRIMARY KEY,
  rolledUntil_epochMs   INTEGER NOT NULL,
  deletedUntil_epochMs  INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
INSERT INTO progress VALUES ('readings', 0, 0), ('oneMinute', 0, 0), ('fifteenMinute', 0, 0);

CREATE TABLE events (
  eventId     INTEGER PRIMARY KEY,
  at_epochMs  INTEGER NOT NULL,
  area        TEXT NOT NULL,
  subject     TEXT NOT NULL,
  what        TEXT NOT NULL,
  reason      TEXT NOT NULL,
  details     TEXT NOT NULL
) STRICT;
CREATE INDEX eventsByTime ON events (at_epochMs);

CREATE TABLE snapshots (
  name        TEXT PRIMARY KEY,
  json        TEXT NOT NULL,
  at_epochMs  INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
`;
