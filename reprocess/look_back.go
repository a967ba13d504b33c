package reprocess

import (
	"slices"
	"strings"
)

// FrozenLookBack is a look-back as it was answered at one moment, and what was done about it.
// The answer itself is a kept file; its form is written down at lookback.Frozen.
type FrozenLookBack struct {
	ID     string         `json:"id"`  // Q and the number of the entry that froze it
	Seq    int64          `json:"seq"` // that entry
	At     Instant        `json:"at"`
	By     string         `json:"by"`
	Name   string         `json:"name"`
	Note   string         `json:"note"`  // what happened
	Query  []string       `json:"query"` // one line a key, "lot E70"
	Size   int64          `json:"size"`  // entries it was worked out from
	Root   string         `json:"root"`  // hash over them
	Counts LookBackCounts `json:"counts"`
	SHA256 string         `json:"sha256"` // of the answer's bytes, lower-case hex
	Bytes  int64          `json:"bytes"`

	Acts []LookBackDone `json:"acts,omitempty"` // oldest first
}

// LookBackCounts is an answer by class.
type LookBackCounts struct {
	Cycles     int `json:"cycles"`
	Caught     int `json:"caught"`
	Exposed    int `json:"exposed"`
	Unreleased int `json:"unreleased"`
	Unbounded  int `json:"unbounded"`
	Recall     int `json:"recall"`
	Embargo    int `json:"embargo"`
	Restart    int `json:"restart"`
	Unresolved int `json:"unresolved"`
	Wearers    int `json:"wearers"` // distinct known references
	Unknown    int `json:"unknown"` // exposed loans without a known wearer
}

// LookBackDone is one signed act on what a look-back names. The entries of its kits follow its
// own without a gap, what was refused included.
type LookBackDone struct {
	Seq    int64   `json:"seq"`
	At     Instant `json:"at"`
	By     string  `json:"by"`
	Name   string  `json:"name"`
	Second string  `json:"second,omitempty"`
	Reason string  `json:"reason"`
	Kits   int     `json:"kits"` // entries that follow
}

type (
	// LookBackFrozen keeps an answer.
	LookBackFrozen struct {
		ID     string         `json:"id"`
		Note   string         `json:"note"`
		Query  []string       `json:"query"`
		Size   int64          `json:"size"`
		Root   string         `json:"root"`
		Counts LookBackCounts `json:"counts"`
		SHA256 string         `json:"sha256"`
		Bytes  int64          `json:"bytes"`
	}
	// LookBackActed says that everything a frozen look-back names is acted on.
	LookBackActed struct {
		LookBack string `json:"look_back"`
		Reason   string `json:"reason"`
		CallBack int    `json:"call_back"` // pieces, as confirmed
		Stop     int    `json:"stop"`
		Restart  int    `json:"restart"`
		Kits     int    `json:"kits"` // entries that follow
	}
)

// EventName is "look_back_frozen".
func (LookBackFrozen) EventName() string { return "look_back_frozen" }

// EventName is "look_back_acted".
func (LookBackActed) EventName() string { return "look_back_acted" }

// The acts of look-backs.
const (
	ActFreezeLookBack Act = "look_back_freeze"
	ActOnNamed        Act = "look_back_act"
)

// TableLookBack holds the frozen look-backs.
const TableLookBack Table = "look_back"

// FreezeLookBack keeps an answer that the store worked out: the file first, then the entry.
// Whoever holds the entries up to Size can work it out again.
type FreezeLookBack struct {
	Note   string         `json:"note"`
	Query  []string       `json:"query"`
	Size   int64          `json:"size"`
	Root   string         `json:"root"`
	Counts LookBackCounts `json:"counts"`
	SHA256 string         `json:"sha256"`
	Bytes  int64          `json:"bytes"`
}

// Act is "look_back_freeze".
func (FreezeLookBack) Act() Act { return ActFreezeLookBack }

// Needs nothing.
func (FreezeLookBack) Needs() Needs { return Needs{} }

func (f FreezeLookBack) decide(c *Case) *Problem {
	note, p := need("What happened", f.Note, 200)
	if p != nil {
		return p
	}
	if len(f.Query) == 0 || slices.ContainsFunc(f.Query, func(line string) bool {
		_, value, found := strings.Cut(line, " ")
		return !found || value == ""
	}) {
		return invalid("query", "Fill in at least one of the keys.",
			"A look-back needs at least one key, such as a lot, a piece or a time.")
	}
	if f.Size < 1 || f.Size >= c.Seq || f.Root == "" || !isHash(f.SHA256) || f.Bytes < 1 {
		return invalid("look_back", "Look back again.",
			"What was worked out does not hold together.")
	}
	c.emit(LookBackFrozen{ID: c.id("Q", 0), Note: note, Query: f.Query, Size: f.Size,
		Root: f.Root, Counts: f.Counts, SHA256: f.SHA256, Bytes: f.Bytes})
	return nil
}

func (w *World) applyLookBack(e *Entry, event Event) bool {
	switch v := event.(type) {
	case LookBackFrozen:
		put(w, w.LookBacks, TableLookBack, v.ID, FrozenLookBack{ID: v.ID, Seq: e.Seq, At: e.At,
			By: e.By, Name: e.Name, Note: v.Note, Query: v.Query, Size: v.Size, Root: v.Root,
			Counts: v.Counts, SHA256: v.SHA256, Bytes: v.Bytes})
	case LookBackActed:
		change(w, w.LookBacks, TableLookBack, v.LookBack, func(l *FrozenLookBack) {
			l.Acts = append(slices.Clone(l.Acts), LookBackDone{e.Seq, e.At, e.By, e.Name,
				e.Second, v.Reason, v.Kits})
		})
	case CycleRestarted:
		w.restart(e, v)
	default:
		return false
	}
	return true
}
