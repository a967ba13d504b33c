package reprocess

import (
	"encoding/hex"
	"strings"
)

// RollCall records the newest entry of every kit as one hash (package ledger, Head), so that
// an export of one kit can show that none of its entries is held back. The numbers come from
// the store; whoever holds the whole log computes them again.
type RollCall struct {
	Kits int64  `json:"kits"`
	Root string `json:"root"` // 64 hex digits
	Size int64  `json:"size"` // entries there were when it was computed
}

// RollCalled is the roll call. It changes nothing.
type RollCalled struct {
	Kits int64  `json:"kits"`
	Root string `json:"root"`
}

// EventName is "roll_called".
func (RollCalled) EventName() string { return "roll_called" }

// Act is "export": a roll call is a part of one.
func (RollCall) Act() Act { return ActExport }

// Needs nothing but who asks.
func (RollCall) Needs() Needs { return Needs{} }

// decide refuses a roll call that another entry overtook: it would be false.
func (r RollCall) decide(c *Case) *Problem {
	raw, err := hex.DecodeString(r.Root)
	switch {
	case err != nil || len(raw) != 32 || r.Root != strings.ToLower(r.Root) || r.Kits < 0:
		return invalid("root", "Export again.", "The roll call is not a number and a hash.")
	case r.Size != c.Seq-1:
		return invalid("overtaken", "Export again.",
			"Something was recorded while the roll of the kits was called.")
	}
	c.emit(RollCalled{Kits: r.Kits, Root: r.Root})
	return nil
}
