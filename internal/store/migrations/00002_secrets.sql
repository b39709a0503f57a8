-- +goose Up
CREATE TABLE secret (
  job    TEXT NOT NULL REFERENCES job(id),
  name   TEXT NOT NULL,
  sealed BLOB NOT NULL,      -- under the installation's key; the row goes when the job is erased
  PRIMARY KEY (job, name)
);

-- +goose Down
SELECT 1;
