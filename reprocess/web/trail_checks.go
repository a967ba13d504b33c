package web

import (
	"fmt"
	"strings"
	"sync"

	"handback/labels"
	"handback/reprocess"
	"handback/reprocess/sqlite"
)

// checking lets one check of everything run at a time and keeps the newest outcome until the
// server stops. The zero value is ready.
type checking struct {
	running sync.Mutex
	mu      sync.Mutex
	last    *checkOutcome
}

// checkOutcome is one finished check.
type checkOutcome struct {
	report sqlite.Report
	at     reprocess.Instant
	by     string
	tookMS int64
}

func (c *checking) outcome() *checkOutcome {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.last
}

func (c *checking) keep(o *checkOutcome) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.last = o
}

// checksPage shows the checkpoints and what the newest check found.
type checksPage struct {
	Base
	Entries string
	Notes   []link
	Key     string
	Outcome *outcomeView
	Sign    bool // the visitor may make a checkpoint
}

// outcomeView is a finished check in words.
type outcomeView struct {
	Said       string // the result, first
	How        string
	Recomputed []string
	Not        []entryFact // tables that do not follow from the entries, with the reason
}

func showChecks(v *Visit) error {
	p, err := v.checksPage()
	if err != nil {
		return err
	}
	return v.Show(p)
}

func (v *Visit) checksPage() (*checksPage, error) {
	size, err := v.Store().Size(v.Context())
	if err != nil {
		return nil, err
	}
	notes, err := v.Store().Checkpoints(v.Context(), 20)
	if err != nil {
		return nil, err
	}
	p := &checksPage{Base: Titled("Does the record still say what it said?"),
		Entries: entriesOf(size), Key: v.Store().VerifierKey(),
		Sign: v.may(reprocess.ActExport)}
	for _, n := range notes {
		p.Notes = append(p.Notes, link{To: fmt.Sprintf("/trail/checks/%d", n.Size),
			Words: "Checkpoint over " + entriesOf(n.Size), Note: v.zoned(n.At)})
	}
	if o := v.server.checking.outcome(); o != nil {
		p.Outcome = v.outcome(o)
	}
	return p, nil
}

func (v *Visit) outcome(o *checkOutcome) *outcomeView {
	r := o.report
	view := &outcomeView{How: fmt.Sprintf("Checked %s by %s, in %.1f s, beside the running server.",
		v.zoned(o.at), o.by, float64(o.tookMS)/1000)}
	if r.Difference != "" {
		view.Said = fmt.Sprintf("A difference was found: %s. The check stopped there, after %s.",
			strings.TrimSuffix(r.Difference, "."), entriesOf(r.Entries))
		return view
	}
	view.Said = fmt.Sprintf("No difference in %s. Checked with them: %s, the newest over %s.",
		entriesOf(r.Entries), many(r.Checkpoints, "checkpoint"), entriesOf(r.Newest))
	view.How += " Root " + r.Root.String() + ". The key was the folder’s own: compare it with " +
		"the one on paper."
	view.Recomputed = r.Tables
	for _, n := range r.NotFolded {
		view.Not = append(view.Not, entryFact{n.Table, n.Reason})
	}
	return view
}

// checkEverything recomputes the data folder from its entries, beside the running server.
func checkEverything(v *Visit) error {
	c := &v.server.checking
	if !c.running.TryLock() {
		p, err := v.checksPage()
		if err != nil {
			return err
		}
		return v.Refuse(&reprocess.Problem{Code: reprocess.Conflict, Rule: "checking",
			Text: "A check is running already.", Fix: "Open this page again in a minute."}, p)
	}
	defer c.running.Unlock()
	begun := v.Now.Mono
	r, err := sqlite.Verify(v.Context(), v.Store().Dir(), sqlite.VerifyOptions{})
	if err != nil {
		return err
	}
	now := v.Store().Now()
	c.keep(&checkOutcome{report: r, at: now.UTC, by: v.Person.Name, tookMS: now.Mono - begun})
	said := "No difference was found."
	if r.Difference != "" {
		said = "A difference was found. Tell whoever audits this site."
		v.server.log.Error("check found a difference", "what", r.Difference)
	}
	return v.Went("/trail/checks", said)
}

// makeCheckpoint signs the record as it is now.
func makeCheckpoint(v *Visit) error {
	if _, err := v.Store().Checkpoint(v.Context()); err != nil {
		p, pageErr := v.checksPage()
		if pageErr != nil {
			return pageErr
		}
		return v.Refuse(err, p)
	}
	_, size, err := v.Store().NewestCheckpoint(v.Context())
	if err != nil {
		return err
	}
	return v.Went(fmt.Sprintf("/trail/checks/%d", size),
		"Made. Print it and keep the paper away from this server.")
}

// checkpointPage is one checkpoint to print and keep elsewhere.
type checkpointPage struct {
	Base
	Note, Key string
	QR        qrPicture
	How       string
	Older     []link   // checkpoints that it can be compared with
	Proved    string   // that it goes on from the one asked for; empty: none was
	Proof     []string // the hashes that show it
}

// qrPicture is a symbol as one path in whole modules, quiet zone included.
type qrPicture struct {
	Box  string // of the view
	Path string
}

func showCheckpoint(v *Visit) error {
	n, err := v.Store().CheckpointOf(v.Context(), trailNumber(v.Param("size")))
	if err != nil {
		return err
	}
	matrix, err := labels.Matrix(n.Note, labels.LevelM)
	if err != nil {
		return err
	}
	p := &checkpointPage{Base: Titled("Checkpoint over " + entriesOf(n.Size)),
		Note: n.Note, Key: v.Store().VerifierKey(), QR: qrOf(matrix),
		How: "Signature checked before it was shown. Printed by " + v.Person.Name + ", " +
			v.zoned(v.Now.UTC) + "."}
	if err := v.older(p, n.Size); err != nil {
		return err
	}
	return v.Show(p)
}

// older lists what a checkpoint can be compared with, and proves what was asked for.
func (v *Visit) older(p *checkpointPage, size int64) error {
	notes, err := v.Store().Checkpoints(v.Context(), 200)
	if err != nil {
		return err
	}
	for _, n := range notes {
		if n.Size < size {
			p.Older = append(p.Older, link{To: fmt.Sprintf("/trail/checks/%d?old=%d", size, n.Size),
				Words: "Checkpoint over " + entriesOf(n.Size), Note: v.zoned(n.At)})
		}
	}
	if v.Query("old") == "" {
		return nil
	}
	old := trailNumber(v.Query("old"))
	proof, err := v.Store().PrefixProof(v.Context(), old, size)
	if err != nil {
		return err
	}
	for _, h := range proof {
		p.Proof = append(p.Proof, h.String())
	}
	p.Proved = fmt.Sprintf("Proved: the %s of this checkpoint begin with the %s of the earlier one. "+
		"Checked before it was shown against both signed roots (RFC 6962, consistency proof).",
		entriesOf(size), entriesOf(old))
	return nil
}

// quiet is the width of the empty edge that readers need (ISO/IEC 18004: 4 modules).
const quiet = 4

// qrOf draws runs of black modules as rectangles of one path.
func qrOf(matrix [][]bool) qrPicture {
	var b strings.Builder
	for y, row := range matrix {
		for x := 0; x < len(row); x++ {
			run := 0
			for x+run < len(row) && row[x+run] {
				run++
			}
			if run > 0 {
				fmt.Fprintf(&b, "M%d %dh%dv1h-%dz", x+quiet, y+quiet, run, run)
				x += run
			}
		}
	}
	side := len(matrix) + 2*quiet
	return qrPicture{Box: fmt.Sprintf("0 0 %d %d", side, side), Path: b.String()}
}

func sampleChecks() Page {
	return &checksPage{Base: Titled("Does the record still say what it said?"),
		Entries: "120 entries", Key: "site/8f3a2c+1a2b+AQ", Sign: true,
		Notes: []link{{To: "/trail/checks/100", Words: "Checkpoint over 100 entries",
			Note: "24 Nov 2026 14:05:00 UTC"}},
		Outcome: &outcomeView{Said: "No difference in 120 entries.", How: "Checked today.",
			Recomputed: []string{"kit"}, Not: []entryFact{{"entry", "the entries themselves"}}}}
}

func sampleCheckpoint() Page {
	return &checkpointPage{Base: Titled("Checkpoint over 100 entries"), Note: "site/8f3a2c\n100\n",
		Key: "site/8f3a2c+1a2b+AQ", QR: qrOf([][]bool{{true, false}, {true, true}}),
		How:   "Signature checked before it was shown.",
		Older: []link{{To: "/trail/checks/100?old=60", Words: "Checkpoint over 60 entries"}},
		Proof: []string{"b1"}, Proved: "Proved: the 100 entries begin with the 60 entries."}
}
