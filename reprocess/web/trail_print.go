package web

import (
	"fmt"
	"slices"

	"handback/reprocess"
)

// printPage is a list of entries on paper: on top what it is, at the foot how it was checked.
type printPage struct {
	Base
	Facts []entryFact
	Rows  []trailRow
	How   string
	Back  string
}

// printTrail draws the list of a ticket, the oldest entry first, as paper is read.
func printTrail(v *Visit) error {
	t, err := v.ticket()
	if err != nil {
		return err
	}
	if t.event.Format != "print" {
		return notFound("list")
	}
	chosen, err := v.chosen(t.w, t.f)
	if err != nil {
		return err
	}
	list, err := v.Store().Entries(v.Context(), chosen, t.event.Size+1, mostPrinted+1)
	if err != nil {
		return err
	}
	slices.Reverse(list)
	p := &printPage{Base: Titled("What happened: " + t.event.Scope), Back: t.f.address("/trail")}
	if p.Rows, err = v.trailRows(list); err != nil {
		return err
	}
	p.Facts = []entryFact{{"Site", t.site}, {"Chosen", t.event.Scope},
		{"Count", entriesOf(int64(len(list))) + fmt.Sprintf(" of %d", t.event.Size)},
		{"Printed", v.zoned(v.Now.UTC) + " by " + v.Person.Name},
		{"Recorded as", fmt.Sprintf("entry %d", t.seq)}}
	if p.How, err = v.howChecked(); err != nil {
		return err
	}
	return v.Show(p)
}

// howChecked is the line at the foot of what is printed: the newest checkpoint, and when
// everything was last recomputed.
func (v *Visit) howChecked() (string, error) {
	text := "How this was checked: "
	notes, err := v.Store().Checkpoints(v.Context(), 1)
	if err != nil {
		return "", err
	}
	if len(notes) == 0 {
		text += "no checkpoint has been signed yet. "
	} else {
		cp, err := v.Store().CheckpointOf(v.Context(), notes[0].Size)
		if err != nil {
			return "", err
		}
		text += fmt.Sprintf("newest checkpoint over %s of %s, root %s. ", entriesOf(cp.Size),
			v.zoned(cp.At), cp.Root)
	}
	o := v.server.checking.outcome()
	switch {
	case o == nil:
		return text + "The record has not been recomputed since this server started. " +
			"This paper proves nothing by itself: compare it with an evidence file.", nil
	case o.report.Difference != "":
		return text + fmt.Sprintf("On %s a check found a difference: %s.", v.zoned(o.at),
			o.report.Difference), nil
	}
	return text + fmt.Sprintf("On %s %s were recomputed without a difference, for %s.",
		v.zoned(o.at), entriesOf(o.report.Entries), o.by), nil
}

func samplePrint() Page {
	return &printPage{Base: Titled("What happened: kit 17"), Back: "/trail?kit=17",
		Facts: []entryFact{{"Chosen", "kit 17"}}, How: "How this was checked: …",
		Rows: []trailRow{{To: "/trail/9", Seq: "9", Lines: []string{"Cleaned."}, Kit: "kit 17",
			When: "24 Nov 2026 14:00", Who: "Ada Okafor", Refused: "Refused: no."}}}
}

// trailRoutes are the rows of the audit trail, the look-back and the sample.
func trailRoutes() []Route {
	takes := acts(reprocess.ActExport)
	return []Route{
		{Method: get, Path: "/trail", Who: readsTrail, Page: "trail", Sample: sampleTrail, Handle: showTrail,
			Place: "Audit trail", Question: "What happened, and who did it?"},
		{Method: get, Path: "/trail/copy", Who: takes, Page: "trail-copy", Sample: sampleCopy, Handle: showCopy},
		{Method: post, Path: "/trail/copy", Who: takes, Page: "trail-copy", Sample: sampleCopy, Handle: takeCopy},
		{Method: get, Path: "/trail/copy/:seq", Who: takes, Page: "trail-ready", Sample: sampleCopyReady, Handle: showCopyReady},
		{Method: get, Path: "/trail/copy/:seq/file", Who: takes, Handle: sendCopy},
		{Method: get, Path: "/trail/copy/:seq/far", Who: takes, Handle: tellCopy},
		{Method: get, Path: "/trail/copy/:seq/print", Who: takes, Page: "trail-print", Sample: samplePrint, Handle: printTrail},
		{Method: get, Path: "/trail/checks", Who: readsTrail, Page: "trail-checks", Sample: sampleChecks, Handle: showChecks},
		{Method: post, Path: "/trail/checks/sign", Who: takes, Page: "trail-checks", Sample: sampleChecks, Handle: makeCheckpoint},
		{Method: post, Path: "/trail/checks/all", Who: takes, Page: "trail-checks", Sample: sampleChecks, Handle: checkEverything},
		{Method: get, Path: "/trail/checks/:size", Who: readsTrail, Page: "trail-note", Sample: sampleCheckpoint, Handle: showCheckpoint},
		{Method: get, Path: "/trail/:seq", Who: readsTrail, Page: "trail-entry", Sample: sampleEntry, Handle: showEntry},
		{Method: get, Path: "/lookback", Who: readsTrail, Page: "lookback", Sample: sampleLookBack, Handle: lookBack},
		{Method: get, Path: "/sample", Who: readsTrail, Page: "sample", Sample: sampleSample, Handle: showSample},
		{Method: post, Path: "/sample", Who: acts(reprocess.ActSample), Page: "sample", Sample: sampleSample, Handle: drawSample},
		{Method: get, Path: "/sample/:id", Who: readsTrail, Page: "sample-run", Sample: sampleRunSample, Handle: showSampleRun},
		{Method: get, Path: "/sample/:id/:n", Who: acts(reprocess.ActSampleRead), Page: "sample-read", Sample: sampleReadSample, Handle: showSampleRead},
		{Method: post, Path: "/sample/:id/:n", Who: acts(reprocess.ActSampleRead), Page: "sample-read", Sample: sampleReadSample, Handle: readSampleRecord},
	}
}
