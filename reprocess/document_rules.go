package reprocess

import (
	"strconv"
	"strings"
)

// DocumentRules is what the clinic demands of documents. Nil: a missing one is a remark.
type DocumentRules struct {
	NeedInstructions bool   `json:"need_instructions,omitempty"` // before a cycle begins
	Reason           string `json:"reason,omitempty"`            // of the last change that loosened
}

// SetDocumentRules replaces these demands. Demanding more is free; demanding less has to be
// signed with a reason.
type SetDocumentRules struct{ DocumentRules }

// Act is "settings".
func (SetDocumentRules) Act() Act { return ActSettings }

// Needs nothing beyond what is always loaded.
func (SetDocumentRules) Needs() Needs { return Needs{} }

// NeedsInstructions tells whether a cycle may only begin with instructions on file.
func (s Settings) NeedsInstructions() bool {
	return s.Documents != nil && s.Documents.NeedInstructions
}

func (s SetDocumentRules) decide(c *Case) *Problem {
	next, v := s.DocumentRules, c.W.Settings
	var p *Problem
	if next.Reason, p = clean("The reason", s.Reason, 200); p != nil {
		return p
	}
	switch was := v.NeedsInstructions(); {
	case was == next.NeedInstructions:
		return conflict("already_done", "Nothing to do.", "This is what is demanded already.")
	case was && (!c.Actor.Signed || next.Reason == ""):
		return &Problem{Code: Forbidden, Rule: "loosened",
			Text: "This demands less than now: a cycle could begin without instructions on file.",
			Fix:  "Give the reason and enter your own secret, or leave it as it is."}
	case !was:
		next.Reason = ""
	}
	v.Documents = &next
	c.emit(SettingsSet{v})
	return nil
}

// instructed refuses a new cycle without instructions where the clinic demands them. What has
// happened and is entered from paper is recorded all the same.
func (c *Case) instructed(piece *Piece) *Problem {
	if c.past || !c.W.Settings.NeedsInstructions() ||
		len(c.W.InstructionsAt(piece.Model, c.Now.UTC)) > 0 {
		return nil
	}
	name := piece.Model
	if m := c.W.Models[piece.Model]; m != nil {
		name = m.Name
	}
	return refuse("no_instructions", "Ask a supervisor to add them under Documents.",
		"No instructions for use of %s are on file, and this clinic demands them before a cycle.", name)
}

// PageIn reads the page out of a text such as "page 14", "p. 14", "pp. 14-16" or "14"; 0 when
// it names none. Other numbers, as of a version, are no pages.
func PageIn(text string) int {
	words := strings.FieldsFunc(strings.ToLower(text), func(r rune) bool {
		return strings.ContainsRune(" ,;:()[]", r)
	})
	for i, word := range words {
		for _, mark := range []string{"pages", "page", "pp.", "pp", "p.", "p"} {
			rest, ok := strings.CutPrefix(word, mark)
			if ok && rest == "" && i+1 < len(words) {
				rest = words[i+1]
			}
			if n := leadingNumber(rest); ok && n > 0 {
				return n
			}
		}
	}
	if len(words) == 1 {
		return leadingNumber(words[0])
	}
	return 0
}

// leadingNumber reads "14", "14-16", "14/15" or "14." as 14; anything else is 0.
func leadingNumber(text string) int {
	figures := text
	if i := strings.IndexAny(text, "-–/."); i >= 0 {
		figures = text[:i]
	}
	n, err := strconv.Atoi(figures)
	if err != nil || n < 1 || n > 9999 || strconv.Itoa(n) != figures {
		return 0
	}
	return n
}
