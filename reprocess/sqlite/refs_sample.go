package sqlite

import "handback/reprocess"

// sampleRefs lists the rows of events about samples. A drawn sample does not name its records:
// they are many, and nothing happened to them.
func sampleRefs(event reprocess.Event) ([]reprocess.Ref, bool) {
	switch v := event.(type) {
	case reprocess.SampleDrawn:
		return refTo(reprocess.TableSample, v.ID), true
	case reprocess.SampleRecordRead:
		return append(refTo(reprocess.TableSample, v.Sample),
			refTo(reprocess.TableCycle, v.Cycle)...), true
	}
	return nil, false
}
