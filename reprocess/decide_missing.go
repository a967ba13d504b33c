package reprocess

import "time"

// Loss is a kit that cannot be found, as it was declared: the clock for telling runs from
// when it was known, and stops for nobody.
type Loss struct {
	Seq     int64    `json:"seq"`
	At      Instant  `json:"at"`
	By      string   `json:"by"`
	Known   Instant  `json:"known"` // when somebody first knew
	Data    string   `json:"data"`  // recording or app data on it: yes, no, unknown
	Pieces  []string `json:"pieces"`
	Note    string   `json:"note,omitempty"`
	Told    Instant  `json:"told,omitempty"` // when the privacy contact was told
	ToldWho string   `json:"told_who,omitempty"`
	ToldBy  string   `json:"told_by,omitempty"`
	Found   Instant  `json:"found,omitempty"` // when every piece was there again
}

// The answers to "recording or app data on it?".
const (
	DataYes     = "yes"
	DataNo      = "no"
	DataUnknown = "unknown"
)

// dataRank orders the answers: what is known to be on it wins over what is not known.
var dataRank = map[string]int{DataNo: 1, DataUnknown: 2, DataYes: 3}

// Open tells whether something of it is still lost.
func (l *Loss) Open() bool { return l != nil && l.Found == 0 }

// ToTell tells whether the privacy contact is still to be told: not knowing counts as data.
func (l *Loss) ToTell() bool { return l != nil && l.Told == 0 && l.Data != DataNo }

// LossClock is how long a loss is known, and how long there is for telling of it.
type LossClock struct {
	Known  time.Duration
	Limit  time.Duration
	Source string // where the limit is written
	Over   bool   // later than the limit; the limit itself is in time
}

// ClockOf reads the clock of a loss: until it was told, else until now.
func (s Settings) ClockOf(l *Loss, now Now) LossClock {
	hours, source := s.Loss()
	until := now.UTC
	if l.Told != 0 {
		until = l.Told
	}
	c := LossClock{Known: until.Sub(l.Known), Limit: time.Duration(hours) * time.Hour, Source: source}
	c.Over = c.Known > c.Limit
	return c
}

// DeclareMissing says that a kit, or a piece of it, cannot be found.
type DeclareMissing struct {
	Kit    string   `json:"kit"`
	Pieces []string `json:"pieces,omitempty"` // empty: all of the kit
	Data   string   `json:"data"`
	Known  Instant  `json:"known,omitempty"` // zero: now
	Note   string   `json:"note,omitempty"`
}

// TellLoss says that the privacy contact was told of a loss.
type TellLoss struct {
	Kit string  `json:"kit"`
	Who string  `json:"who,omitempty"` // empty: the contact of the settings
	At  Instant `json:"at,omitempty"`  // zero: now
}

// LossDeclared carries the whole loss as it stands now.
type LossDeclared struct {
	Kit    string   `json:"kit"`
	Pieces []string `json:"pieces"`
	Known  Instant  `json:"known"`
	Data   string   `json:"data"`
	Note   string   `json:"note,omitempty"`
}

// LossTold stops the clock of telling.
type LossTold struct {
	Kit string  `json:"kit"`
	Who string  `json:"who"`
	At  Instant `json:"at"`
}

// EventName is "loss_declared".
func (LossDeclared) EventName() string { return "loss_declared" }

// EventName is "loss_told".
func (LossTold) EventName() string { return "loss_told" }

// Act is "missing".
func (DeclareMissing) Act() Act { return ActMissing }

// Act is "missing_told".
func (TellLoss) Act() Act { return ActMissingTold }

// Needs the kit and the pieces.
func (d DeclareMissing) Needs() Needs { return Needs{Kit: d.Kit, Pieces: d.Pieces} }

// Needs the kit.
func (t TellLoss) Needs() Needs { return Needs{Kit: t.Kit} }

func (d DeclareMissing) decide(c *Case) *Problem {
	pieces, p := c.piecesOf(d.Kit, d.Pieces)
	if p != nil {
		return p
	}
	e := LossDeclared{Kit: d.Kit, Known: d.Known, Data: d.Data}
	if dataRank[d.Data] == 0 {
		return invalid("data", "Choose yes, no or not known.",
			"It is not said whether a recording or data of an app is on it.")
	}
	if e.Note, p = clean("The note", d.Note, 200); p != nil {
		return p
	}
	switch {
	case e.Known == 0:
		e.Known = c.Now.UTC
	case e.Known > c.Now.UTC:
		return invalid("time", "Type when it was first known.", "%s is still to come.",
			c.clock(e.Known))
	}
	for _, piece := range pieces {
		if piece.State == Retired {
			return refuse("retired", "Choose the pieces that are in use.",
				"This %s is retired; it cannot be missing from a kit.", piece.Kind)
		}
		e.Pieces = append(e.Pieces, piece.ID)
	}
	k := c.W.Kits[d.Kit]
	if k.Loss.Open() && containsAll(k.Loss.Pieces, e.Pieces) {
		return conflict("already_missing", "Look at the list of what is missing.",
			"Kit %s is recorded as missing since %s.", k.Number, c.clock(k.Loss.Known))
	}
	e.join(k.Loss)
	c.emit(e)
	for _, piece := range pieces {
		if piece.State != Missing {
			c.emit(PieceMoved{Piece: piece.ID, State: Missing, Reason: lossReason(e)})
		}
	}
	return nil
}

// join keeps what an open loss of the kit already says: the earlier time, the graver answer.
func (e *LossDeclared) join(old *Loss) {
	if !old.Open() {
		return
	}
	for _, id := range old.Pieces {
		e.Pieces = withOne(e.Pieces, id)
	}
	e.Known = min(e.Known, old.Known)
	if dataRank[old.Data] > dataRank[e.Data] {
		e.Data = old.Data
	}
	if e.Note == "" {
		e.Note = old.Note
	}
}

func lossReason(e LossDeclared) string {
	if e.Note != "" {
		return e.Note
	}
	return "cannot be found"
}

func containsAll(list, ids []string) bool {
	for _, id := range ids {
		if !contains(list, id) {
			return false
		}
	}
	return true
}

func (t TellLoss) decide(c *Case) *Problem {
	k, p := c.kit(t.Kit)
	if p != nil {
		return p
	}
	l := k.Loss
	who, p := clean("Who was told", t.Who, 80)
	if p != nil {
		return p
	}
	if who == "" {
		who = c.W.Settings.PrivacyContact()
	}
	at := t.At
	if at == 0 {
		at = c.Now.UTC
	}
	switch {
	case l == nil:
		return refuse("not_missing", "Declare it missing first.", "Kit %s is not recorded as missing.",
			k.Number)
	case l.Told != 0:
		return conflict("already_told", "Nothing more is needed here.", "%s was told at %s.",
			l.ToldWho, c.clock(l.Told))
	case who == "":
		return invalid("who", "Type whom you told; a supervisor enters the contact in the settings.",
			"Nobody is named who was told.")
	case at > c.Now.UTC:
		return invalid("time", "Type when it was told.", "%s is still to come.", c.clock(at))
	case at < l.Known:
		return invalid("time", "Type when it was told.", "%s is before the loss was known, %s.",
			c.clock(at), c.clock(l.Known))
	}
	c.emit(LossTold{Kit: k.ID, Who: who, At: at})
	return nil
}

// found says what a lost piece that came back needs: nobody knows in whose hands it was, so a
// recording that was safe before is not known to be the only one on it.
func (c *Case) found(k *Kit, e *TakenBack) (recording bool) {
	for _, id := range e.Came {
		if p := c.W.Pieces[id]; p != nil && p.State == Missing {
			e.Return.Custody = "unknown"
			recording = recording || p.Kind == Recorder && k.Recording.Safe()
		}
	}
	return recording
}

func (w *World) loseKit(e *Entry, v LossDeclared) {
	w.changeKit(v.Kit, func(k *Kit) {
		next := &Loss{Seq: e.Seq, At: e.At, By: e.By, Known: v.Known, Data: v.Data,
			Pieces: v.Pieces, Note: v.Note}
		if old := k.Loss; old.Open() {
			next.Told, next.ToldWho, next.ToldBy = old.Told, old.ToldWho, old.ToldBy
		}
		k.Loss = next
	})
}

func (w *World) tellLoss(e *Entry, v LossTold) {
	w.changeLoss(v.Kit, func(l *Loss) { l.Told, l.ToldWho, l.ToldBy = v.At, v.Who, e.By })
}

// findKit ends the loss of a kit when nothing of it is missing any more.
func (w *World) findKit(e *Entry, kit string) {
	k := w.Kits[kit]
	if k == nil || !k.Loss.Open() {
		return
	}
	for _, id := range k.Loss.Pieces {
		if p := w.Pieces[id]; p != nil && p.State == Missing {
			return
		}
	}
	w.changeLoss(kit, func(l *Loss) { l.Found = e.At })
}

// changeLoss edits a copy: an entry or another world may share the old one.
func (w *World) changeLoss(kit string, edit func(*Loss)) {
	w.changeKit(kit, func(k *Kit) {
		if k.Loss != nil {
			next := *k.Loss
			edit(&next)
			k.Loss = &next
		}
	})
}
