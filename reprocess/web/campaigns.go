package web

import (
	"fmt"

	"handback/reprocess"
)

// campaignLines list what is running: "38 of 60 done".
func campaignLines(w *reprocess.World) []ruledLine {
	var rows []ruledLine
	for _, s := range reprocess.Campaigns(w) {
		rows = append(rows, ruledLine{To: "/campaigns/" + s.Campaign.ID, Words: s.Campaign.Name,
			Notes: []string{campaignDone(s), reachWords(w, s.Campaign)}})
	}
	return rows
}

func campaignDone(s reprocess.CampaignStanding) string {
	return fmt.Sprintf("%d of %d done", s.Done, s.Of)
}

// reachWords says what a campaign is to reach.
func reachWords(w *reprocess.World, c reprocess.Campaign) string {
	words := modelName(w, c.Model)
	if c.Target != "" {
		words += ", " + runsWords(kindOfModel(w, c.Model), c.What) + " " + c.Target
	}
	return words
}

// runsWords names what has a version: the software of a recorder, the operating software of a
// phone, or the app on it.
func runsWords(kind reprocess.Kind, what string) string {
	if kind == reprocess.Phone && what == reprocess.VersionSoftware {
		return "operating software"
	}
	return what
}

// kindOfModel is recorder or phone; empty for a model that is not known.
func kindOfModel(w *reprocess.World, id string) reprocess.Kind {
	if m := w.Models[id]; m != nil {
		return m.Kind
	}
	return ""
}

// campaignOf finds a running campaign with every kit.
func (v *Visit) campaignOf(id string) (*reprocess.World, reprocess.CampaignStanding, error) {
	w, err := v.inUse()
	if err != nil {
		return nil, reprocess.CampaignStanding{}, err
	}
	for _, s := range reprocess.Campaigns(w) {
		if s.Campaign.ID == id {
			return w, s, nil
		}
	}
	return nil, reprocess.CampaignStanding{}, notFound("running campaign")
}

func showCampaign(v *Visit) error {
	w, s, err := v.campaignOf(v.Param("id"))
	if err != nil {
		return err
	}
	return v.Show(v.campaignPage(w, s))
}

// campaignPage lists what is still to be done, of one kit when the address names it.
func (v *Visit) campaignPage(w *reprocess.World, s reprocess.CampaignStanding) *officePage {
	id := s.Campaign.ID
	p := titledOffice(campaignDone(s)+": "+s.Campaign.Name, reachWords(w, s.Campaign)+".")
	phone := kindOfModel(w, s.Campaign.Model) == reprocess.Phone
	switch {
	case s.Campaign.What == reprocess.VersionSoftware && phone:
		p.Lead = append(p.Lead, "The bench reads the phone’s operating software off while this runs. "+
			"Nothing is tested again for it; a new app is.")
	case s.Campaign.What == reprocess.VersionSoftware:
		p.Lead = append(p.Lead, "A recorder with new software is tested and packed again before it "+
			"is released.")
	case s.Campaign.What == reprocess.VersionApp:
		p.Lead = append(p.Lead, "The bench reads the app off while this runs. With a new app the "+
			"recorder is tested and packed again before the kit is released.")
	}
	only := v.along("kit")
	var rows []ruledLine
	for _, piece := range s.Open {
		if only != "" && piece.Kit != only {
			continue
		}
		line := ruledLine{Words: checkedPiece(piece, w.Kits[piece.Kit]),
			Notes: []string{reprocess.StateWords(piece.State)}}
		if v.entitled(reprocess.ActCampaignMark) && atHand(piece) {
			line.Taps = []tap{{To: "/campaigns/" + id + "/done", Words: "Done", Main: only != "",
				Kept: []Kept{{"piece", piece.ID}, {"kit", only}}}}
		}
		rows = append(rows, line)
	}
	p.list("Still to do", "Nothing more.", rows...)
	if v.entitled(reprocess.ActCampaign) {
		p.list("", "", ruledLine{Taps: []tap{{To: "/campaigns/" + id + "/end",
			Words: "End this campaign"}}})
	}
	if only != "" {
		p.act(kitURL(only), "Back to the kit")
	}
	p.act("/checks", "All checks and campaigns")
	return p
}

// atHand tells whether a piece can be done at the bench.
func atHand(p *reprocess.Piece) bool {
	return p.State != reprocess.Issued && p.State != reprocess.Missing
}

// markCampaign says that one piece is done.
func markCampaign(v *Visit) error {
	w, s, err := v.campaignOf(v.Param("id"))
	if err != nil {
		return err
	}
	kit := ""
	if piece := w.Pieces[v.Field("piece")]; piece != nil {
		kit = piece.Kit
	}
	_, err = v.Do(reprocess.MarkCampaign{Kit: kit, Piece: v.Field("piece"), Campaign: s.Campaign.ID})
	if err != nil {
		return v.Refuse(err, v.campaignPage(w, s))
	}
	to := "/campaigns/" + s.Campaign.ID
	if only := v.Field("kit"); only != "" {
		to = kitURL(only)
	}
	return v.Went(to, "Done: "+s.Campaign.Name+".")
}

func endCampaign(v *Visit) error {
	w, s, err := v.campaignOf(v.Param("id"))
	if err != nil {
		return err
	}
	_, err = v.Do(reprocess.SetCampaign{Campaign: reprocess.Campaign{ID: s.Campaign.ID}, End: true})
	if err != nil {
		return v.Refuse(err, v.campaignPage(w, s))
	}
	return v.Went("/checks", s.Campaign.Name+" has ended: "+campaignDone(s)+".")
}

func showNewCampaign(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	return v.Show(v.newCampaignPage(w))
}

func (v *Visit) newCampaignPage(w *reprocess.World) *officePage {
	p := titledOffice("What is every piece of a model to get?")
	f := &form{To: "/campaigns", Act: "Begin it"}
	f.must("name", "Name", v.Field("name"), "Such as recorders to 2.1, or look at the clip")
	var models []Choice
	for _, m := range modelsOf(w) {
		models = append(models, Choice{Value: m.ID, Words: m.Name})
	}
	f.one("model", "Which model?", v.Field("model"), models...)
	f.one("what", "What is to be reached?", v.Field("what"),
		Choice{Value: "check", Words: "A check is made, as the name says"},
		Choice{Value: reprocess.VersionSoftware, Words: "This version of its software",
			Note: "of a phone: its operating software"},
		Choice{Value: reprocess.VersionApp, Words: "This version of the app",
			Note: "for a model of phone"})
	f.text("target", "Version", v.Field("target"), "Empty for a check")
	p.form(f)
	return p
}

func beginCampaign(v *Visit) error {
	w, err := v.setUp()
	if err != nil {
		return err
	}
	c := reprocess.Campaign{Name: v.Field("name"), Model: v.Field("model"), What: v.Field("what"),
		Target: v.Field("target")}
	if c.What == "check" {
		c.What = ""
	}
	if _, err := v.Do(reprocess.SetCampaign{Campaign: c}); err != nil {
		return v.Refuse(err, v.newCampaignPage(w))
	}
	return v.Went("/checks", c.Name+" has begun.")
}

// versionLines say what runs on a piece.
func versionLines(w *reprocess.World, p *reprocess.Piece, now reprocess.Now) []ruledLine {
	var rows []ruledLine
	for _, x := range p.Versions {
		rows = append(rows, ruledLine{Words: capital(runsWords(p.Kind, x.What)) + " " + x.Version,
			Notes: []string{"since " + reprocess.Clock(x.At, now.Zone) + ", " + nameIn(w, x.By)}})
	}
	return rows
}

func (v *Visit) versionForm(p *reprocess.Piece) *form {
	f := &form{Heading: "Enter a version", To: "/checks/" + p.ID + "/version", Act: "Enter it",
		Small: true}
	f.one("what", "Of what?", v.Field("what"),
		Choice{Value: reprocess.VersionSoftware,
			Words: "Its " + runsWords(p.Kind, reprocess.VersionSoftware)},
		Choice{Value: reprocess.VersionApp, Words: "Its app"})
	f.must("version", "Version", v.Field("version"), "As it shows it")
	note := ": after a new app the recorder is tested again"
	if p.Kind == reprocess.Recorder {
		note = ": it is then tested again"
	}
	f.tick("updated", "Only read off, or put on", "It was put on just now"+note,
		v.Field("updated") == "yes")
	return f
}

func setVersion(v *Visit) error {
	w, p, err := v.pieceWorld(v.Param("piece"))
	if err != nil {
		return err
	}
	_, err = v.Do(reprocess.SetVersion{Kit: p.Kit, Piece: p.ID, What: v.Field("what"),
		Version: v.Field("version"), Updated: v.Field("updated") == "yes"})
	if err != nil {
		return v.Refuse(err, v.technicalPage(w, p))
	}
	return v.Went("/checks/"+p.ID, "The version is entered.")
}
