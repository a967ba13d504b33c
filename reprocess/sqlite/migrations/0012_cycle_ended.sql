-- Cycles by the moment they ended, for what is counted about a period and for samples.
CREATE INDEX cycle_ended ON cycle (ended, id);
