-- Frozen look-backs and what was done about them; folded from the entries.
CREATE TABLE look_back (
  id  TEXT PRIMARY KEY, -- Q and the number of the entry that froze it
  doc TEXT NOT NULL
) STRICT;
