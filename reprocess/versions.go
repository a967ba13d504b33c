package reprocess

import (
	"cmp"
	"slices"
	"strings"
)

// The things of a piece that have a version.
const (
	VersionSoftware = "software" // of the recorder or of the phone itself
	VersionApp      = "app"      // of the app on the phone
)

// Version is what runs on a piece, as somebody read it off.
type Version struct {
	What    string  `json:"what"`
	Version string  `json:"version"`
	Seq     int64   `json:"seq"`
	At      Instant `json:"at"`
	By      string  `json:"by"`
}

// VersionOf is the newest version of a thing on a piece, "" when nobody read it.
func (p *Piece) VersionOf(what string) string {
	for _, v := range p.Versions {
		if v.What == what {
			return v.Version
		}
	}
	return ""
}

// SetVersion says which version runs on a piece. Updated: it was put on just now. A change of
// the recorder's software or of the phone's app asks for the function test again; before one is
// known, reading it off changes nothing.
type SetVersion struct {
	Kit     string `json:"kit,omitempty"`
	Piece   string `json:"piece"`
	What    string `json:"what"`
	Version string `json:"version"`
	Updated bool   `json:"updated,omitempty"`
}

// VersionSet is a version that was read off or put on.
type VersionSet struct {
	Kit     string `json:"kit,omitempty"`
	Piece   string `json:"piece"`
	What    string `json:"what"`
	Version string `json:"version"`
	Changed bool   `json:"changed,omitempty"`
}

// EventName is "version_set".
func (VersionSet) EventName() string { return "version_set" }

// Campaign is one round over every piece of a model: to a version, or a check to be made.
type Campaign struct {
	ID     string  `json:"id"`
	Name   string  `json:"name"`
	Model  string  `json:"model"`
	What   string  `json:"what,omitempty"`   // with Target
	Target string  `json:"target,omitempty"` // version; empty: a check, as its name says
	Begun  Instant `json:"begun"`
	Ended  Instant `json:"ended,omitempty"`
}

// CampaignDone says that a piece was done, by which entry.
type CampaignDone struct {
	Campaign string  `json:"campaign"`
	Seq      int64   `json:"seq"`
	At       Instant `json:"at"`
	By       string  `json:"by"`
}

// SetCampaign begins a campaign (no ID) or ends one (its ID and End).
type SetCampaign struct {
	Campaign
	End bool `json:"end,omitempty"`
}

// MarkCampaign says at the bench that one piece is done; of a campaign to a version it is also
// the change of version.
type MarkCampaign struct {
	Kit      string `json:"kit,omitempty"`
	Piece    string `json:"piece"`
	Campaign string `json:"campaign"`
}

// CampaignSet is a campaign that was begun or ended.
type CampaignSet struct{ Campaign }

// CampaignMarked is a piece that was done.
type CampaignMarked struct {
	Kit      string `json:"kit,omitempty"`
	Piece    string `json:"piece"`
	Campaign string `json:"campaign"`
	Name     string `json:"name"`
}

// EventName is "campaign_set".
func (CampaignSet) EventName() string { return "campaign_set" }

// EventName is "campaign_marked".
func (CampaignMarked) EventName() string { return "campaign_marked" }

// The acts of versions and campaigns.
const (
	ActVersion      Act = "version"
	ActCampaign     Act = "campaign"
	ActCampaignMark Act = "campaign_mark"
)

// Act is "version".
func (SetVersion) Act() Act { return ActVersion }

// Act is "campaign".
func (SetCampaign) Act() Act { return ActCampaign }

// Act is "campaign_mark".
func (MarkCampaign) Act() Act { return ActCampaignMark }

// Needs the piece and its kit.
func (s SetVersion) Needs() Needs { return Needs{Kit: s.Kit, Pieces: []string{s.Piece}} }

// Needs nothing beyond the settings.
func (SetCampaign) Needs() Needs { return Needs{} }

// Needs the piece and its kit.
func (m MarkCampaign) Needs() Needs { return Needs{Kit: m.Kit, Pieces: []string{m.Piece}} }

func (s SetVersion) decide(c *Case) *Problem {
	piece, p := c.pieceOf(s.Kit, s.Piece)
	if p != nil {
		return p
	}
	if s.What != VersionSoftware && s.What != VersionApp {
		return invalid("what", "Choose software or app.", "%q has no version here.", s.What)
	}
	version, p := need("The version", s.Version, 40)
	if p != nil {
		return p
	}
	if was := piece.VersionOf(s.What); was == version && !s.Updated {
		return conflict("already_done", "Nothing to do.", "Version %s is on record already.", version)
	}
	c.setVersion(piece, s.What, version, s.Updated)
	return nil
}

// setVersion records a version. New software in a recorder may measure in another way, and a
// new app may send in another way: the function test, and the pack it was taken out of, no
// longer count, nor does a release.
func (c *Case) setVersion(piece *Piece, what, version string, updated bool) {
	was := piece.VersionOf(what)
	e := VersionSet{Kit: piece.Kit, Piece: piece.ID, What: what, Version: version,
		Changed: updated || (was != "" && was != version)}
	c.emit(e)
	tested := c.testedAgain(piece, what)
	if !e.Changed || tested == nil {
		return
	}
	if cy := c.openCycle(tested); cy != nil {
		c.emit(StepRecorded{Cycle: cy.ID, Piece: tested.ID, Record: Record{Kind: RecSoftware,
			Step: StepFunction, Reason: version}})
	}
	if k := c.W.Kits[piece.Kit]; k != nil && KitState(k, c.W.Pieces) == Released {
		c.emit(ReleaseBroken{Kit: k.ID, Why: what})
	}
}

func (s SetCampaign) decide(c *Case) *Problem {
	if s.ID != "" {
		old := c.W.Settings.campaign(s.ID)
		switch {
		case old == nil:
			return missing("campaign")
		case old.Ended != 0:
			return conflict("already_done", "Nothing to do.", "%q has ended already.", old.Name)
		case !s.End:
			return invalid("campaign", "End it and begin another.", "A campaign is not changed.")
		}
		ended := *old
		ended.Ended = c.Now.UTC
		c.emit(CampaignSet{ended})
		return nil
	}
	v := Campaign{ID: c.id("G", 0), Model: s.Model, What: s.What, Begun: c.Now.UTC}
	var p *Problem
	if v.Name, p = need("The name", s.Name, 60); p != nil {
		return p
	}
	if v.Target, p = clean("The version", s.Target, 40); p != nil {
		return p
	}
	if c.W.Models[s.Model] == nil {
		return missing("model")
	}
	if (v.Target != "") != (v.What == VersionSoftware || v.What == VersionApp) {
		return invalid("what", "Name the version and what of the piece is to have it, or neither.",
			"It is not clear what the campaign is to reach.")
	}
	for _, other := range c.W.Settings.Campaigns {
		if other.Ended == 0 && strings.EqualFold(other.Name, v.Name) {
			return conflict("name_taken", "Choose another name.", "There is a campaign %q already.", v.Name)
		}
	}
	c.emit(CampaignSet{v})
	return nil
}

func (m MarkCampaign) decide(c *Case) *Problem {
	piece, p := c.pieceOf(m.Kit, m.Piece)
	if p != nil {
		return p
	}
	v := c.W.Settings.campaign(m.Campaign)
	switch {
	case v == nil:
		return missing("campaign")
	case v.Ended != 0:
		return refuse("campaign_ended", "Nothing to do.", "%q has ended.", v.Name)
	case piece.Model != v.Model:
		return refuse("other_model", "Scan a piece of that model.", "%q is for another model.", v.Name)
	case v.done(piece):
		return conflict("already_done", "Nothing to do.", "This %s is done already.", piece.Kind)
	case piece.State == Issued || piece.State == Missing || piece.State == Retired:
		return refuse("not_here", "Take it back first.", "This %s is recorded as %s.", piece.Kind,
			piece.State)
	}
	if v.Target != "" {
		c.setVersion(piece, v.What, v.Target, piece.VersionOf(v.What) != v.Target)
	}
	c.emit(CampaignMarked{Kit: piece.Kit, Piece: piece.ID, Campaign: v.ID, Name: v.Name})
	return nil
}

func (s Settings) campaign(id string) *Campaign {
	for i := range s.Campaigns {
		if s.Campaigns[i].ID == id {
			return &s.Campaigns[i]
		}
	}
	return nil
}

// done tells whether a piece needs nothing more: it was marked, or has the version.
func (v *Campaign) done(p *Piece) bool {
	if v.Target != "" {
		return p.VersionOf(v.What) == v.Target
	}
	return slices.ContainsFunc(p.Campaigns, func(d CampaignDone) bool { return d.Campaign == v.ID })
}

// CampaignStanding is how far a campaign has come.
type CampaignStanding struct {
	Campaign Campaign
	Done, Of int      // pieces in use of its model
	Open     []*Piece // still to be done, by id
}

// Campaigns lists how far each campaign that has not ended has come among the pieces of the
// world, in the order they began.
func Campaigns(w *World) []CampaignStanding {
	var all []CampaignStanding
	for _, v := range w.Settings.Campaigns {
		if v.Ended != 0 {
			continue
		}
		s := CampaignStanding{Campaign: v}
		for _, p := range w.Pieces {
			if p.Model != v.Model || p.State == Retired {
				continue
			}
			s.Of++
			if v.done(p) {
				s.Done++
			} else {
				s.Open = append(s.Open, p)
			}
		}
		slices.SortFunc(s.Open, func(a, b *Piece) int { return cmp.Compare(a.ID, b.ID) })
		all = append(all, s)
	}
	return all
}

// CampaignsOf lists the campaigns that a piece still needs.
func (w *World) CampaignsOf(p *Piece) []Campaign {
	var all []Campaign
	for _, v := range w.Settings.Campaigns {
		if v.Ended == 0 && v.Model == p.Model && !v.done(p) {
			all = append(all, v)
		}
	}
	return all
}

// applyVersions folds versions and campaigns.
func (w *World) applyVersions(e *Entry, event Event) bool {
	switch v := event.(type) {
	case VersionSet:
		w.changePiece(v.Piece, func(p *Piece) {
			kept := []Version{{v.What, v.Version, e.Seq, e.At, e.By}}
			for _, was := range p.Versions {
				if was.What != v.What {
					kept = append(kept, was)
				}
			}
			slices.SortFunc(kept, func(a, b Version) int { return cmp.Compare(a.What, b.What) })
			p.Versions = kept
		})
	case CampaignSet:
		var list []Campaign // a fresh slice: older settings may still be read
		found := false
		for _, old := range w.Settings.Campaigns {
			if old.ID == v.ID {
				old, found = v.Campaign, true
			}
			list = append(list, old)
		}
		if !found {
			list = append(list, v.Campaign)
		}
		w.Settings.Campaigns = list
		w.touch(TableSettings, w.Settings.Site)
	case CampaignMarked:
		w.changePiece(v.Piece, func(p *Piece) {
			p.Campaigns = append(slices.Clone(p.Campaigns), CampaignDone{v.Campaign, e.Seq, e.At, e.By})
		})
	default:
		return false
	}
	return true
}
