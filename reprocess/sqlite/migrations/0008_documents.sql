-- Documents in all their versions, withdrawn ones too; folded from the entries.
CREATE TABLE document (
  id     TEXT PRIMARY KEY, -- Q and the number of the entry that added it
  kind   TEXT NOT NULL,
  set_up INTEGER NOT NULL, -- yes or no: about a model or a disinfectant
  until  TEXT NOT NULL,    -- last day of the newest version, '' for none or withdrawn
  doc    TEXT NOT NULL
) STRICT;
CREATE INDEX document_until ON document (until) WHERE until <> '';
