package reprocess

// whenCampaign marks the questions that are asked only while a campaign to a version wants an
// answer of the piece, whatever its procedure asks.
const whenCampaign = "campaign"

// versionAsks says of what a question reads the version off.
var versionAsks = map[string]string{"software": VersionSoftware, "phone_software": VersionSoftware,
	"app": VersionApp}

// ByCampaign tells whether a question is asked for a campaign and not for a procedure.
func (a Ask) ByCampaign() bool { return a.When == whenCampaign }

// VersionWanted is the version that a running campaign wants and the piece does not have;
// ask names the question by which it is read off.
func (w *World) VersionWanted(p *Piece, ask string) (string, bool) {
	for _, v := range w.CampaignsOf(p) {
		if v.Target != "" && v.What == versionAsks[ask] {
			return v.Target, true
		}
	}
	return "", false
}

// versionRead judges a version that was read off at the bench against the campaign: another
// one is a remark, and the piece stays on the list of what is to be done.
func (c *Case) versionRead(piece *Piece, ask Ask, value string) (Answer, *Problem) {
	a := Answer{Ask: ask.ID}
	text, p := need(ask.Words, value, 40)
	if p != nil {
		return a, p
	}
	a.Value = text
	if want, ok := c.W.VersionWanted(piece, ask.ID); ok && want != text {
		a.Effect = EffectNote
	}
	return a, nil
}

// readVersions records the versions that were read off at a step.
func (c *Case) readVersions(piece *Piece, answers []Answer) {
	for _, a := range answers {
		what := versionAsks[a.Ask]
		if what != "" && a.Value != "" && piece.VersionOf(what) != a.Value {
			c.setVersion(piece, what, a.Value, false)
		}
	}
}

// testedAgain names the recorder that has to pass its function test once more after a piece
// got another version: a recorder after its own software, and after the app of the phone it
// sends through. New software of the phone itself asks for nothing.
func (c *Case) testedAgain(piece *Piece, what string) *Piece {
	if piece.Kind == Recorder && what == VersionSoftware {
		return piece
	}
	k := c.W.Kits[piece.Kit]
	if k == nil || what != VersionApp {
		return nil
	}
	for _, id := range k.Pieces {
		if p := c.W.Pieces[id]; p != nil && p.Kind == Recorder {
			return p
		}
	}
	return nil
}
