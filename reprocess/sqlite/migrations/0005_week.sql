-- The day at the bench, what the desk plans, and findings; folded from the entries.
CREATE TABLE daybook (
  id  TEXT PRIMARY KEY, -- day
  doc TEXT NOT NULL
) STRICT;
CREATE TABLE want (
  id    TEXT PRIMARY KEY, -- day|model id
  day   TEXT NOT NULL,    -- day
  model TEXT NOT NULL,    -- model id
  doc   TEXT NOT NULL
) STRICT;
CREATE INDEX want_day ON want (day);
CREATE TABLE finding (
  id   TEXT PRIMARY KEY,
  due  TEXT NOT NULL,    -- day
  kit  TEXT NOT NULL,    -- kit id, '' for none
  open INTEGER NOT NULL, -- yes or no
  doc  TEXT NOT NULL
) STRICT;
CREATE INDEX finding_open ON finding (due) WHERE open = 1;
CREATE INDEX finding_kit ON finding (kit) WHERE kit <> '';
