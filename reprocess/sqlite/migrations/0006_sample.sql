-- Samples that auditors drew, and what their reading found; folded from the entries.
CREATE TABLE sample (
  id  TEXT PRIMARY KEY, -- A and the number of the entry that drew it
  doc TEXT NOT NULL
) STRICT;
