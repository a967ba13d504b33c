-- Legal holds, lifted ones too; folded from the entries.
CREATE TABLE legal_hold (
  id  TEXT PRIMARY KEY, -- H and the number of the entry that set it
  doc TEXT NOT NULL
) STRICT;
