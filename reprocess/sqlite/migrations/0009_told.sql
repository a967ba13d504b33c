-- Up to which entry about their own secret somebody was told at a sign-in; not folded.
CREATE TABLE told (
  person TEXT PRIMARY KEY,
  seq    INTEGER NOT NULL
) STRICT;
