package reprocess

import "encoding/json"

// Entry is one act in the audit trail, done or refused: one command, one entry. Its canonical
// bytes (package ledger) are what is hashed and kept; order is Seq, never a time.
type Entry struct {
	Seq     int64   `json:"seq"` // 1-based, dense
	At      Instant `json:"at"`  // by the server
	Boot    string  `json:"boot,omitempty"`
	Mono    int64   `json:"mono,omitempty"` // ms since the start of that boot
	Site    string  `json:"site"`
	Act     Act     `json:"act"`
	Result  string  `json:"result"` // "done" or "refused"
	By      string  `json:"by"`     // person id, "console" or "nobody"
	Name    string  `json:"name"`   // printed name
	Phone   string  `json:"phone,omitempty"`
	PhoneAt Instant `json:"phone_at,omitempty"` // by the phone's clock, hearsay
	Key     string  `json:"key,omitempty"`      // made on the phone; the same key counts once
	Signed  bool    `json:"signed,omitempty"`   // own secret re-entered for this act
	Second  string  `json:"second,omitempty"`   // second signatory

	Kit     string `json:"kit,omitempty"`
	KitSeq  int64  `json:"kit_seq,omitempty"`  // 1-based count of this kit's entries
	KitPrev string `json:"kit_prev,omitempty"` // leaf hash (hex) of the kit's previous entry

	Events  []Box           `json:"events,omitempty"`
	Asked   json.RawMessage `json:"asked,omitempty"` // what was asked for, when refused
	Refusal *Refusal        `json:"refusal,omitempty"`
}

// The results of an entry.
const (
	ResultDone    = "done"
	ResultRefused = "refused"
)

// Refusal keeps the sentence the person read.
type Refusal struct {
	Code Code   `json:"code"`
	Rule string `json:"rule"`
	Text string `json:"text"`
	Fix  string `json:"fix,omitempty"`
}

// Problem turns a kept refusal back into what the person reads; a repeat answers with it.
func (r *Refusal) Problem() *Problem {
	if r == nil {
		return nil
	}
	return &Problem{Code: r.Code, Rule: r.Rule, Text: r.Text, Fix: r.Fix}
}

// Mark is the entry's moment with what is needed to measure from it.
func (e *Entry) Mark() Mark { return Mark{At: e.At, Boot: e.Boot, Mono: e.Mono} }
