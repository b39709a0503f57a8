-- +goose Up
CREATE TABLE installation (
  name  TEXT PRIMARY KEY,
  value BLOB NOT NULL
);
CREATE TABLE job (
  id      TEXT PRIMARY KEY,
  created BIGINT NOT NULL,   -- milliseconds since 1970, UTC
  erased  INTEGER NOT NULL DEFAULT 0
);
CREATE TABLE job_key (
  job     TEXT PRIMARY KEY REFERENCES job(id),
  wrapped BLOB NOT NULL      -- the job's key, sealed under the installation's; the row goes when the job is erased
);
CREATE TABLE entry (
  job  TEXT NOT NULL REFERENCES job(id),
  seq  BIGINT NOT NULL,
  id   TEXT NOT NULL,
  json TEXT NOT NULL,        -- the entry's canonical JSON, as in an export
  PRIMARY KEY (job, seq)
);
CREATE UNIQUE INDEX entry_id ON entry (job, id);
CREATE TABLE taken (
  receiver TEXT PRIMARY KEY,
  row      BIGINT NOT NULL
);
CREATE TABLE blob (
  job     TEXT NOT NULL REFERENCES job(id),
  address TEXT NOT NULL,
  sealed  BLOB NOT NULL,
  PRIMARY KEY (job, address)
);

-- +goose Down
SELECT 1;
