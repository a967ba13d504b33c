package web

import (
	"time"

	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// failedWords says that a release does not stand any more on the corrected facts.
func failedWords(ev reprocess.RecordCorrected) string {
	if ev.Failed == "" {
		return ""
	}
	return "; the release of that cycle no longer passes: " + ev.Failed
}

// failedRelease finds the correction of an entry that took a release away, and its cycle.
func failedRelease(w *reprocess.World, e *reprocess.Entry) *reprocess.Cycle {
	for _, b := range e.Events {
		if ev, ok := b.Event.(reprocess.RecordCorrected); ok && ev.Failed != "" {
			return w.Cycles[ev.Cycle]
		}
	}
	return nil
}

// lookBackLink asks who wore the piece on a release that no longer passes: the piece, and the
// time of its cycle. Empty for every other entry.
func lookBackLink(w *reprocess.World, e *reprocess.Entry) string {
	c := failedRelease(w, e)
	if c == nil {
		return ""
	}
	zone := zoneOf(w)
	stamp := func(i reprocess.Instant) string {
		return i.Time().In(zone).Format("2006-01-02T15:04:05")
	}
	return lookBackKeys{Piece: c.Piece, From: stamp(c.Opened),
		To: stamp(c.Ended.Add(time.Second))}.address()
}

// failedShown is how many such corrections the page of look-backs lists, the newest first.
const failedShown = 50

// failedReleases lists the corrections after which a release no longer passes, each with the
// look-back that it calls for.
func (v *Visit) failedReleases() ([]link, error) {
	list, err := v.Store().Entries(v.Context(), sqlite.Filter{Act: reprocess.ActCorrect,
		Result: reprocess.ResultDone}, 0, failedShown)
	if err != nil {
		return nil, err
	}
	w, err := v.cyclesIn(list)
	if err != nil {
		return nil, err
	}
	var rows []link
	for _, e := range list {
		if c := failedRelease(w, e); c != nil {
			rows = append(rows, link{To: lookBackLink(w, e),
				Words: capital(pieceWords(w, c.Piece)) + ", released " +
					reprocess.Clock(c.Ended, v.Now.Zone),
				Note: "no longer passes since the correction of " +
					reprocess.Clock(e.At, v.Now.Zone) + ", by " + e.Name})
		}
	}
	return rows, nil
}
