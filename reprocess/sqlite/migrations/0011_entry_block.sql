-- What stands in each full block of 64 entries, so that a search of the trail reads only the
-- blocks that can hold it. It follows from the entries' bytes alone; entries behind the last
-- full block are read as they are.
CREATE TABLE entry_block (
  block    INTEGER PRIMARY KEY, -- from 0: entries 64 * block + 1 to 64 * block + 64
  first_at INTEGER NOT NULL,    -- ms UTC, the earliest of them
  last_at  INTEGER NOT NULL,    -- ms UTC, the latest
  bits     BLOB NOT NULL        -- 1984 bytes, a bit for each piece of their texts
) STRICT;
CREATE INDEX entry_block_at ON entry_block (block, first_at, last_at);
