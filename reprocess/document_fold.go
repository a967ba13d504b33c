package reprocess

import (
	"slices"
	"strings"
)

// applyDocument folds what is about documents. The hash of a product's data sheet follows from
// the documents about it from the first one on.
func (w *World) applyDocument(e *Entry, event Event) bool {
	id := ""
	switch v := event.(type) {
	case DocumentAdded:
		id = v.ID
		put(w, w.Documents, TableDocument, id, Document{ID: id, Kind: v.Kind, Title: v.Title,
			About: v.About, Versions: []DocumentVersion{versionBy(e, 1, v.DocumentFile)}})
	case DocumentRenewed:
		id = v.Document
		change(w, w.Documents, TableDocument, id, func(d *Document) {
			// A fresh slice: an older copy may still be read elsewhere; so below.
			d.Versions = append(slices.Clone(d.Versions), versionBy(e, v.No, v.DocumentFile))
		})
	case DocumentAttached:
		id = v.Document
		change(w, w.Documents, TableDocument, id, func(d *Document) {
			d.About = append(slices.Clone(d.About), v.About)
		})
	case DocumentWithdrawn:
		id = v.Document
		change(w, w.Documents, TableDocument, id, func(d *Document) {
			d.Withdrawn = &Withdrawal{e.Seq, e.At, e.By, e.Name, v.Reason}
		})
	default:
		return false
	}
	if d := w.Documents[id]; d != nil && d.Kind == DocSheet {
		w.setSheets(d)
	}
	return true
}

func versionBy(e *Entry, no int, f DocumentFile) DocumentVersion {
	return DocumentVersion{No: no, DocumentFile: f, Seq: e.Seq, At: e.At, By: e.By, Name: e.Name}
}

// setSheets gives each product that a data sheet is about the hash of its newest one.
func (w *World) setSheets(d *Document) {
	for _, s := range d.About {
		if s.Kind != OnProduct || w.Products[s.ID] == nil {
			continue
		}
		hash, newest := "", int64(0)
		for _, other := range w.Documents {
			v := other.Newest()
			if other.Kind == DocSheet && other.Withdrawn == nil && other.IsAbout(s) && v.Seq > newest {
				hash, newest = v.SHA256, v.Seq
			}
		}
		if w.Products[s.ID].Sheet != hash {
			change(w, w.Products, TableProduct, s.ID, func(p *Product) { p.Sheet = hash })
		}
	}
}

// InstructionsUsed is one version of instructions that counted when a cycle began: a fact of
// the cycle. The hash is that of the kept file; it is not named as kept once more.
type InstructionsUsed struct {
	Document string `json:"document"`
	No       int    `json:"no"`
	Title    string `json:"title"`
	Edition  string `json:"edition"`
	Hash     string `json:"hash"`
}

// Words is title and version.
func (u InstructionsUsed) Words() string { return u.Title + ", version " + u.Edition }

// InstructionsAt lists the instructions of a model that counted at a moment, by document.
func (w *World) InstructionsAt(model string, at Instant) []InstructionsUsed {
	var all []InstructionsUsed
	for _, d := range w.Documents {
		v := d.At(at)
		if d.Kind == DocInstructions && v != nil && d.IsAbout(Subject{Kind: OnModel, ID: model}) {
			all = append(all, InstructionsUsed{d.ID, v.No, d.Title, v.Edition, v.SHA256})
		}
	}
	slices.SortFunc(all, func(a, b InstructionsUsed) int { return strings.Compare(a.Document, b.Document) })
	return all
}

// InstructionWords joins several, "" for none.
func InstructionWords(list []InstructionsUsed) string {
	var all []string
	for _, u := range list {
		all = append(all, u.Words())
	}
	return strings.Join(all, "; ")
}

// InstructionRemark says what is to be known about the instructions of a cycle: that there
// were none on file when it began, or that they changed before it ended; "" for nothing. Of
// an open cycle the end is now.
func (w *World) InstructionRemark(c *Cycle, model string, now Instant) string {
	end := now
	if c.Ended != 0 {
		end = c.Ended
	}
	later := w.InstructionsAt(model, end)
	same := slices.EqualFunc(c.Instructions, later, func(a, b InstructionsUsed) bool {
		return a.Document == b.Document && a.Hash == b.Hash
	})
	switch {
	case same && len(later) == 0:
		return "No instructions for use were on file."
	case same:
		return ""
	case len(later) == 0:
		return "The instructions were withdrawn while it ran: " + InstructionWords(c.Instructions) + "."
	case len(c.Instructions) == 0:
		return "No instructions for use were on file when it began; while it ran came " +
			InstructionWords(later) + "."
	}
	return "The instructions changed while it ran: " + InstructionWords(c.Instructions) +
		" when it began, then " + InstructionWords(later) + "."
}
