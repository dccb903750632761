-- One table of entries that only grows, and views that lay open what is in them, as in the embedded store.
CREATE TABLE events (
  seq BIGINT PRIMARY KEY CHECK (seq > 0),  -- the order in which entries were acknowledged, without a gap
  stream TEXT NOT NULL CHECK (stream IN ('stock', 'work', 'confirmed')),
  id BIGINT NOT NULL CHECK (id > 0),       -- the number that people know it by, rising in its stream
  about TEXT NOT NULL,                     -- the lot, the job or the fact
  body TEXT NOT NULL,                      -- the document, JSON, letter by letter as its hash covers it
  hash TEXT NOT NULL,                      -- SHA-256 over the hash before, seq, stream, id, about and body, a line each
  UNIQUE (stream, id)
);
CREATE INDEX events_about ON events (stream, about);

CREATE FUNCTION only_ever_added() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION 'events are only ever added' USING ERRCODE = 'restrict_violation'; END $$;
CREATE TRIGGER events_are_never_changed BEFORE UPDATE OR DELETE ON events
  FOR EACH ROW EXECUTE FUNCTION only_ever_added();
CREATE TRIGGER events_are_never_emptied BEFORE TRUNCATE ON events
  FOR EACH STATEMENT EXECUTE FUNCTION only_ever_added();

CREATE TABLE reached (seq BIGINT NOT NULL);  -- one row: the place of the last entry, so that a missing one is missed
INSERT INTO reached VALUES (0);

CREATE TABLE once (
  word TEXT PRIMARY KEY,                   -- what a request of the pages or the API carries, so that it is done once
  place BIGINT GENERATED ALWAYS AS IDENTITY,
  asked TEXT NOT NULL,
  answer TEXT NOT NULL
);

CREATE VIEW installations AS
SELECT e.id AS record, e.about AS job, i ->> 'installation' AS installation, i ->> 'part' AS part,
  i ->> 'outcome' AS outcome, i ->> 'why' AS why, e.body::json ->> 'at' AS at, e.body::json ->> 'who' AS who,
  i -> 'lots' AS lots
FROM events e, json_array_elements(e.body::json -> 'installations') i
WHERE e.stream = 'work' AND e.body::json ->> 'type' = 'installed';

CREATE VIEW readings AS
SELECT e.id AS record, e.about AS job, i ->> 'installation' AS installation, r.key AS quantity, r.value AS value
FROM events e, json_array_elements(e.body::json -> 'installations') i, json_each_text(i -> 'readings') r
WHERE e.stream = 'work' AND e.body::json ->> 'type' = 'installed';

CREATE VIEW reservations AS
SELECT e.id AS reservation, e.about AS job, e.body::json ->> 'at' AS at, d ->> 'lot' AS lot,
  d ->> 'quantity' AS quantity, d ->> 'unit' AS unit
FROM events e, json_array_elements(e.body::json -> 'draws') d
WHERE e.stream = 'work' AND e.body::json ->> 'type' = 'reserved';

CREATE VIEW confirmations AS
SELECT id, about AS fact, body FROM events WHERE stream = 'confirmed';
