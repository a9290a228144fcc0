/**
 * A row of history has one integer as its key: its instant times 4096 plus the number of its series. Rows arrive in
 * the order of time and so are appended at the end of one tree; of an ordinary two-column key SQLite rewrites three
 * pages where this takes one and a half (measured), which on a flash card is the difference in wear. The instant
 * and the series are derived from it; a span is asked for by the key.
 */
export const siteHistory = `
CREATE TABLE series (
  seriesId  INTEGER PRIMARY KEY,
  sensorId  TEXT NOT NULL,
  quantity  TEXT NOT NULL,
  UNIQUE (sensorId, quantity)
) STRICT;

CREATE TABLE readings (
  timeAndSeries  INTEGER PRIMARY KEY,
  at_epochMs     INTEGER AS (timeAndSeries / 4096) VIRTUAL,
  seriesId       INTEGER AS (timeAndSeries % 4096) VIRTUAL,
  value          REAL NOT NULL
) STRICT;

CREATE TABLE oneMinute (
  timeAndSeries  INTEGER PRIMARY KEY,
  from_epochMs   INTEGER AS (timeAndSeries / 4096) VIRTUAL,
  seriesId       INTEGER AS (timeAndSeries % 4096) VIRTUAL,
  minimum        REAL NOT NULL,
  mean           REAL NOT NULL,
  maximum        REAL NOT NULL,
  count          INTEGER NOT NULL
) STRICT;

CREATE TABLE fifteenMinute (
  timeAndSeries  INTEGER PRIMARY KEY,
  from_epochMs   INTEGER AS (timeAndSeries / 4096) VIRTUAL,
  seriesId       INTEGER AS (timeAndSeries % 4096) VIRTUAL,
  minimum        REAL NOT NULL,
  mean           REAL NOT NULL,
  maximum        REAL NOT NULL,
  count          INTEGER NOT NULL
) STRICT;

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
