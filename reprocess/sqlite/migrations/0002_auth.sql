-- Sign-in. None of these tables is folded from the ledger; the program lists each with the
-- reason why. Moments are Unix milliseconds in UTC, 0 for none.

-- The stored hash of each person's secret. The ledger holds an HMAC of it (secret_mac).
CREATE TABLE secret (
  person TEXT PRIMARY KEY, -- person id
  phc    TEXT NOT NULL,    -- $argon2id$..., over an HMAC under the pepper
  at     INTEGER NOT NULL  -- ms UTC
) STRICT, WITHOUT ROWID;

-- Wrong secrets in a row, by person.
CREATE TABLE guess (
  who        TEXT PRIMARY KEY, -- person id; for a name nobody has: ? and an HMAC of it
  failed     INTEGER NOT NULL, -- in a row
  wait_until INTEGER NOT NULL, -- ms UTC, no try before
  last       INTEGER NOT NULL  -- ms UTC
) STRICT, WITHOUT ROWID;

-- Wrong secrets of the last hour, by phone.
CREATE TABLE phone_guess (
  id    INTEGER PRIMARY KEY,
  phone TEXT NOT NULL,    -- phone id
  at    INTEGER NOT NULL  -- ms UTC
) STRICT;
CREATE INDEX phone_guess_phone ON phone_guess (phone, at);

CREATE TABLE session (
  hash    BLOB PRIMARY KEY, -- SHA-256 of the token
  person  TEXT NOT NULL,    -- person id
  phone   TEXT NOT NULL,    -- phone id, '' in a demonstration
  secret  TEXT NOT NULL,    -- HMAC of the stored hash it began with
  started INTEGER NOT NULL, -- ms UTC
  seen    INTEGER NOT NULL  -- ms UTC, within the half minute
) STRICT, WITHOUT ROWID;
CREATE INDEX session_person ON session (person);
CREATE INDEX session_phone ON session (phone);

CREATE TABLE phone_token (
  hash  BLOB PRIMARY KEY,     -- SHA-256 of the token
  phone TEXT NOT NULL UNIQUE, -- phone id
  at    INTEGER NOT NULL      -- ms UTC
) STRICT, WITHOUT ROWID;

-- One-time codes. A row goes when its code is used.
CREATE TABLE one_time (
  hash    BLOB PRIMARY KEY, -- HMAC of the code
  kind    TEXT NOT NULL,    -- first, secret, phone
  person  TEXT NOT NULL,    -- person id, '' for none
  phone   TEXT NOT NULL,    -- phone id that the browser becomes, '' for none
  expires INTEGER NOT NULL  -- ms UTC
) STRICT, WITHOUT ROWID;
