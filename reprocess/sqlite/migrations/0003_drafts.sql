-- Uploads under way. Not folded from the ledger: a draft is no fact until an entry uses it,
-- and is dropped after a day. Its bytes lie in DIR/files/drafts/ID.
CREATE TABLE draft (
  id     TEXT PRIMARY KEY, -- 22 random letters
  kit    TEXT NOT NULL,    -- kit id
  person TEXT NOT NULL,    -- person id; any bench person may go on, on another device
  size   INTEGER NOT NULL, -- bytes in all
  sha256 TEXT NOT NULL,    -- as the browser computed it, hex, or ''
  whole  TEXT NOT NULL,    -- as this server computed it once all is there, hex, or ''
  at     INTEGER NOT NULL  -- ms UTC
) STRICT, WITHOUT ROWID;
CREATE INDEX draft_at ON draft (at);
CREATE INDEX draft_kit ON draft (kit, at);
