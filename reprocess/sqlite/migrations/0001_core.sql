-- The ledger and the read tables folded from it.
-- Moments are Unix milliseconds in UTC, 0 for none; days are text like 2026-11-24, '' for
-- none; yes and no are 1 and 0; doc is the entity as JSON.

CREATE TABLE entry (
  seq  INTEGER PRIMARY KEY, -- number from 1, without gaps
  body BLOB NOT NULL        -- exactly the bytes that were hashed
) STRICT;
CREATE TRIGGER entry_next BEFORE INSERT ON entry
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM entry)
BEGIN SELECT raise(ABORT, 'an entry takes the next number'); END;
CREATE TRIGGER entry_no_update BEFORE UPDATE ON entry
BEGIN SELECT raise(ABORT, 'an entry never changes'); END;
CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry
BEGIN SELECT raise(ABORT, 'an entry is never removed'); END;

-- The hash tree of the entries, every complete subtree once.
CREATE TABLE node (
  i INTEGER PRIMARY KEY, -- number from 0, without gaps
  h BLOB NOT NULL        -- SHA-256, 32 bytes
) STRICT;
CREATE TRIGGER node_next BEFORE INSERT ON node
WHEN NEW.i IS NOT (SELECT coalesce(max(i), -1) + 1 FROM node)
BEGIN SELECT raise(ABORT, 'a hash takes the next number'); END;
CREATE TRIGGER node_no_update BEFORE UPDATE ON node
BEGIN SELECT raise(ABORT, 'a hash never changes'); END;
CREATE TRIGGER node_no_delete BEFORE DELETE ON node
BEGIN SELECT raise(ABORT, 'a hash is never removed'); END;

-- Keys made on phones: the same key counts once.
CREATE TABLE key (
  key TEXT PRIMARY KEY,        -- 1 to 64 of A-Z a-z 0-9 _ -
  seq INTEGER NOT NULL UNIQUE  -- entry it led to
) STRICT, WITHOUT ROWID;
CREATE TRIGGER key_no_update BEFORE UPDATE ON key
BEGIN SELECT raise(ABORT, 'a key never changes'); END;
CREATE TRIGGER key_no_delete BEFORE DELETE ON key
BEGIN SELECT raise(ABORT, 'a key is never removed'); END;

-- The newest entry of each kit.
CREATE TABLE chain (
  kit  TEXT PRIMARY KEY,  -- kit id
  n    INTEGER NOT NULL,  -- count of its entries
  leaf BLOB NOT NULL      -- leaf hash of the newest, 32 bytes
) STRICT, WITHOUT ROWID;

-- Signed statements of size and root.
CREATE TABLE checkpoint (
  size INTEGER PRIMARY KEY, -- entries it covers
  note TEXT NOT NULL,       -- signed note
  at   INTEGER NOT NULL     -- ms UTC
) STRICT;
CREATE TRIGGER checkpoint_no_update BEFORE UPDATE ON checkpoint
BEGIN SELECT raise(ABORT, 'a checkpoint never changes'); END;
CREATE TRIGGER checkpoint_no_delete BEFORE DELETE ON checkpoint
BEGIN SELECT raise(ABORT, 'a checkpoint is never removed'); END;

-- What each entry is about, for lists and filters.
CREATE TABLE act (
  seq    INTEGER PRIMARY KEY, -- entry
  at     INTEGER NOT NULL,    -- ms UTC
  act    TEXT NOT NULL,
  result TEXT NOT NULL,       -- done or refused
  by     TEXT NOT NULL,       -- person id
  kit    TEXT NOT NULL,       -- kit id, '' for none
  rule   TEXT NOT NULL        -- rule of a refusal, '' for none
) STRICT;
CREATE INDEX act_kit ON act (kit, seq) WHERE kit <> '';
CREATE INDEX act_by ON act (by, seq);
CREATE INDEX act_act ON act (act, seq);
CREATE INDEX act_refused ON act (seq) WHERE result <> 'done';

CREATE TABLE act_ref (
  seq  INTEGER NOT NULL, -- entry
  kind TEXT NOT NULL,    -- name of a read table
  id   TEXT NOT NULL,    -- row the entry names
  PRIMARY KEY (kind, id, seq)
) STRICT, WITHOUT ROWID;
CREATE INDEX act_ref_seq ON act_ref (seq);

CREATE TABLE settings (id TEXT PRIMARY KEY, doc TEXT NOT NULL) STRICT;
CREATE TABLE person (
  id      TEXT PRIMARY KEY,
  sign_in TEXT NOT NULL, -- lower case
  left_on TEXT NOT NULL, -- day
  doc     TEXT NOT NULL
) STRICT;
CREATE UNIQUE INDEX person_sign_in ON person (sign_in) WHERE left_on = '';
CREATE TABLE model (id TEXT PRIMARY KEY, doc TEXT NOT NULL) STRICT;
CREATE TABLE procedure (
  id      TEXT PRIMARY KEY, -- id@version
  model   TEXT NOT NULL,    -- model id
  version INTEGER NOT NULL, -- from 1
  doc     TEXT NOT NULL
) STRICT;
CREATE TABLE in_force (id TEXT PRIMARY KEY, doc TEXT NOT NULL) STRICT; -- model id -> id@version
CREATE TABLE product (id TEXT PRIMARY KEY, doc TEXT NOT NULL) STRICT;
CREATE TABLE lot (
  id      TEXT PRIMARY KEY,
  kind    TEXT NOT NULL,    -- disinfectant, cells, electrodes
  product TEXT NOT NULL,    -- product id
  number  TEXT NOT NULL,    -- as printed
  expiry  TEXT NOT NULL,    -- day
  stopped INTEGER NOT NULL, -- yes or no
  doc     TEXT NOT NULL
) STRICT;
CREATE INDEX lot_product ON lot (product);
CREATE TABLE container (
  id     TEXT PRIMARY KEY,
  lot    TEXT NOT NULL,    -- lot id
  closed INTEGER NOT NULL, -- ms UTC
  number TEXT NOT NULL,    -- printed sticker number
  opened TEXT NOT NULL,    -- day
  doc    TEXT NOT NULL
) STRICT;
CREATE INDEX container_open ON container (id) WHERE closed = 0;
CREATE INDEX container_lot ON container (lot);
CREATE INDEX container_number ON container (number);
CREATE TABLE label (
  id        TEXT PRIMARY KEY, -- code
  kind      TEXT NOT NULL,
  target    TEXT NOT NULL,    -- id of what it stands for
  withdrawn INTEGER NOT NULL, -- ms UTC
  number    TEXT NOT NULL,    -- printed number of a blank
  doc       TEXT NOT NULL
) STRICT;
CREATE INDEX label_target ON label (target) WHERE target <> '';
CREATE TABLE kit (
  id            TEXT PRIMARY KEY,
  number        TEXT NOT NULL,    -- pool number
  site          TEXT NOT NULL,
  place         TEXT NOT NULL,
  since         INTEGER NOT NULL, -- ms UTC, newest change of state
  back          INTEGER NOT NULL, -- ms UTC, in the house since
  opened        INTEGER NOT NULL, -- ms UTC, parcel opened
  release_at    INTEGER NOT NULL, -- ms UTC, of the standing release
  release_until INTEGER NOT NULL, -- ms UTC, when it lapses
  loan          TEXT NOT NULL,    -- open or latest loan
  waiting       INTEGER NOT NULL, -- count of waiting reasons
  retired       INTEGER NOT NULL, -- yes or no
  doc           TEXT NOT NULL
) STRICT;
CREATE INDEX kit_number ON kit (number);
CREATE TABLE piece (
  id     TEXT PRIMARY KEY,
  kit    TEXT NOT NULL, -- kit id
  kind   TEXT NOT NULL, -- recorder, phone
  model  TEXT NOT NULL, -- model id
  serial TEXT NOT NULL,
  state  TEXT NOT NULL, -- standard term
  cycle  TEXT NOT NULL, -- open or latest cycle
  site   TEXT NOT NULL,
  doc    TEXT NOT NULL
) STRICT;
CREATE INDEX piece_kit ON piece (kit);
CREATE INDEX piece_serial ON piece (serial);
CREATE INDEX piece_state ON piece (state);
CREATE TABLE cycle (
  id        TEXT PRIMARY KEY,
  piece     TEXT NOT NULL,    -- piece id
  kit       TEXT NOT NULL,    -- kit id
  opened    INTEGER NOT NULL, -- ms UTC
  ended     INTEGER NOT NULL, -- ms UTC
  ending    TEXT NOT NULL,    -- released, broken_off, '' while open
  procedure TEXT NOT NULL,    -- id@version
  open      INTEGER NOT NULL, -- yes or no
  doc       TEXT NOT NULL
) STRICT;
CREATE INDEX cycle_piece ON cycle (piece, opened);
CREATE INDEX cycle_kit ON cycle (kit, opened);
CREATE TABLE loan (
  id     TEXT PRIMARY KEY,
  kit    TEXT NOT NULL,    -- kit id
  wearer TEXT NOT NULL,    -- random token
  out_at INTEGER NOT NULL, -- ms UTC
  due    TEXT NOT NULL,    -- day
  back   INTEGER NOT NULL, -- ms UTC
  open   INTEGER NOT NULL, -- yes or no
  doc    TEXT NOT NULL
) STRICT;
CREATE INDEX loan_kit ON loan (kit, out_at);
CREATE INDEX loan_wearer ON loan (wearer);
CREATE INDEX loan_open ON loan (due) WHERE open = 1;
CREATE TABLE secret_mac (id TEXT PRIMARY KEY, doc TEXT NOT NULL) STRICT; -- person id -> HMAC
CREATE TABLE phone (
  id      TEXT PRIMARY KEY,
  revoked INTEGER NOT NULL, -- ms UTC
  doc     TEXT NOT NULL
) STRICT;
