-- Which fold wrote the read tables. A folder from before this step counts as 0, which no
-- program has, so that its read tables are folded anew.
CREATE TABLE fold (
  version INTEGER NOT NULL -- of the program that wrote them; one row
) STRICT;
INSERT INTO fold (version) VALUES (0);
