-- One kind of act of one kit, from an entry on: what points back to an entry is among few rows
-- however long the history of the kit.
CREATE INDEX act_kit_act ON act (kit, act, seq) WHERE kit <> '';
